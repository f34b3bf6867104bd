//! Advise: one sensor for a customer's places.

use std::time::{SystemTime, UNIX_EPOCH};

use proto::v1;
use proto::v1::recommend_response::Step;

use super::choice;
use super::follow::{follow, progress_bar};
use super::question::{self, Question};
use super::records;
use super::report::{self, Wanted};
use crate::cli::{self, Kind, LengthUnit};
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{json, table::Columns};

/// Asks, and prints the answer; keeps the question and writes the sheet if asked.
pub(super) async fn advise(connection: &Connection, args: &cli::Advise, as_json: bool) -> Outcome {
    let mut question = question::ask(connection, args).await?;
    if args.look.length_unit.is_some() {
        question.feet = args.look.length_unit == Some(LengthUnit::Feet);
    }
    let Some(file) = &args.report else {
        let answer = recommend(connection, question.request).await?;
        return if as_json { json::print(&answer) } else { print(&answer, question.feet, &question.assumed) };
    };
    let feet = question.feet;
    let assumed = question.assumed.clone();
    let run = keep(connection, question).await?;
    let request = v1::SummarizeRunRequest { name: run.name.clone() };
    let answer = connection.selection().summarize_run(request).await?.into_inner().recommendation.unwrap_or_default();
    let mut look = args.look.clone();
    look.length_unit = look.length_unit.or(feet.then_some(LengthUnit::Feet));
    let wanted =
        Wanted { source: &run.name, template: "customer-sheet", spots: &[], look: &look, output: file, logo: &[] };
    if as_json {
        report::write_file(connection, &wanted).await?;
        return json::print(&answer);
    }
    print(&answer, feet, &assumed)?;
    say!("");
    report::write(connection, &wanted, false).await
}

/// The answer; progress goes to the terminal.
async fn recommend(connection: &Connection, request: v1::RecommendRequest) -> Result<v1::Recommendation, CliError> {
    let mut stream = connection.selection().recommend(request).await?.into_inner();
    let bar = progress_bar("mixes tried");
    while let Some(message) = stream.message().await? {
        match message.step {
            Some(Step::Progress(progress)) => {
                bar.set_length(u64::try_from(progress.draws_total).unwrap_or(0));
                bar.set_position(u64::try_from(progress.draws_done).unwrap_or(0));
            }
            Some(Step::Recommendation(answer)) => {
                bar.finish_and_clear();
                return Ok(answer);
            }
            None => {}
        }
    }
    Err(CliError::Partial("the service ended the answer before its end; ask again".to_owned()))
}

/// Stores what the question gives itself, labelled by the time, runs it, and removes it again: the run has its own copy.
async fn keep(connection: &Connection, question: Question) -> Result<v1::Run, CliError> {
    let request = question.request;
    let mut spec = request.spec.unwrap_or_default();
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs());
    let id = |what: &str| format!("advice-{seconds}-{what}");
    let mut catalog = connection.catalog();
    let mut stored = Vec::new();
    for (index, spot) in request.spots.into_iter().enumerate() {
        // So that they can be told from the shop's own, and removed together.
        let spot = v1::Spot { label: format!("advice-{seconds}"), ..spot };
        let ask = v1::CreateSpotRequest { spot_id: id(&format!("{}", index + 1)), spot: Some(spot) };
        spec.spots.push(catalog.create_spot(ask).await?.into_inner().name);
        stored.extend(spec.spots.last().cloned());
    }
    if let Some(shelter) = request.shelter {
        let ask = v1::CreateShelterRequest { shelter_id: id("shelter"), shelter: Some(shelter) };
        spec.shelter = catalog.create_shelter(ask).await?.into_inner().name;
        stored.push(spec.shelter.clone());
    }
    for (target, what, slot) in [(request.lure, "lure", &mut spec.lure), (request.fish, "fish", &mut spec.fish)] {
        if let Some(target) = target {
            let ask = v1::CreateTargetRequest { target_id: id(what), target: Some(target) };
            *slot = catalog.create_target(ask).await?.into_inner().name;
            stored.push(slot.clone());
        }
    }
    let request = v1::StartRunRequest { spec: Some(spec), ..Default::default() };
    let run = match connection.selection().start_run(request).await {
        Ok(started) => follow(connection, &started.into_inner().name, true).await,
        Err(status) => Err(status.into()),
    };
    for name in stored {
        if let Some(kind) = Kind::of_collection(name.split('/').next().unwrap_or_default()) {
            records::delete(connection, kind, &name, false).await?;
        }
    }
    run
}

