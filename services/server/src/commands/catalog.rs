//! Listing, showing and removing records, and the columns of their files.

use proto::v1;

use super::names::label_filter;
use super::records::{self, pretty};
use crate::cli::{self, Kind};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::table::Columns;

/// Lists the records of a kind.
pub(super) async fn list(connection: &Connection, args: &cli::List, as_json: bool) -> Outcome {
    let mut args = args.clone();
    match (&args.label, args.kind) {
        (Some(label), Kind::SPOTS) => args.filter = label_filter(label),
        (Some(_), kind) => {
            return Err(CliError::Usage(format!("--label is of spots; {} have none: use --filter", kind.name())));
        }
        (None, _) => {}
    }
    records::list(connection, args.kind, &args.filter, as_json).await
}

/// Shows one resource, as JSON that reads well.
pub(super) async fn show(connection: &Connection, name: &str) -> Outcome {
    let collection = name.split('/').next().unwrap_or_default();
    if let Some(kind) = Kind::of_collection(collection) {
        return records::show(connection, kind, name).await;
    }
    let (mut selection, mut fleet) = (connection.selection(), connection.fleet());
    let name_of = || name.to_owned();
    match collection {
        "shelterRules" => {
            let request = v1::GetShelterRulesRequest { name: name_of() };
            pretty(connection.rules().get_shelter_rules(request).await?.get_ref())
        }
        "fleetPlans" => pretty(fleet.get_fleet_plan(v1::GetFleetPlanRequest { name: name_of() }).await?.get_ref()),
        "unitAssessments" => {
            let request = v1::GetUnitAssessmentRequest { name: name_of() };
            pretty(fleet.get_unit_assessment(request).await?.get_ref())
        }
        "beamFits" => pretty(fleet.get_beam_fit(v1::GetBeamFitRequest { name: name_of() }).await?.get_ref()),
        "beamSurveyDrafts" => {
            let request = v1::GetBeamSurveyDraftRequest { name: name_of() };
            pretty(fleet.get_beam_survey_draft(request).await?.get_ref())
        }
        "reports" => pretty(connection.reports().get_report(v1::GetReportRequest { name: name_of() }).await?.get_ref()),
        "runs" if name.contains("/findings/") => {
            let request = v1::ExplainFindingRequest { name: name_of() };
            match selection.explain_finding(request).await?.into_inner().finding {
                Some(finding) => pretty(&finding),
                None => Err(CliError::Usage(format!("there is no {name}"))),
            }
        }
        "runs" => pretty(selection.get_run(v1::GetRunRequest { name: name_of() }).await?.get_ref()),
        _ => Err(unknown(name)),
    }
}

pub(super) fn unknown(name: &str) -> CliError {
    CliError::Usage(format!(
        "'{name}' is no name that this verb knows; names begin with their collection, such as spots/ or units/: see `lakebeam list`"
    ))
}

/// Prints the columns of CSV files with their units, or one as a file to fill in.
pub(super) fn show_columns(args: &cli::Columns, as_json: bool) -> Outcome {
    for kind in Kind::all().iter().filter(|kind| args.kind.is_none_or(|wanted| wanted == **kind)) {
        let Some((columns, file)) = catalog::files_of(kind.collection()) else { continue };
        if args.csv {
            say!("{}", file.trim_end());
            return Ok(());
        }
        if as_json {
            for c in columns {
                say!(
                    "{}",
                    serde_json::json!({
                        "kind": kind.name(), "column": c.name, "unit": c.unit, "required": c.required,
                        "accepts": c.accepts, "example": c.example, "also": c.also().collect::<Vec<_>>(), "words": c.words(),
                    })
                );
            }
            continue;
        }
        say!("{}.csv", kind.name());
        let mut table = Columns::new(&["column", "unit", "or in its place", "needed", "accepts", "example"]);
        for c in columns {
            table.row([
                c.name.to_string(),
                c.unit.to_string(),
                c.also().chain(c.words().iter().copied()).collect::<Vec<_>>().join(", "),
                if c.required { "yes".to_owned() } else { String::new() },
                c.accepts.to_string(),
                c.example.to_string(),
            ]);
        }
        table.print();
        say!("");
    }
    if !as_json {
        say!(
            "The unit is the end of a column's name: _ft are feet, _in inches, _f and _degf degrees Fahrenheit; a header such as\n\
             `Depth (ft)` is read as depth_ft. A cell may say its own: 180 kHz, 18 ft, $129; 9/20 are two beams of one sensor. Ids are made from\n\
             names where there are none, and columns of no known field are left aside. Where semicolons or tabs separate the cells, numbers may have a decimal comma."
        );
    }
    Ok(())
}
