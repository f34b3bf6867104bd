//! Checks: is this unit as good as others of its kind? A reading is typed, and the verdict comes once there are two.

use std::sync::Arc;

use axum::Router;
use axum::extract::RawQuery;
use axum::response::Response;
use axum::routing::{get, post};
use http::StatusCode;
use maud::{Markup, html};
use proto::v1;

use crate::Counter;
use crate::advise::{Shelf, id, printed};
use crate::answer::{given, see};
use crate::client::units;
use crate::desk::random_id;
use crate::fields::{Fields, query};
use crate::page::{self, Tab, fault_of, faults as summary, mark};
use crate::posted::Posted;
use crate::quantity::length;
use crate::rentals::today;
use crate::say::Say;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;

/// Readings from which on a unit is judged: one accuses nobody.
const ENOUGH: u32 = 2;

/// Fields of the form with the keys of their labels, and the fields of the record that they are.
const FIELDS: [(&str, &str, &str); 4] = [
    ("unit", "checked-unit", "unit"),
    ("ball", "checked-ball", "target"),
    ("depth", "depth", "depth_m"),
    ("reading", "checked-reading", "shown_at"),
];

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new().route("/checks", get(show).post(store)).route("/checks/print", post(print))
}

async fn show(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, page_of(&visit, &query(raw), &[]).await)
}

async fn store(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, stored(&visit, &fields).await)
}

async fn print(visit: Visit, Posted(_): Posted) -> Response {
    let printed = async {
        let say = visit.say().ok_or(Stop::NotThere)?;
        let assessment = assess(&visit, false).await?;
        printed(&visit, say, &assessment.name, "unit-assessment").await
    };
    given(&visit, printed.await)
}

/// Every unit that has a reading, judged.
async fn assess(visit: &Visit, validate_only: bool) -> Result<v1::UnitAssessment, Stop> {
    let request = v1::AssessUnitsRequest { spec: None, validate_only };
    Ok(visit.client.fleet().assess_units(request).await?.into_inner())
}

/// The page: the form, the verdict on the unit that it speaks of, and how all stand.
async fn page_of(visit: &Visit, fields: &Fields, faults: &[(Fault, String)]) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let (units, shelf) = tokio::try_join!(units(&visit.client), Shelf::read(visit))?;
    let title = say.t("tab-checks");
    if units.is_empty() {
        let body = html! {
            h1 { (title) }
            p.quiet { (say.t("checks-no-units")) " " a href="/shelf/import" { (say.t("import")) } }
        };
        return Ok(page::whole(visit, Tab::Checks, title, StatusCode::OK, &body));
    }
    let checks = v1::ListUnitChecksRequest { page_size: 1, ..v1::ListUnitChecksRequest::default() };
    let checked = !visit.client.fleet().list_unit_checks(checks).await?.into_inner().unit_checks.is_empty();
    let assessment =
        if checked && visit.may_store() { assess(visit, true).await? } else { v1::UnitAssessment::default() };
    let body = html! {
        h1 { (title) }
        (summary(say, faults))
        div.two {
            @if visit.may_store() { (form(visit, say, &units, &shelf, fields, faults)) } @else { p.quiet { (say.t("stop-may-not")) } }
            section id="answer" aria-label=(say.t("answer")) {
                (verdict(say, &units, &assessment, fields))
                (all(visit, say, &assessment))
            }
        }
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok(page::whole(visit, Tab::Checks, title, status, &body))
}

/// The unit that the form speaks of; the first where none was chosen.
fn unit_of<'a>(units: &'a [v1::Unit], fields: &Fields) -> Option<&'a v1::Unit> {
    let given = fields.get("unit").split('/').next().unwrap_or_default();
    units.iter().find(|unit| id(&unit.name) == given).or_else(|| units.first())
}

