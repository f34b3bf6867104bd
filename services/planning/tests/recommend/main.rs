//! Recommendations: the decision against a second implementation, and what must hold for real runs.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]

#[path = "../common/mod.rs"]
mod common;

mod brute;
mod decision;
mod runs;
mod unknown;
