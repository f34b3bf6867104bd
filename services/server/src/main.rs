//! The lakebeam binary: the service, and every verb as a client of it.
//!
//! Flags, wiring, and what people read on a terminal. It must never contain SQL, physics, scoring or conversions of records, and no verb
//! reaches the database around the service.

mod cli;
mod connect;
mod exit;
mod output;
mod overload;
mod renderer;
mod serve;
mod verb;

use std::process::ExitCode;

use clap::Parser as _;

#[tokio::main]
async fn main() -> ExitCode {
    let cli = cli::Cli::parse();
    let outcome = verb::run(cli).await;
    exit::report(outcome)
}
