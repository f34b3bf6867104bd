//! Seats: who takes which hole with what.

use std::path::Path;

use proto::v1;

use super::length;
use super::names::{full_name, full_names};
use super::rules::{band, bottom};
use crate::cli;
use crate::connect::Connection;
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;
use crate::output::{self, json, table::Columns};

/// Seats people and prints where each sits; writes it as a file if asked.
pub(super) async fn seats(connection: &Connection, args: &cli::Seats, as_json: bool) -> Outcome {
    let mut people = args.bring.iter().map(|text| person(text)).collect::<Result<Vec<_>, _>>()?;
    if let Some(file) = &args.people {
        people.extend(listed(file)?);
    }
    let request = v1::SeatPeopleRequest {
        shelter: full_name(&args.shelter, "shelters"),
        people,
        lure: full_name(&args.lure, "targets"),
        band: Some(depths(&args.depth)?),
        bottom_classes: args.bottoms.iter().map(|text| bottom(text)).collect::<Result<_, _>>()?,
        same_for_all: args.same_for_all,
        ..v1::SeatPeopleRequest::default()
    };
    let answer = connection.rules().seat_people(request).await?.into_inner();
    if let Some(file) = &args.output {
        output::file::write(file, &table(&answer)?)?;
    }
    if as_json {
        return json::print(&answer);
    }
    print(&answer, args);
    if let Some(file) = &args.output {
        say!("\n{}: {} seats.", file.display(), answer.seats.len());
    }
    Ok(())
}

/// A band of depth, or a single depth.
fn depths(text: &str) -> Result<v1::DepthBand, CliError> {
    match length::metres(text) {
        Some(depth) => Ok(v1::DepthBand { shallow_m: depth, deep_m: depth }),
        None => band("--depth", text),
    }
}

/// `Ann=plain-narrow`, `Bo=two-face+plain-wide`.
fn person(text: &str) -> Result<v1::SeatedPerson, CliError> {
    let (name, units) = text.split_once('=').ok_or_else(|| {
        CliError::Usage(format!("--bring: '{text}' names no unit; write NAME=UNIT, such as Ann=plain-narrow"))
    })?;
    Ok(seated(name, units))
}

fn seated(name: &str, units: &str) -> v1::SeatedPerson {
    let units: Vec<String> =
        units.split(['+', ';']).map(str::trim).filter(|unit| !unit.is_empty()).map(str::to_owned).collect();
    v1::SeatedPerson { display_name: name.trim().to_owned(), options: full_names(&units, "sensors") }
}

/// People of a file with the columns `name` and `units`.
fn listed(file: &Path) -> Result<Vec<v1::SeatedPerson>, CliError> {
    let refuse = |what: String| CliError::Usage(format!("{}: {what}", file.display()));
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(file).map_err(|e| refuse(e.to_string()))?;
    let headers = reader.headers().map_err(|e| refuse(e.to_string()))?.clone();
    let column = |wanted: &str| headers.iter().position(|header| header.eq_ignore_ascii_case(wanted));
    let (Some(name), Some(units)) = (column("name"), column("units")) else {
        return Err(refuse("its first line names no columns; it needs name and units".to_owned()));
    };
    let person = |row: csv::Result<csv::StringRecord>| {
        let row = row.map_err(|e| refuse(e.to_string()))?;
        Ok(seated(row.get(name).unwrap_or_default(), row.get(units).unwrap_or_default()))
    };
    reader.records().map(person).collect()
}

/// The columns of the file of seats.
const COLUMNS: [&str; 8] =
    ["name", "units", "hole", "from_left_wall_m", "from_front_wall_m", "start", "never_above", "headroom_db"];

