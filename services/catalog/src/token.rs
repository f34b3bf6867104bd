//! Tokens: who may call, and in which role. The secret itself never comes here, only its hash.

use domain::Id;
use std::collections::HashMap;

use jiff::Timestamp;
use sqlx::Row as _;
use sqlx::sqlite::{SqliteConnection, SqliteRow};

use crate::error::StoreError;
use crate::store::{Store, Write, audit, timestamp};

const COLLECTION: &str = "tokens";

/// What a token allows; each role allows all that the ones before it do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Look at everything, and compute what is not stored.
    Read,
    /// Also change records, start runs, derive and render.
    Write,
    /// Also read the audit trail.
    Admin,
}

impl Role {
    /// Every role, the least first.
    pub const ALL: [Self; 3] = [Self::Read, Self::Write, Self::Admin];

    /// The role as people write it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Write => "write",
            Self::Admin => "admin",
        }
    }

    const fn column(self) -> &'static str {
        match self {
            Self::Read => "READ",
            Self::Write => "WRITE",
            Self::Admin => "ADMIN",
        }
    }

    fn of_column(text: &str) -> Result<Self, StoreError> {
        Self::ALL
            .into_iter()
            .find(|role| role.column() == text)
            .ok_or_else(|| StoreError::BadRecord(format!("a token has the role {text}")))
    }
}

/// A token to be stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewToken {
    /// Who holds it.
    pub name: Id,
    /// By which its row is found.
    pub key: String,
    /// Hash of its secret.
    pub hash: [u8; 32],
    /// What it allows.
    pub role: Role,
    /// When it becomes worthless; never without one.
    pub expire_time: Option<Timestamp>,
}

/// A token as it is stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredToken {
    /// Who holds it.
    pub name: String,
    /// By which its row is found.
    pub key: String,
    /// Hash of its secret.
    pub hash: [u8; 32],
    /// What it allows.
    pub role: Role,
    /// When it was made.
    pub create_time: Timestamp,
    /// When it becomes worthless.
    pub expire_time: Option<Timestamp>,
    /// When it was made worthless.
    pub revoke_time: Option<Timestamp>,
    /// When it was last used, to the minute.
    pub last_use_time: Option<Timestamp>,
}

impl StoredToken {
    /// Whether it is worth anything at that time.
    #[must_use]
    pub fn is_good(&self, now: Timestamp) -> bool {
        self.revoke_time.is_none() && self.expire_time.is_none_or(|end| now < end)
    }
}

impl Store {
    /// Stores a token under a name that no token ever had.
    ///
    /// # Errors
    /// The name was given out before, or the database fails.
    pub async fn add_token(&self, token: &NewToken, write: &Write) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        sqlx::query("INSERT INTO tokens (name, key, hash, role, create_time, expire_time) VALUES (?, ?, ?, ?, ?, ?)")
            .bind(token.name.as_str())
            .bind(&token.key)
            .bind(token.hash.as_slice())
            .bind(token.role.column())
            .bind(write.at.as_microsecond())
            .bind(token.expire_time.map(Timestamp::as_microsecond))
            .execute(&mut *tx)
            .await
            .map_err(|error| match error.as_database_error() {
                Some(said) if said.is_unique_violation() => {
                    StoreError::AlreadyExists { collection: COLLECTION, id: token.name.to_string() }
                }
                _ => self.fail(error),
            })?;
        audit(&mut tx, write, "create", &format!("{COLLECTION}/{}", token.name)).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }

    /// Every token there ever was, the oldest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn tokens(&self) -> Result<Vec<StoredToken>, StoreError> {
        let rows = sqlx::query("SELECT * FROM tokens ORDER BY seq").fetch_all(&mut *self.reader().await?).await;
        rows.map_err(|e| self.fail(e))?.iter().map(read).collect()
    }

    /// The token of a key.
    ///
    /// # Errors
    /// The database fails.
    pub async fn token(&self, key: &str) -> Result<Option<StoredToken>, StoreError> {
        Ok(self.known_tokens().await?.get(key).cloned())
    }

    /// Whether there ever was a token.
    ///
    /// # Errors
    /// The database fails.
    pub async fn has_tokens(&self) -> Result<bool, StoreError> {
        Ok(!self.known_tokens().await?.is_empty())
    }

    /// Makes a token worthless, from the next call on.
    ///
    /// # Errors
    /// There is no token of that name that is worth anything.
    pub async fn revoke_token(&self, name: &str, write: &Write) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        let done = sqlx::query("UPDATE tokens SET revoke_time = ? WHERE name = ? AND revoke_time IS NULL")
            .bind(write.at.as_microsecond())
            .bind(name)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        if done.rows_affected() == 0 {
            return Err(StoreError::NotFound { collection: COLLECTION, id: name.to_owned() });
        }
        audit(&mut tx, write, "revoke", &format!("{COLLECTION}/{name}")).await.map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }

    /// Notes that a token was used. No write in the sense of the audit trail: the call that used it is in there.
    ///
    /// # Errors
    /// The database fails.
    pub async fn note_token_use(&self, key: &str, at: Timestamp) -> Result<(), StoreError> {
        let mut tx = self.begin().await?;
        sqlx::query("UPDATE tokens SET last_use_time = ? WHERE key = ?")
            .bind(at.as_microsecond())
            .bind(key)
            .execute(&mut *tx)
            .await
            .map_err(|e| self.fail(e))?;
        self.commit(tx).await
    }
}

/// Every token by its key; a row that does not read lets nobody in.
pub(crate) async fn all_tokens(connection: &mut SqliteConnection) -> Result<HashMap<String, StoredToken>, sqlx::Error> {
    let rows = sqlx::query("SELECT * FROM tokens").fetch_all(connection).await?;
    let tokens = rows.iter().map(|row| read(row).map_err(|error| sqlx::Error::Decode(error.into())));
    tokens.map(|token| token.map(|token| (token.key.clone(), token))).collect()
}

fn read(row: &SqliteRow) -> Result<StoredToken, StoreError> {
    let bad = |e: sqlx::Error| StoreError::BadRecord(e.to_string());
    let time = |column: &str| -> Result<Option<Timestamp>, StoreError> {
        row.try_get::<Option<i64>, _>(column).map_err(bad)?.map(timestamp).transpose()
    };
    let hash: Vec<u8> = row.try_get("hash").map_err(bad)?;
    let role: String = row.try_get("role").map_err(bad)?;
    Ok(StoredToken {
        name: row.try_get("name").map_err(bad)?,
        key: row.try_get("key").map_err(bad)?,
        hash: hash.try_into().map_err(|_| StoreError::BadRecord("a token's hash is cut short".to_owned()))?,
        role: Role::of_column(&role)?,
        create_time: timestamp(row.try_get("create_time").map_err(bad)?)?,
        expire_time: time("expire_time")?,
        revoke_time: time("revoke_time")?,
        last_use_time: time("last_use_time")?,
    })
}
