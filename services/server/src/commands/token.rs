//! Tokens: on the database file itself, so that the first one can be made before the service runs.

use std::time::Duration;

use catalog::{NewToken, OpenOptions, Role, Store, StoreError, StoredToken, Write};
use domain::Id;
use runs::{Clock as _, SystemClock};

use crate::cli::{self, Global, TokenStep};
use crate::exit::{CliError, Outcome};
use crate::output::shown::{complain, say};
use crate::output::table::Columns;
use crate::secret;

/// Who stands in the audit trail for what is done on the file.
const ACTOR: &str = "local";
const DAY: u64 = 86_400;

/// Adds, lists or revokes.
pub(super) async fn token(global: &Global, args: &cli::Token) -> Outcome {
    if global.server.is_some() {
        return Err(CliError::Usage(
            "tokens are kept where the database lies: leave out --server, name --database".into(),
        ));
    }
    let making = matches!(args.step, TokenStep::Add(_));
    if !making && !global.database.exists() {
        return Err(CliError::Usage(format!("there is no database {}", global.database.display())));
    }
    let store = Store::open(&global.database, OpenOptions::default())
        .await
        .map_err(|e| CliError::Unreachable(e.to_string()))?;
    let outcome = match &args.step {
        TokenStep::Add(args) => add(&store, args).await,
        TokenStep::List => list(&store, global.json).await,
        TokenStep::Revoke(args) => revoke(&store, &args.name).await,
    };
    store.close().await;
    outcome
}

fn write() -> Write {
    Write { actor: ACTOR.to_owned(), at: SystemClock.now() }
}

async fn add(store: &Store, args: &cli::AddToken) -> Outcome {
    let name = Id::parse(&args.name).map_err(|e| CliError::Usage(e.to_string()))?;
    if name.as_str() == ACTOR {
        return Err(CliError::Usage(format!("'{ACTOR}' stands for callers without a token; choose another name")));
    }
    let write = write();
    let expire_time = match args.valid_days {
        None => None,
        Some(days) => {
            let end = write.at.checked_add(Duration::from_secs(u64::from(days) * DAY));
            Some(end.map_err(|e| CliError::Usage(format!("--valid-days {days}: {e}")))?)
        }
    };
    let secret = secret::random()?;
    let token =
        NewToken { name, key: secret.key().to_owned(), hash: secret.hash(), role: role(args.role), expire_time };
    store.add_token(&token, &write).await.map_err(|error| match error {
        StoreError::AlreadyExists { .. } => CliError::Usage(format!(
            "there is, or was, a token '{0}'; a name is given out once, so that the audit trail stays clear: choose another, such as {0}-2",
            args.name
        )),
        other => CliError::Unreachable(other.to_string()),
    })?;
    // The token alone goes to standard output, so that it can go to a file without passing a screen.
    say!("{}", secret.reveal());
    complain!(
        "This is the token of '{}' (role {}). It is not shown again: keep it in a file that only its holder can read, and give it with \
         --token-file, or in LAKEBEAM_TOKEN.",
        args.name,
        token.role.name()
    );
    Ok(())
}

async fn list(store: &Store, as_json: bool) -> Outcome {
    let tokens = store.tokens().await.map_err(|e| CliError::Unreachable(e.to_string()))?;
    let now = SystemClock.now();
    let state = |token: &StoredToken| match (token.revoke_time, token.is_good(now)) {
        (Some(_), _) => "revoked",
        (None, false) => "expired",
        (None, true) => "good",
    };
    let time = |time: Option<jiff::Timestamp>| time.map(|time| format!("{time:.0}"));
    if as_json {
        for token in &tokens {
            let line = serde_json::json!({
                "name": token.name,
                "role": token.role.name(),
                "state": state(token),
                "create_time": time(Some(token.create_time)),
                "expire_time": time(token.expire_time),
                "last_use_time": time(token.last_use_time),
            });
            say!("{line}");
        }
        return Ok(());
    }
    let mut table = Columns::new(&["name", "role", "state", "made", "good until", "last used"]);
    for token in &tokens {
        table.row([
            token.name.clone(),
            token.role.name().to_owned(),
            state(token).to_owned(),
            time(Some(token.create_time)).unwrap_or_default(),
            time(token.expire_time).unwrap_or_else(|| "-".to_owned()),
            time(token.last_use_time).unwrap_or_else(|| "never".to_owned()),
        ]);
    }
    table.print();
    Ok(())
}

async fn revoke(store: &Store, name: &str) -> Outcome {
    let now = write();
    store.revoke_token(name, &now).await.map_err(|error| match error {
        StoreError::NotFound { .. } => CliError::Usage(format!(
            "there is no token '{name}' that could be revoked; `lakebeam token list` shows them"
        )),
        other => CliError::Unreachable(other.to_string()),
    })?;
    say!("Token '{name}' is revoked; calls with it are refused from now on.");
    let tokens = store.tokens().await.map_err(|e| CliError::Unreachable(e.to_string()))?;
    if !tokens.iter().any(|token| token.is_good(now.at)) {
        say!("No token is left: a service over this database answers nobody until you add one.");
    }
    Ok(())
}

const fn role(role: cli::Role) -> Role {
    match role {
        cli::Role::Read => Role::Read,
        cli::Role::Write => Role::Write,
        cli::Role::Admin => Role::Admin,
    }
}
