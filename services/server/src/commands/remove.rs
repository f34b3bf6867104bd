//! Removing: one resource by its name, and old results by their age.

use proto::v1;
use runs::{Clock as _, SystemClock};

use super::catalog::unknown;
use super::names::label_filter;
use super::records;
use crate::cli::{self, Kind};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::json;
use crate::output::shown::say;

const DAY: i64 = 86_400;

/// Removes one resource.
pub(super) async fn delete(connection: &Connection, args: &cli::Delete) -> Outcome {
    let cli::Delete { name: given, label, force } = args;
    if let Some(label) = label {
        return delete_labelled(connection, label, *force).await;
    }
    let given = given.as_deref().unwrap_or_default();
    let force = *force;
    let collection = given.split('/').next().unwrap_or_default();
    if let Some(kind) = Kind::of_collection(collection) {
        records::delete(connection, kind, given, force).await?;
    } else {
        delete_computed(connection, collection, given, force).await?;
    }
    say!("{given} is removed. What was derived from it keeps its own copy.");
    Ok(())
}

/// Removes a run, a report or a derived document.
async fn delete_computed(connection: &Connection, collection: &str, given: &str, force: bool) -> Outcome {
    let (mut fleet, name) = (connection.fleet(), given.to_owned());
    match collection {
        "runs" => connection.selection().delete_run(v1::DeleteRunRequest { name, force }).await?,
        "reports" => connection.reports().delete_report(v1::DeleteReportRequest { name }).await?,
        "shelterRules" => {
            connection.rules().delete_shelter_rules(v1::DeleteShelterRulesRequest { name, force }).await?
        }
        "fleetPlans" => fleet.delete_fleet_plan(v1::DeleteFleetPlanRequest { name, force }).await?,
        "unitAssessments" => fleet.delete_unit_assessment(v1::DeleteUnitAssessmentRequest { name, force }).await?,
        "beamFits" => fleet.delete_beam_fit(v1::DeleteBeamFitRequest { name, force }).await?,
        "beamSurveyDrafts" => fleet.delete_beam_survey_draft(v1::DeleteBeamSurveyDraftRequest { name, force }).await?,
        _ => return Err(unknown(given)),
    };
    Ok(())
}

/// Removes every spot with a label.
async fn delete_labelled(connection: &Connection, label: &str, force: bool) -> Outcome {
    let mut client = connection.catalog();
    let mut gone = 0;
    loop {
        let request = v1::ListSpotsRequest { filter: label_filter(label), page_size: 500, ..Default::default() };
        let page = client.list_spots(request).await?.into_inner();
        if page.spots.is_empty() {
            break;
        }
        for spot in page.spots {
            client.delete_spot(v1::DeleteSpotRequest { name: spot.name, etag: String::new(), force }).await?;
            gone += 1;
        }
    }
    say!("{gone} spot(s) with the label '{label}' are removed. What was derived from them keeps its own copy.");
    Ok(())
}

/// Removes old results, or says what would go.
pub(super) async fn prune(connection: &Connection, args: &cli::Prune, as_json: bool) -> Outcome {
    let age = i64::from(args.older_than_days).saturating_mul(DAY);
    let before = SystemClock.now().as_second().checked_sub(age).and_then(|at| jiff::Timestamp::from_second(at).ok());
    let before = before.ok_or_else(|| {
        CliError::Usage(format!("--older-than-days {} reaches back before the year 1", args.older_than_days))
    })?;
    let request = v1::PurgeResultsRequest {
        before: Some(prost_types::Timestamp { seconds: before.as_second(), nanos: 0 }),
        collections: args.only.clone(),
        force: !args.dry_run,
    };
    let answer = connection.admin().purge_results(request).await?.into_inner();
    if as_json {
        return json::print(&answer);
    }
    for name in &answer.purge_sample {
        say!("{name}");
    }
    let left_out = usize::try_from(answer.purge_count).unwrap_or(0).saturating_sub(answer.purge_sample.len());
    if left_out > 0 {
        say!("and {left_out} more");
    }
    let verb = if args.dry_run { "would be removed" } else { "removed" };
    say!("{} result(s) from before {before:.0} {verb}.", answer.purge_count);
    if answer.kept_count > 0 {
        say!("{} older one(s) stay, because newer reports were made of them.", answer.kept_count);
    }
    if answer.free_bytes > 0 {
        say!(
            "The database file holds {} bytes that are free for new data. To make it smaller, stop the service, then `lakebeam backup` and \
             `lakebeam restore --replace`.",
            answer.free_bytes
        );
    }
    Ok(())
}
