//! Durable batch runs: a run is stored before it starts, cut into chunks, resumed after a restart.
//!
//! This crate decides what is computed when and by which thread, and when it is stored. It must never contain physics or
//! scoring (that is `planning`), SQL (that is `catalog`), or anything of the protocol.

mod chunks;
mod hash;
mod pool;
mod progress;

pub use hash::{result_hash, spot_digest};
pub use progress::{Progress, Stage};
