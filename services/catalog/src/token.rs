//! Tokens: who may call, and in which role. The secret itself never comes here, only its hash.

use domain::Id;

use jiff::Timestamp;

use crate::error::StoreError;
use crate::store::{Role, Store, StoredToken, Write, audit};

const COLLECTION: &str = "tokens";

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
        rows.map_err(|e| self.fail(e))?.iter().map(StoredToken::read).collect()
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
