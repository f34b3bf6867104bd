//! The lakebeam binary: the service, and every verb as a client of it.
//!
//! Flags, wiring, and what people read on a terminal. It must never contain SQL, physics, scoring or conversions of records, and no verb
//! reaches the database around the service.

mod cli;
mod commands;
mod connect;
mod connections;
mod doors;
mod exit;
mod metrics;
mod output;
mod overload;
mod pages;
mod renderer;
mod sandbox;
mod secret;
mod serve;
mod starter;
mod tables;
mod telemetry;
mod tls;

use std::process::ExitCode;

use clap::Parser as _;

fn main() -> ExitCode {
    // Before there are any threads: what they reserve would count against the child's limits.
    match sandbox::asked(std::env::args_os()) {
        Some(errand) => sandbox::child(&errand),
        None => of_people(),
    }
}

#[tokio::main]
async fn of_people() -> ExitCode {
    end_with_the_reader();
    let cli = cli::Cli::parse();
    let outcome = commands::run(cli).await;
    exit::report(outcome)
}

/// Ends quietly when whoever reads our output has gone (`lakebeam list spots | head`): printing would panic otherwise, and what is
/// in hand is durable.
fn end_with_the_reader() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        let said = info.payload_as_str().unwrap_or_default();
        if said.starts_with("failed printing to stdout") && said.contains("Broken pipe") {
            std::process::exit(0);
        }
        usual(info);
    }));
}