fn table(answer: &v1::SeatPeopleResponse) -> Result<Vec<u8>, CliError> {
    let broken = |error: &dyn std::fmt::Display| CliError::Usage(format!("the seats cannot be written: {error}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(|e| broken(&e))?;
    for seat in &answer.seats {
        let option = option(answer, seat.option);
        let hole = hole(answer, seat);
        let [left, front] = hole.map_or_else(Default::default, |at| at.map(|metres| format!("{metres:.2}")));
        writer
            .write_record([
                csv_text(&seat.display_name),
                option.map(|option| option.option.clone()).unwrap_or_default(),
                (seat.hole + 1).to_string(),
                left,
                front,
                said(seat.start.as_ref()),
                said(seat.highest.as_ref()),
                format!("{:.1}", seat.highest_gain_db - seat.start_gain_db),
            ])
            .map_err(|e| broken(&e))?;
    }
    writer.into_inner().map_err(|e| broken(&e))
}

/// Text that a spreadsheet does not compute.
fn csv_text(text: &str) -> String {
    catalog::exchange::csv::guarded(text).into_owned()
}

fn print(answer: &v1::SeatPeopleResponse, args: &cli::Seats) {
    let name = |place: u32| {
        option(answer, place).map_or_else(String::new, |o| format!("{} ({})", o.sensor_display_name, o.beam))
    };
    let mut seats = Columns::new(&["person", ">hole", ">left wall m", ">front wall m", "unit", "start", "never above"]);
    for seat in &answer.seats {
        let [x, y] = hole(answer, seat).unwrap_or_default();
        seats.row([
            seat.display_name.clone(),
            (seat.hole + 1).to_string(),
            format!("{x:.2}"),
            format!("{y:.2}"),
            name(seat.option),
            said(seat.start.as_ref()),
            said(seat.highest.as_ref()),
        ]);
    }
    if answer.seats.is_empty() {
        say!("Nobody can be seated.");
    } else {
        seats.print();
    }
    for one in &answer.unseated {
        let why = match one.refusal() {
            v1::SeatRefusal::Reach => {
                "nothing they bring shows the lure at every depth, even alone; bring a unit that reaches deeper"
            }
            v1::SeatRefusal::Neighbours => {
                "with them somebody would be disturbed wherever all sit; another shelter, or another unit"
            }
            v1::SeatRefusal::NotFound => {
                "no arrangement with them was found in the time that is allowed; fewer choices make the search shorter"
            }
            v1::SeatRefusal::Unspecified => "",
        };
        say!("No seat for {}: {why}.", one.display_name);
    }
    if !answer.seats.is_empty() {
        say!("");
        told(answer, args, &name);
    }
    say!(
        "It holds for this shelter standing alone. Ask the local authority about the ice; mark drilled holes; keep a heated shelter ventilated."
    );
}

/// How good it is, and what it is against one option for all.
fn told(answer: &v1::SeatPeopleResponse, args: &cli::Seats, name: &dyn Fn(u32) -> String) {
    let shows = |least: Option<f64>| {
        least.map_or_else(
            || "neighbours show to nobody at any setting".to_owned(),
            |least| format!("neighbours begin to show {least:.1} dB above the start at the earliest"),
        )
    };
    let here = shows(answer.least_headroom_db);
    let mut letters = here.chars();
    let first = letters.next().map(|letter| letter.to_ascii_uppercase()).unwrap_or_default();
    let proof = answer.least_headroom_db.map(|_| bound(answer)).unwrap_or_default();
    say!("{first}{}.{proof}", letters.as_str());
    match &answer.same_for_all {
        Some(same) if !args.same_for_all => {
            let as_good = match (answer.least_headroom_db, same.least_headroom_db) {
                (None, Some(_)) => false,
                (Some(here), Some(same)) => here < same + 0.5,
                (_, None) => true,
            };
            let good = if as_good { ", which is as good" } else { "" };
            say!("If all had {}: {}{good}.", name(same.option), shows(same.least_headroom_db));
        }
        None if answer.seats.len() > 1 && !args.same_for_all => {
            say!("There is no one option that all of them bring and that leaves everybody undisturbed.");
        }
        Some(_) | None => {}
    }
}

fn bound(answer: &v1::SeatPeopleResponse) -> String {
    let all = |bound: f64| format!(" The search was cut short: no arrangement has more than {bound:.1} dB.");
    answer.bound_db.map_or_else(|| " No arrangement does better.".to_owned(), all)
}

fn option(answer: &v1::SeatPeopleResponse, place: u32) -> Option<&v1::RuledOption> {
    answer.options.get(usize::try_from(place).ok()?)
}

fn hole(answer: &v1::SeatPeopleResponse, seat: &v1::Seat) -> Option<[f64; 2]> {
    answer.holes.get(usize::try_from(seat.hole).ok()?).map(|hole| [hole.x_m, hole.y_m])
}

fn said(sentence: Option<&v1::Sentence>) -> String {
    sentence.map(|sentence| sentence.text.clone()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_are_read_from_flags_and_files() {
        let ann = person("Ann = plain-narrow + sensors/two-face/options/wide").unwrap();
        assert_eq!(ann.display_name, "Ann");
        assert_eq!(ann.options, ["sensors/plain-narrow", "sensors/two-face/options/wide"]);
        assert!(person("Ann").is_err());
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("people.csv");
        std::fs::write(&file, "Units,Name\nplain-narrow,Ann\ntwo-face; plain-wide,Bo\n").unwrap();
        let read = listed(&file).unwrap();
        let told: Vec<_> = read.iter().map(|one| (one.display_name.as_str(), one.options.len())).collect();
        assert_eq!(told, [("Ann", 1), ("Bo", 2)]);
        std::fs::write(&file, "who,what\nAnn,plain-narrow\n").unwrap();
        let Err(CliError::Usage(told)) = listed(&file) else { panic!("it is refused") };
        assert!(told.ends_with("it needs name and units"), "{told}");
    }
}
