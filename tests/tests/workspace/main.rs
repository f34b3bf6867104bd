//! What the workspace promises about itself: the crate map, no circle of files inside a crate, who may know which library, what lies at the top level, how
//! long files get, and under which licences dependencies come.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a broken promise ends a test at once"
)]

mod circles;
mod crate_map;
mod demo_catalog;
mod licences;
mod papers;
mod rust_tokens;
mod sources;

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The top folder of the repository.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the tests crate lies in the top folder").to_path_buf()
}

/// What `cargo metadata` says, with these further arguments.
fn metadata(arguments: &[&str]) -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--offline", "--locked"])
        .args(arguments)
        .current_dir(root())
        .output()
        .expect("cargo runs, as it runs this test");
    assert!(output.status.success(), "cargo metadata: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata writes JSON")
}

/// The entries of a JSON list that must be there.
fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value.get(key).and_then(Value::as_array).unwrap_or_else(|| panic!("no list '{key}' in what cargo metadata says"))
}

/// A text that must be there.
fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value.get(key).and_then(Value::as_str).unwrap_or_else(|| panic!("no text '{key}' in what cargo metadata says"))
}
