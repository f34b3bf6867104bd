//! A sheet for every spot of a run, many at once.

use std::collections::BTreeSet;
use std::path::PathBuf;

use futures::{StreamExt as _, TryStreamExt as _};
use proto::v1;

use super::follow::progress_bar;
use super::names::full_name;
use super::report::{Wanted, write_file};
use crate::cli;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{file, json};

/// Writes the sheets. What is written stays if one of them fails, and costs next to nothing the next time: the service keeps it.
pub(super) async fn sheets(connection: &Connection, args: &cli::Sheets, as_json: bool) -> Outcome {
    let run = full_name(&args.run, "runs");
    let spots = spots(connection, &run, &args.spots).await?;
    std::fs::create_dir_all(&args.output)
        .map_err(|e| CliError::Usage(format!("{} cannot be made: {e}", args.output.display())))?;
    let cores = || std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    // One more than cores, so that none waits while a file is written.
    let at_once = args.at_once.and_then(|n| usize::try_from(n).ok()).unwrap_or_else(|| cores() + 1);
    let bar = progress_bar("sheets");
    bar.set_length(u64::try_from(spots.len()).unwrap_or(0));
    let start = std::time::Instant::now();
    let made = futures::stream::iter(&spots)
        .map(|spot| {
            let (run, bar) = (run.as_str(), &bar);
            async move {
                let output = path(args, spot)?;
                let wanted = Wanted {
                    source: run,
                    template: &args.template,
                    spots: std::slice::from_ref(spot),
                    look: &args.look,
                    output: &output,
                    logo: &[],
                };
                let report = write_file(connection, &wanted).await?;
                bar.inc(1);
                Ok::<_, CliError>(report)
            }
        })
        .buffered(at_once)
        .try_fold(0_u32, |made, report| async move {
            if as_json {
                json::print(&report)?;
            }
            Ok(made + 1)
        })
        .await;
    bar.finish_and_clear();
    let made = made?;
    if !as_json {
        let seconds = start.elapsed().as_secs_f64().max(1e-3);
        say!("{}: {made} sheets in {seconds:.1} s, {:.0} a second.", args.output.display(), f64::from(made) / seconds);
    }
    Ok(())
}

/// The file of a spot, inside the folder.
fn path(args: &cli::Sheets, spot: &str) -> Result<PathBuf, CliError> {
    Ok(args.output.join(format!("{}.pdf", file::name_of(spot)?)))
}

/// The spots asked for; all of the run if none are.
async fn spots(connection: &Connection, run: &str, asked: &[String]) -> Result<Vec<String>, CliError> {
    if !asked.is_empty() {
        return Ok(asked.iter().map(|spot| full_name(spot, "spots")).collect::<BTreeSet<_>>().into_iter().collect());
    }
    let best = v1::StreamFindingsRequest { parent: run.to_owned(), spot: String::new(), max_rank: 1 };
    let mut stream = connection.selection().stream_findings(best).await?.into_inner();
    let mut spots = Vec::new();
    while let Some(finding) = stream.message().await? {
        spots.push(finding.spot);
    }
    if spots.is_empty() {
        return Err(CliError::Partial(format!("{run} has no findings; see how it ended with: lakebeam watch {run}")));
    }
    Ok(spots)
}