fn form(
    visit: &Visit,
    say: Say<'_>,
    units: &[v1::Unit],
    shelf: &Shelf,
    fields: &Fields,
    faults: &[(Fault, String)],
) -> Markup {
    html! {
        form.question method="post" action="/checks" {
            (mark(visit))
            @for (name, key, _) in FIELDS {
                div.field {
                    label for=(name) { (say.t(key)) }
                    (input(say, units, shelf, (name, fields)))
                    @if name == "reading" { p.small { (say.t("checked-reading-help")) } }
                    @if name == "ball" && shelf.targets_of(v1::TargetKind::Reference).next().is_none() { p.small { (say.t("checked-no-ball")) } }
                    @if let Some(fault) = fault_of(faults, name) { p.fault { (fault) } }
                }
            }
            p.buttons { button.first type="submit" { (say.t("checked-store")) } }
        }
    }
}

fn input(say: Say<'_>, units: &[v1::Unit], shelf: &Shelf, (name, fields): (&str, &Fields)) -> Markup {
    let value = fields.get(name);
    let choice = |all: &mut dyn Iterator<Item = (String, String)>| {
        html! {
            select id=(name) name=(name) {
                @for (own, shown) in all { option value=(own) selected[own == value || own.split('/').next() == Some(value)] { (shown) } }
            }
        }
    };
    match name {
        "unit" => choice(&mut units.iter().flat_map(|unit| beams(unit, shelf))),
        "ball" => choice(
            &mut shelf
                .targets_of(v1::TargetKind::Reference)
                .map(|target| (id(&target.name).to_owned(), target.display_name.clone())),
        ),
        "depth" => html! {
            span.boxed { input id=(name) name=(name) value=(value) inputmode="decimal" autocomplete="off"; span.unit aria-hidden="true" { (say.look.unit.tag()) } }
        },
        _ => html! { input id=(name) name=(name) value=(value) autocomplete="off"; },
    }
}

/// A unit with each of its beams, as `unit/option`; the beam is not named where there is one.
fn beams(unit: &v1::Unit, shelf: &Shelf) -> Vec<(String, String)> {
    let options = shelf.sensor(id(&unit.sensor)).map_or(&[][..], |sensor| &sensor.options);
    let named = |option: &v1::BeamOption| {
        let beam = if options.len() > 1 { format!(": {}", option.option_id) } else { String::new() };
        let key = format!("{}/{}", id(&unit.name), option.option_id);
        (key, format!("{} ({}){beam}", unit.display_name, unit.serial))
    };
    options.iter().map(named).collect()
}

/// What is said of the unit that was read last: nothing of its readings before there are two.
fn verdict(say: Say<'_>, units: &[v1::Unit], assessment: &v1::UnitAssessment, fields: &Fields) -> Markup {
    let Some(unit) = unit_of(units, fields).filter(|_| fields.has("unit")) else {
        return html! { p.quiet { (say.t("checks-begin")) } };
    };
    let standing = assessment.units.iter().find(|standing| standing.unit == unit.name);
    let Some(standing) = standing.filter(|standing| standing.checks >= ENOUGH) else {
        return html! {
            div.panel { p { strong { (unit.display_name) } ": " (say.t(if fields.has("kept") { "checks-once-more" } else { "checks-read-twice" })) } }
        };
    };
    let readings: Vec<_> = assessment.readings.iter().filter(|reading| reading.unit == unit.name).collect();
    let at =
        |dial: &str, gain: f64| if dial.is_empty() { format!("{} dB", say.number(gain, 0)) } else { say.figure(dial) };
    html! {
        div.panel {
            h2 { (unit.display_name) ": " (say.report(standing_key(standing.standing()))) }
            @for sentence in &standing.text_sentences { p { (say.sentence(sentence)) } }
        }
        table.cards {
            thead { tr { th scope="col" { (say.t("checked-day")) } th scope="col" { (say.t("checked-shown")) } th scope="col" { (say.t("checked-expected")) } } }
            tbody {
                @for reading in readings {
                    tr {
                        th scope="row" { (reading.day) }
                        td data-label=(say.t("checked-shown")) { (at(&reading.shown_dial, reading.shown_gain_db)) }
                        td data-label=(say.t("checked-expected")) { (at(&reading.expected_dial, reading.expected_gain_db)) }
                    }
                }
            }
        }
    }
}

