//! Callers who mean harm, on the real binary: none of them shuts out another.
//!
//! Methods come from the descriptor set. One that no attack of `every` fits fails there, so that a later one is held to it as well; what an
//! attack needs of a method it finds in the method's own messages.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

mod crowd;
mod every;
mod greedy;
mod memory;
mod pages;
mod rim;
#[path = "../support/mod.rs"]
mod support;

use std::path::Path;

/// Makes a token and gives the header that shows it.
fn token(dir: &Path, name: &str, role: &str) -> String {
    format!("Bearer {}", support::said(dir, &["token", "add", name, "--role", role]).trim())
}
