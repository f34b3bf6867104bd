//! The pages of the counter: by requests as a browser sends them, and in a real browser.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod advise;
mod browser;
mod driver;
mod event;
mod http;
mod rentals;
mod safety;
#[path = "../support/mod.rs"]
mod support;

use std::path::Path;

use support::{said, text};

/// Where the demo catalog lies.
const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-catalog");

/// Imports the demo catalog into the database of a folder.
fn stock(dir: &Path) {
    let files = ["sensors", "spots", "shelters", "targets", "goals", "units", "bookings", "unit-checks"]
        .map(|kind| format!("{DEMO}/{kind}.csv"));
    let mut arguments = vec!["import"];
    arguments.extend(files.iter().map(String::as_str));
    said(dir, &arguments);
}

/// A token of a role.
fn token(dir: &Path, name: &str, role: &str) -> String {
    let output = support::call(dir, &["token", "add", name, "--role", role]);
    let told = text(&output.stdout);
    assert!(output.status.success(), "{told}{}", text(&output.stderr));
    let token = told.split_whitespace().find(|word| word.starts_with("lakebeam_"));
    token.unwrap_or_else(|| panic!("no token in: {told}")).to_owned()
}
