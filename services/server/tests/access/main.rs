//! Who may call the real binary: certificates, tokens, roles; and what its logs and its collector are told.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod certificates;
mod collector;
mod hostile;
mod roles;
mod secrets;
#[path = "../support/mod.rs"]
mod support;
mod tokens;

use std::path::Path;

use support::{complained, said};

/// Makes a token, puts it in the file `NAME.token`, and gives it.
fn token(dir: &Path, name: &str, role: &str) -> String {
    let token = said(dir, &["token", "add", name, "--role", role]).trim().to_owned();
    std::fs::write(dir.join(format!("{name}.token")), &token).unwrap();
    token
}
