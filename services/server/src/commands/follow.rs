//! Following work that goes on in the service.

use std::io::IsTerminal as _;

use indicatif::{ProgressBar, ProgressStyle};
use proto::v1;

use crate::connect::Connection;
use crate::exit::CliError;

/// Follows a run to its end; on Ctrl-C it is cancelled if it is ours.
pub(super) async fn follow(connection: &Connection, name: &str, ours: bool) -> Result<v1::Run, CliError> {
    let request = v1::WatchRunRequest { name: name.to_owned() };
    let mut stream = connection.selection().watch_run(request).await?.into_inner();
    let bar = progress_bar("findings");
    let mut last = None;
    loop {
        let message = tokio::select! {
            message = stream.message() => message?,
            _ = tokio::signal::ctrl_c(), if ours => {
                bar.println("Stopping the run; what is done stays.");
                connection.selection().cancel_run(v1::CancelRunRequest { name: name.to_owned() }).await?;
                continue;
            }
        };
        let Some(run) = message.and_then(|m| m.run) else { break };
        bar.set_length(u64::try_from(run.findings_total).unwrap_or(0));
        bar.set_position(u64::try_from(run.findings_done).unwrap_or(0));
        last = Some(run);
    }
    bar.finish_and_clear();
    match last {
        Some(run) if is_final(&run) => Ok(run),
        _ => Ok(connection.selection().get_run(v1::GetRunRequest { name: name.to_owned() }).await?.into_inner()),
    }
}

/// A bar with rate and time left; hidden where nobody watches a terminal.
pub(super) fn progress_bar(of: &str) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) =
        ProgressStyle::with_template(&format!("{{wide_bar}} {{pos}}/{{len}} {of}, {{per_sec}}, {{eta}} left"))
    {
        bar.set_style(style);
    }
    bar
}

fn is_final(run: &v1::Run) -> bool {
    matches!(run.state(), v1::RunState::Succeeded | v1::RunState::Failed | v1::RunState::Cancelled)
}