const fn standing_key(standing: v1::Standing) -> &'static str {
    match standing {
        v1::Standing::Sound => "standing-sound",
        v1::Standing::Watch => "standing-watch",
        v1::Standing::Weak => "standing-weak",
        v1::Standing::Doubtful => "standing-doubtful",
        v1::Standing::Unknown | v1::Standing::Unspecified => "standing-unknown",
    }
}

/// How all stand that have two readings.
fn all(visit: &Visit, say: Say<'_>, assessment: &v1::UnitAssessment) -> Markup {
    let judged: Vec<_> = assessment.units.iter().filter(|unit| unit.checks >= ENOUGH).collect();
    if judged.is_empty() {
        return html! {};
    }
    html! {
        h2 { (say.t("checks-all")) }
        table.cards {
            thead { tr { th scope="col" { (say.t("checked-unit")) } th scope="col" { (say.t("checks-standing")) } th scope="col" { (say.t("checks-count")) } } }
            tbody {
                @for unit in judged {
                    tr {
                        th scope="row" { a href=(format!("/checks?unit={}", id(&unit.unit))) { (unit.unit_display_name) } " " small { (unit.sensor_display_name) } }
                        td data-label=(say.t("checks-standing")) { (say.report(standing_key(unit.standing()))) }
                        td data-label=(say.t("checks-count")) { (unit.checks) }
                    }
                }
            }
        }
        @for out in &assessment.left_out { p.small { (out.text) } }
        form.buttons method="post" action="/checks/print" { (mark(visit)) button type="submit" { (say.t("checks-print")) } }
    }
}

/// Stores a reading; what is accepted is what the services accept.
async fn stored(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    let say = visit.say().ok_or(Stop::NotThere)?;
    let Some(depth_m) = length(fields.get("depth"), say.look.unit) else {
        let text = say.f("fault-length", &[("given", fields.get("depth"))]);
        let fault = (Fault { field: "depth".to_owned(), text }, say.t("depth").to_owned());
        return page_of(visit, fields, &[fault]).await;
    };
    let (unit, option) = fields.get("unit").split_once('/').unwrap_or((fields.get("unit"), ""));
    let check = v1::UnitCheck {
        unit: format!("units/{unit}"),
        option: option.to_owned(),
        target: if fields.get("ball").is_empty() { String::new() } else { format!("targets/{}", fields.get("ball")) },
        day: today().to_string(),
        depth_m,
        shown_at: fields.get("reading").to_owned(),
        ..v1::UnitCheck::default()
    };
    let random: String = random_id().map_err(Stop::Failed)?.chars().take(12).collect();
    let request = v1::RecordUnitCheckRequest { unit_check_id: format!("c{random}"), unit_check: Some(check) };
    match visit.client.fleet().record_unit_check(request).await.map_err(Stop::from) {
        Ok(_) => {
            let mut kept = Fields::default();
            for name in ["unit", "ball", "depth"] {
                kept.put(name, fields.get(name));
            }
            Ok(see(&format!("/checks?{}&kept=1#answer", kept.written())))
        }
        Err(Stop::Refused(faults)) => {
            let at = |fault: Fault| {
                let path = fault.field.rsplit('.').next().unwrap_or_default();
                let known = FIELDS.iter().find(|(_, _, field)| *field == path);
                let (field, label) = known.map_or(("", ""), |(name, key, _)| (*name, say.t(key)));
                (Fault { field: field.to_owned(), text: fault.text }, label.to_owned())
            };
            page_of(visit, fields, &faults.into_iter().map(at).collect::<Vec<_>>()).await
        }
        Err(stop) => Err(stop),
    }
}
