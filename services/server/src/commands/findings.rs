//! Findings of a run.

use std::path::Path;

use proto::v1;

use super::files::write;
use super::names::full_name;
use super::run::{dial, short_option};
use crate::cli;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::{json, table::Columns};

/// Prints findings in the order of spot and rank.
pub(super) async fn findings(connection: &Connection, args: &cli::Findings, as_json: bool) -> Outcome {
    if let Some(file) = &args.output {
        return spreadsheet(connection, args, file).await;
    }
    let request = v1::StreamFindingsRequest {
        parent: full_name(&args.run, "runs"),
        spot: if args.spot.is_empty() { String::new() } else { full_name(&args.spot, "spots") },
        max_rank: args.max_rank,
    };
    let mut stream = connection.selection().stream_findings(request).await?.into_inner();
    let mut table = Columns::new(&[
        "spot",
        ">rank",
        "option",
        ">score",
        ">coverage m",
        ">view m",
        ">hidden m",
        ">over plants dB",
        ">room before neighbours show dB",
        "start gain",
        "why not",
    ]);
    while let Some(f) = stream.message().await? {
        if as_json {
            json::print(&f)?;
            continue;
        }
        let (c, g) = (f.criteria.unwrap_or_default(), f.gains.clone().unwrap_or_default());
        let optional = |value: Option<f64>| value.map_or_else(String::new, |v| format!("{v:.1}"));
        table.row([
            f.spot.trim_start_matches("spots/").to_owned(),
            f.rank.to_string(),
            short_option(&f.option),
            format!("{:.1}", 100.0 * f.score),
            format!("{:.2}", c.coverage_radius_m),
            format!("{:.2}", c.watch_footprint_m),
            format!("{:.2}", c.dead_zone_height_m),
            optional(c.lure_over_vegetation_db),
            optional(c.headroom_db),
            dial(&g.working_dial, g.working_gain_db),
            f.failures.first().map_or_else(String::new, |r| r.text.clone()),
        ]);
    }
    if !as_json {
        table.print();
    }
    Ok(())
}

/// Writes findings to a spreadsheet.
async fn spreadsheet(connection: &Connection, args: &cli::Findings, file: &Path) -> Outcome {
    if cli::Format::of_ending(file) != Some(cli::Format::Xlsx) {
        let text = format!("{} has no ending .xlsx, the one form that findings are written in", file.display());
        return Err(CliError::Usage(text));
    }
    let request = v1::ExportFindingsRequest {
        parent: full_name(&args.run, "runs"),
        format: v1::FindingFormat::Xlsx.into(),
        spot: if args.spot.is_empty() { String::new() } else { full_name(&args.spot, "spots") },
        max_rank: args.max_rank,
    };
    let mut stream = connection.selection().export_findings(request).await?.into_inner();
    let mut bytes = Vec::new();
    while let Some(part) = stream.message().await? {
        bytes.extend_from_slice(&part.chunk);
    }
    write(file, &bytes)
}
