//! A database as an earlier version left it: the schema of the first migrations, and in it records and a run.

use std::path::{Path, PathBuf};

use sqlx::migrate::Migrator;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{ConnectOptions as _, Connection as _};

use crate::engine::workspace;
use crate::support::said;

/// Before fleets and tokens.
const MIGRATIONS: i64 = 3;
/// The tables of that time that hold something in the form in which they still do, in an order in which rows may refer to earlier ones.
const TABLES: [&str; 9] =
    ["sensors", "shelters", "targets", "audit", "runs", "run_inputs", "run_chunks", "run_assumptions", "findings"];

/// Makes one in a folder, with the demo's records and one run over a spot. Its rows were written by the service itself.
pub(crate) async fn database(dir: &Path) -> PathBuf {
    let demo = workspace().join("demo-catalog");
    let files = ["sensors.csv", "targets.csv", "spots.csv", "shelters.csv"].map(|f| demo.join(f).display().to_string());
    let newer = ["--database", "newer.db"];
    said(dir, &[&newer[..], &["import"], &files.each_ref().map(String::as_str)].concat());
    let run = ["run", "--lure", "tungsten-jig-5", "--fish", "perch-25", "--spots", "vesper-landing"];
    said(dir, &[&newer[..], &run].concat());

    let migrations = dir.join("first-migrations");
    std::fs::create_dir(&migrations).unwrap();
    for file in std::fs::read_dir(workspace().join("migrations")).unwrap() {
        let file = file.unwrap();
        let number: i64 = file.file_name().to_str().unwrap().split('_').next().unwrap().parse().unwrap();
        if number <= MIGRATIONS {
            std::fs::copy(file.path(), migrations.join(file.file_name())).unwrap();
        }
    }
    let older = dir.join("older.db");
    let mut connection = SqliteConnectOptions::new().filename(&older).create_if_missing(true).connect().await.unwrap();
    Migrator::new(migrations).await.unwrap().run(&mut connection).await.unwrap();
    sqlx::query("ATTACH DATABASE ? AS newer")
        .bind(dir.join("newer.db").display().to_string())
        .execute(&mut connection)
        .await
        .unwrap();
    for table in TABLES {
        let copy = format!("INSERT INTO main.{table} SELECT * FROM newer.{table}");
        sqlx::query(sqlx::AssertSqlSafe(copy)).execute(&mut connection).await.unwrap();
    }
    let spots = include_str!("../../../catalog/tests/older/spots.sql");
    sqlx::raw_sql(spots).execute(&mut connection).await.unwrap();
    let tables: Vec<String> = sqlx::query_scalar("SELECT name FROM main.sqlite_schema WHERE type = 'table'")
        .fetch_all(&mut connection)
        .await
        .unwrap();
    assert!(!tables.iter().any(|table| table == "units" || table == "tokens"), "it is not older: {tables:?}");
    connection.close().await.unwrap();
    older
}
