//! Durable batch runs: a run is stored before it starts, cut into chunks, resumed after a restart.
//!
//! This crate decides what is computed when and by which thread, and when it is stored. It must never contain physics or
//! scoring (that is `planning`), SQL (that is `catalog`), or anything of the protocol.
//!
//! ```text
//! start -> runs row committed -> Waiting -> Running: prepare, then per chunk: compute (rayon) | store (one transaction)
//!                                   |          |-> Succeeded with the hash of all findings
//!                                   |          |-> Failed: the kernel, the store or a panic said why
//!                                   |-> Cancelled at once; the chunk in hand is let go
//!                                   |-> the service stops: state stays, resume_all goes on with the first chunk not done
//! ```

mod chunks;
mod clock;
mod drive;
mod engine;
mod error;
mod hash;
mod inner;
mod kernel;
mod observer;
mod pool;
mod progress;
mod timings;
mod turns;

pub use clock::{Clock, SystemClock};
pub use engine::{RunEngine, StartRun};
pub use error::RunError;
pub use hash::{result_hash, spot_digest};
pub use inner::Limits;
pub use kernel::{Evaluator, Kernel};
pub use observer::{ChunkEnd, Load, Observer, RunEnd};
pub use pool::ComputeError;
pub use progress::{Progress, Stage};
pub use turns::{NoRoom, Turn, Turns};
