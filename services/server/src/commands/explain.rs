//! Every figure behind one finding, as a tree.

use proto::v1;

use super::names::full_name;
use crate::cli;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::json;
use crate::output::shown::say;

/// Prints the tree of a finding.
pub(super) async fn explain(connection: &Connection, args: &cli::Explain, as_json: bool) -> Outcome {
    let name = match &args.spot {
        Some(spot) => find(connection, &full_name(&args.name, "runs"), spot, args.option.as_deref()).await?,
        None => args.name.clone(),
    };
    let request = v1::ExplainFindingRequest { name };
    let answer = connection.selection().explain_finding(request).await?.into_inner();
    if as_json {
        return json::print(&answer);
    }
    if let Some(finding) = &answer.finding {
        say!("{}", finding.name);
        for reason in finding.failures.iter().chain(&finding.notices) {
            say!("  ! {}", reason.text);
        }
        say!("");
    }
    if let Some(root) = &answer.root {
        print_step(root, 0);
    }
    for assumption in answer.finding.iter().flat_map(|f| &f.assumptions) {
        say!("assumed: {}", assumption.text);
    }
    Ok(())
}

/// The finding of an option at a spot of a run; the best one without an option.
async fn find(connection: &Connection, run: &str, spot: &str, option: Option<&str>) -> Result<String, CliError> {
    let request = v1::StreamFindingsRequest { parent: run.to_owned(), spot: full_name(spot, "spots"), max_rank: 0 };
    let mut stream = connection.selection().stream_findings(request).await?.into_inner();
    while let Some(f) = stream.message().await? {
        let matches = option
            .is_none_or(|o| f.option == o || f.option.replace("/options/", "/").ends_with(&format!("sensors/{o}")));
        if matches {
            return Ok(f.name);
        }
    }
    Err(CliError::Usage(format!(
        "{run} has no such option at {spot}; `lakebeam findings {run} --spot {spot}` lists them"
    )))
}

fn print_step(step: &v1::ExplainStep, depth: usize) {
    let indent = "  ".repeat(depth);
    let value = step.value.map_or_else(String::new, |v| format!(" = {}", figure(v)));
    let unit = if step.unit.is_empty() { String::new() } else { format!(" {}", step.unit) };
    let symbol = if step.symbol.is_empty() { String::new() } else { format!(" ({})", step.symbol) };
    say!("{indent}{}{symbol}{value}{unit}", step.title);
    for (label, text) in [("", &step.text), ("formula: ", &step.formula), ("source: ", &step.source)] {
        if !text.is_empty() {
            say!("{indent}    {label}{text}");
        }
    }
    for input in &step.inputs {
        print_step(input, depth + 1);
    }
}

/// Four significant digits, without an exponent where a person would not write one.
fn figure(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs();
    if !(1e-4..1e7).contains(&magnitude) {
        return format!("{value:.3e}");
    }
    let decimals = if magnitude >= 1000.0 {
        0
    } else if magnitude >= 100.0 {
        1
    } else if magnitude >= 10.0 {
        2
    } else if magnitude >= 0.1 {
        3
    } else {
        5
    };
    format!("{value:.decimals$}")
}
