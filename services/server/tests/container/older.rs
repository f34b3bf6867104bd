//! A database as an earlier version left it: the schema of the first migrations, and in it records.

use std::path::{Path, PathBuf};

use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _};

use crate::engine::workspace;

/// Before fleets and tokens.
const MIGRATIONS: i64 = 3;

/// Makes one in a folder, with the rows that the store's own tests hold of that time.
pub(crate) async fn database(dir: &Path) -> PathBuf {
    let migrations = dir.join("first-migrations");
    std::fs::create_dir(&migrations).unwrap();
    for file in std::fs::read_dir(workspace().join("services/catalog/tests/older/migrations")).unwrap() {
        let file = file.unwrap();
        let number: i64 = file.file_name().to_str().unwrap().split('_').next().unwrap().parse().unwrap();
        if number <= MIGRATIONS {
            std::fs::copy(file.path(), migrations.join(file.file_name())).unwrap();
        }
    }
    let older = dir.join("older.db");
    let mut connection = SqliteConnectOptions::new().filename(&older).create_if_missing(true).connect().await.unwrap();
    Migrator::new(migrations).await.unwrap().run(&mut connection).await.unwrap();
    for rows in [
        include_str!("../../../catalog/tests/older/spots.sql"),
        include_str!("../../../catalog/tests/older/others.sql"),
    ] {
        sqlx::raw_sql(rows).execute(&mut connection).await.unwrap();
    }
    let tables: Vec<String> = sqlx::query_scalar("SELECT name FROM main.sqlite_schema WHERE type = 'table'")
        .fetch_all(&mut connection)
        .await
        .unwrap();
    assert!(!tables.iter().any(|table| table == "units" || table == "tokens"), "it is not older: {tables:?}");
    connection.close().await.unwrap();
    older
}
