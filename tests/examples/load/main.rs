//! Load on the real service: many callers of all its methods at once while runs are going on.
//!
//! ```sh
//! cargo build --workspace --bins --example load
//! target/debug/examples/load [SECONDS] [CALLERS]      60 seconds and 64 callers, if left out
//! ```
//!
//! It starts `lakebeam` beside it on a loopback port with an empty database, and ends with it. It fails where anything but the documented
//! overload was answered, where memory grew (see `Growth::is_flat`), or where a method was never answered.
#![allow(
    missing_docs,
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a tool for developers: whatever goes wrong ends it"
)]

mod drive;
mod mix;
mod service;
mod tally;

use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use drive::Load;
use service::Service;

#[tokio::main]
async fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1).map(|argument| argument.parse::<u64>().expect("a whole number"));
    let seconds = arguments.next().unwrap_or(60);
    let callers = arguments.next().unwrap_or(64);
    let own = std::env::current_exe().unwrap();
    let binary = own.parent().and_then(Path::parent).unwrap().join("lakebeam");
    let service = Service::start(&binary, &[], &[]);
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo-catalog");
    let load = Load { callers: usize::try_from(callers).unwrap(), time: Duration::from_secs(seconds), runners: 2 };
    let outcome = load.put_on(&service, &demo).await;
    println!("{outcome}");
    let faults = outcome.faults();
    for fault in faults.iter().take(50) {
        println!("FAULT {fault}");
    }
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