/// The answer as a clerk reads it aloud.
pub(super) fn print(answer: &v1::Recommendation, feet: bool, assumed: &[String]) -> Outcome {
    let text = answer.text.clone().unwrap_or_default();
    let advised = answer.sensors.iter().find(|s| !answer.sensor.is_empty() && s.sensor == answer.sensor);
    let price = advised.filter(|s| !s.owned).and_then(|s| s.price.as_ref()).map(choice::money_text);
    let sure = match answer.firmness() {
        v1::Firmness::Unspecified => None,
        v1::Firmness::Firm => Some("firm"),
        v1::Firmness::Likely => Some("likely"),
        v1::Firmness::TossUp | v1::Firmness::TooLittleKnown => Some("toss-up"),
    };
    let head = [Some(said(text.headline.as_ref())), sure.map(str::to_owned), price];
    say!("{}", head.into_iter().flatten().collect::<Vec<_>>().join("  "));
    let sentences = text.standing.iter().chain(&text.works).chain(&text.money).chain(&text.settling).chain(&text.notes);
    for sentence in sentences {
        say!("{}", sentence.text);
    }
    if let Some(advised) = advised {
        say!("");
        print_settings(answer, &advised.display_name, feet);
    }
    say!("");
    print_candidates(answer);
    if !assumed.is_empty() {
        say!("");
        say!("Assumed: {}.", assumed.join("; "));
    }
    Ok(())
}

fn said(sentence: Option<&v1::Sentence>) -> String {
    sentence.map_or_else(String::new, |sentence| sentence.text.clone())
}

fn print_settings(answer: &v1::Recommendation, sensor: &str, feet: bool) {
    say!("How to set the {sensor}");
    let mut table = Columns::new(&["place", "switch", "start", "never above", "shows", "watch out"]);
    for uses in answer.places.chunk_by(|a, b| a.spot == b.spot) {
        let alike = uses.iter().all(|one| uses.first().is_some_and(|first| first.option == one.option));
        // Of uses that share a switch position, one that does not work is told.
        let worst = uses.iter().find(|one| !one.works).or(uses.first());
        let told: Vec<&v1::PlaceSetting> = if alike { worst.into_iter().collect() } else { uses.iter().collect() };
        for place in told {
            let purpose = if alike { String::new() } else { format!(" ({})", purpose(place)) };
            table.row(setting_row(place, &purpose, feet));
        }
    }
    table.print();
    say!("Check it on the ice: hang the lure, turn up from zero until it first shows, then a little more.");
}

fn setting_row(place: &v1::PlaceSetting, purpose: &str, feet: bool) -> [String; 6] {
    let radius = place.finding.as_ref().and_then(|f| f.criteria.as_ref()).map_or(0.0, |c| c.coverage_radius_m);
    let shows = match (place.works, feet) {
        (false, _) => String::new(),
        (true, true) => format!("fish within {:.0} ft of the hole", radius / 0.3048),
        (true, false) => format!("fish within {radius:.1} m of the hole"),
    };
    [
        format!("{}{purpose}", place.display_name),
        place.option_name.clone(),
        said(place.start.as_ref()),
        said(place.highest.as_ref()),
        shows,
        place.watch_out.first().map_or_else(|| "Nothing special.".to_owned(), |s| s.text.clone()),
    ]
}

/// A use in two words; one of the user's own by its title.
fn purpose(place: &v1::PlaceSetting) -> &str {
    if !place.custom_goal.is_empty() {
        return &place.goal_title;
    }
    match place.goal() {
        v1::Goal::Unspecified => "any",
        v1::Goal::Search => "find fish",
        v1::Goal::WatchLure => "watch the lure",
        v1::Goal::School => "tell a school apart",
        v1::Goal::WeedEdge => "along weeds",
    }
}

fn print_candidates(answer: &v1::Recommendation) {
    let drawn = answer.draws > 0;
    let mut table = Columns::new(&["sensor", ">price", ">points", ">works at", ">right in", ""]);
    for s in &answer.sensors {
        let remark = match (s.owned, s.affordable, s.efficient) {
            (true, _, _) => "owned",
            (false, false, _) if s.price.is_none() => "no price",
            (false, false, _) => "above the money",
            (false, true, true) => "nothing as good is cheaper",
            (false, true, false) => "",
        };
        table.row([
            s.display_name.clone(),
            s.price.as_ref().map_or_else(String::new, choice::money_text),
            format!("{:.0}", 100.0 * s.value),
            format!("{:.0} %", 100.0 * s.works_share),
            if drawn && s.affordable { format!("{:.0} of 100", 100.0 * s.best_share) } else { String::new() },
            remark.to_owned(),
        ]);
    }
    table.print();
}
