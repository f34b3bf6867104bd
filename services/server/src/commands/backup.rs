//! Copies of the database and their way back. They are a matter of files and have to work when no service can start, so these
//! verbs alone need none.

use std::path::Path;

use catalog::Existing;

use crate::cli::{Backup, Global, Restore};
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::serve::stop_signal;

/// Copies the database, whether a service has it open or not.
pub(super) async fn backup(global: &Global, args: &Backup) -> Outcome {
    at_the_files(global, "a backup is made")?;
    let (database, out) = (global.database.as_path(), args.out.as_path());
    must_exist(database, "--database")?;
    let made = unless_stopped(catalog::back_up(database, out)).await?;
    made.map_err(|e| CliError::Usage(e.to_string()))?;
    let bytes = std::fs::metadata(out).map_or(0, |file| file.len());
    let (database, out) = (database.display(), out.display());
    say!("{out} is a checked copy of {database}, {bytes} bytes.");
    say!("To go back to it, stop the service and call: lakebeam --database {database} restore {out} --replace");
    Ok(())
}

/// Puts a backup in the place of the database.
pub(super) async fn restore(global: &Global, args: &Restore) -> Outcome {
    at_the_files(global, "a backup is restored")?;
    let (database, backup) = (global.database.as_path(), args.backup.as_path());
    must_exist(backup, "the backup")?;
    let existing = if args.replace { Existing::Replace } else { Existing::Refuse };
    let restored = unless_stopped(catalog::restore(backup, database, existing)).await?;
    let aside = restored.map_err(|e| match e {
        catalog::StoreError::FileExists { path, .. } if existing == Existing::Refuse => CliError::Usage(format!(
            "{} exists: say --replace to put the backup in its place (the old file is kept beside it), or name another --database",
            path.display()
        )),
        catalog::StoreError::Locked { path } => {
            CliError::Usage(format!("{} is in use: stop the service or program that has it open, and try again", path.display()))
        }
        other => CliError::Usage(other.to_string()),
    })?;
    say!("{} now is what {} holds; the backup was checked first.", database.display(), backup.display());
    if let Some(aside) = aside {
        say!("What was there before is kept as {}; remove it when you need it no more.", aside.display());
    }
    Ok(())
}

/// Ends the work at SIGINT and SIGTERM; dropped, it removes what it had begun to write.
async fn unless_stopped<T>(work: impl Future<Output = T>) -> Result<T, CliError> {
    tokio::select! {
        done = work => Ok(done),
        () = stop_signal() => Err(CliError::Partial("stopped before the copy was whole; nothing was changed".to_owned())),
    }
}

fn at_the_files(global: &Global, what: &str) -> Result<(), CliError> {
    if global.server.is_none() {
        return Ok(());
    }
    Err(CliError::Usage(format!(
        "{what} where the database lies: leave out --server (and LAKEBEAM_SERVER), and name the file with --database"
    )))
}

fn must_exist(file: &Path, what: &str) -> Result<(), CliError> {
    if file.exists() { Ok(()) } else { Err(CliError::Usage(format!("{what} {} does not exist", file.display()))) }
}
