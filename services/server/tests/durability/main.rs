//! What was acknowledged outlives crashes, backups, full disks and files that cannot be used: the real binary, real files.
#![allow(missing_docs, clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

mod backup;
mod crash;
mod disks;
mod faults;
mod files;
mod ledger;
#[path = "../support/mod.rs"]
mod support;
mod tables;
mod work;

use std::path::Path;
use std::process::Output;

use support::lakebeam;

/// Calls a verb; gives its exit code and all that it said.
fn call(dir: &Path, arguments: &[&str]) -> (i32, String) {
    told(&lakebeam(dir).args(arguments).output().unwrap())
}

fn told(output: &Output) -> (i32, String) {
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    (output.status.code().unwrap_or(-1), said)
}

fn demo(file: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-catalog").join(file).display().to_string()
}

/// A database with the demo's sensors and targets and a few spots.
fn catalog(dir: &Path) {
    std::fs::write(dir.join("spots.csv"), work::spots("base", work::BASE_SPOTS)).unwrap();
    let (code, said) = call(dir, &["import", &demo("sensors.csv"), &demo("targets.csv"), "spots.csv"]);
    assert_eq!(code, 0, "{said}");
}
