//! Who may call the real binary: certificates, tokens, roles; and what its logs and its collector are told.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod certificates;
mod collector;
mod raw;
mod roles;
mod secrets;
#[path = "../support/mod.rs"]
mod support;
mod tokens;

use std::path::Path;
use std::process::Output;

use support::lakebeam;

fn call(dir: &Path, arguments: &[&str]) -> Output {
    lakebeam(dir).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Ends well, and gives what it printed.
fn said(dir: &Path, arguments: &[&str]) -> String {
    let output = call(dir, arguments);
    assert!(output.status.success(), "{arguments:?}: {}{}", text(&output.stdout), text(&output.stderr));
    text(&output.stdout)
}

/// Ends with an exit code, and gives what it complained of.
fn complained(dir: &Path, arguments: &[&str], code: i32) -> String {
    let output = call(dir, arguments);
    assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}{}", text(&output.stdout), text(&output.stderr));
    text(&output.stdout) + &text(&output.stderr)
}

/// Makes a token, puts it in the file `NAME.token`, and gives it.
fn token(dir: &Path, name: &str, role: &str) -> String {
    let token = said(dir, &["token", "add", name, "--role", role]).trim().to_owned();
    std::fs::write(dir.join(format!("{name}.token")), &token).unwrap();
    token
}
