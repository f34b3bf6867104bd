//! Event: who can fish where, with what, how far apart? The rules for the shelters of an event, for its organizer.

pub(crate) mod work;

use std::sync::Arc;

use axum::Router;
use axum::extract::RawQuery;
use axum::response::Response;
use axum::routing::{get, post};
use http::StatusCode;
use maud::{Markup, html};
use proto::v1;

use crate::Counter;
use crate::advise::{BOTTOMS, Shelf, id, printed};
use crate::answer::{given, see};
use crate::fields::{Fields, query};
use crate::page::{self, Tab, fault_of, faults as summary, mark};
use crate::posted::Posted;
use crate::quantity::length;
use crate::say::Say;
use crate::stop::{Fault, Stop};
use crate::visit::Visit;
use work::State;

/// Rules that the page lists.
const LISTED: i32 = 10;
/// Bands of depth that the form has room for.
const BANDS: usize = 4;

pub(crate) fn routes() -> Router<Arc<Counter>> {
    Router::new()
        .route("/event", get(show).post(start))
        .route("/event/work", get(wait))
        .route("/event/stop", post(stop))
        .route("/event/print", post(print))
}

async fn show(visit: Visit, RawQuery(raw): RawQuery) -> Response {
    given(&visit, page_of(&visit, &query(raw), &[]).await)
}

async fn start(visit: Visit, Posted(fields): Posted) -> Response {
    given(&visit, started(&visit, &fields).await)
}

async fn wait(visit: Visit) -> Response {
    given(&visit, waited(&visit).await)
}

async fn stop(visit: Visit, Posted(_): Posted) -> Response {
    visit.desk.deriving.stop();
    see("/event")
}

async fn print(visit: Visit, Posted(fields): Posted) -> Response {
    let printed = async {
        let say = visit.say().ok_or(Stop::NotThere)?;
        printed(&visit, say, fields.get("rules"), "shelter-rules").await
    };
    given(&visit, printed.await)
}

async fn page_of(visit: &Visit, fields: &Fields, faults: &[(Fault, String)]) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let shelf = Shelf::read(visit).await?;
    let title = say.t("tab-event");
    let mut rules = visit.client.rules();
    let request = v1::ListShelterRulesRequest { page_size: LISTED, ..v1::ListShelterRulesRequest::default() };
    let known = rules.list_shelter_rules(request).await?.into_inner().shelter_rules;
    let body = html! {
        h1 { (title) }
        (summary(say, faults))
        div.two {
            @if shelf.shelters.is_empty() {
                p.quiet { (say.t("event-no-shelters")) " " a href="/shelf/shelters" { (say.t("tab-shelf")) } }
            } @else if visit.may_store() { (form(visit, say, &shelf, fields, faults)) }
            @else { p.quiet { (say.t("stop-may-not")) } }
            section id="answer" aria-label=(say.t("answer")) { (listed(visit, say, &known, fields.get("rules"))) }
        }
    };
    let status = if faults.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok(page::whole(visit, Tab::Event, title, status, &body))
}

/// Day and time of this place.
fn day(time: Option<&prost_types::Timestamp>) -> String {
    let at = time.and_then(|time| jiff::Timestamp::from_second(time.seconds).ok());
    at.map_or_else(String::new, |at| {
        at.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d %H:%M").to_string()
    })
}

fn depths(say: Say<'_>, band: v1::DepthBand) -> String {
    say.speaker().depths(&v1::BandRules { band: Some(band), ..v1::BandRules::default() })
}

/// The rules that there are, newest first, and what can be done with them.
fn listed(visit: &Visit, say: Say<'_>, known: &[v1::ShelterRules], new: &str) -> Markup {
    if known.is_empty() {
        return html! { p.quiet { (say.t("event-none")) } };
    }
    html! {
        h2 { (say.t("event-rules")) }
        @for rules in known {
            @let spec = rules.spec.clone().unwrap_or_default();
            div.panel[id(&rules.name) == new] {
                p {
                    strong { (day(rules.create_time.as_ref())) } " · "
                    (spec.shelters.iter().map(|name| id(name).replace('-', " ")).collect::<Vec<_>>().join(", "))
                    " · " (spec.bands.iter().map(|band| depths(say, *band)).collect::<Vec<_>>().join(", "))
                    " · " (say.f("event-options", &[("count", &rules.options.len().to_string())]))
                }
                div.buttons {
                    a.button href=(format!("/door?rules={}", id(&rules.name))) { (say.t("tab-door")) }
                    @if visit.may_store() {
                        form method="post" action="/event/print" {
                            (mark(visit))
                            input type="hidden" name="rules" value=(rules.name);
                            button type="submit" { (say.t("event-print")) }
                        }
                    }
                }
            }
        }
    }
}

fn form(visit: &Visit, say: Say<'_>, shelf: &Shelf, fields: &Fields, faults: &[(Fault, String)]) -> Markup {
    let fresh = fields.get("lure").is_empty();
    let ticked = |name: &str, value: &str| fresh || fields.all(name).any(|given| given == value);
    let tick = |name: &str, value: &str, shown: &str, on: bool| {
        let key = format!("{name}.{value}");
        html! { p.tick { input type="checkbox" id=(key) name=(name) value=(value) checked[on]; label for=(key) { (shown) } } }
    };
    let unit = say.look.unit.tag();
    let told = |name: &str| html! { @if let Some(fault) = fault_of(faults, name) { p.fault { (fault) } } };
    html! {
        form.question method="post" action="/event" {
            (mark(visit))
            fieldset {
                legend { (say.t("event-depths")) }
                @for at in 1..=BANDS {
                    div.row {
                        @for (name, key) in [("from", "event-from"), ("to", "event-to")] {
                            @let field = format!("{name}.{at}");
                            div.field {
                                label for=(field) { (say.f(key, &[("number", &at.to_string())])) }
                                span.boxed { input id=(field) name=(field) value=(fields.get(&field)) inputmode="decimal" autocomplete="off"; span.unit aria-hidden="true" { (unit) } }
                            }
                        }
                    }
                }
                (told("bands"))
            }
            fieldset {
                legend { (say.t("event-bottoms")) }
                @for (name, _) in BOTTOMS { (tick("bottom", name, say.t(&format!("bottom-{name}")), ticked("bottom", name))) }
            }
            fieldset {
                legend { (say.t("event-shelters")) }
                @for shelter in &shelf.shelters { (tick("shelter", id(&shelter.name), &shelter.display_name, ticked("shelter", id(&shelter.name)))) }
                (told("shelters"))
                div.field {
                    label for="next" { (say.t("event-next")) }
                    span.boxed { input id="next" name="next" value=(fields.get("next")) inputmode="decimal" autocomplete="off"; span.unit aria-hidden="true" { (unit) } }
                    p.small { (say.t("event-next-help")) }
                    (told("next"))
                }
            }
            fieldset {
                legend { (say.t("event-units")) }
                @for sensor in &shelf.sensors { (tick("sensor", id(&sensor.name), &sensor.display_name, ticked("sensor", id(&sensor.name)))) }
                (tick("unlisted", "1", say.t("event-unlisted"), fresh || fields.has("unlisted")))
            }
            div.field {
                label for="lure" { (say.t("lure")) }
                select id="lure" name="lure" {
                    @for lure in shelf.targets_of(v1::TargetKind::Lure) {
                        option value=(id(&lure.name)) selected[id(&lure.name) == fields.get("lure")] { (lure.display_name) }
                    }
                }
            }
            (told(""))
            p.buttons { button.first type="submit" { (say.t("event-compute")) } }
        }
    }
}

/// What the form asks for; each fault of a length with its field.
fn spec(say: Say<'_>, fields: &Fields) -> Result<v1::RulesSpec, Vec<(Fault, String)>> {
    let mut faults = Vec::new();
    let mut metres = |field: &str, at: &str, label: &str| {
        let given = fields.get(field);
        let read = length(given, say.look.unit);
        if read.is_none() {
            let text = say.f("fault-length", &[("given", given)]);
            faults.push((Fault { field: at.to_owned(), text }, label.to_owned()));
        }
        read.unwrap_or_default()
    };
    let mut bands = Vec::new();
    for at in 1..=BANDS {
        let [from, to] = ["from", "to"].map(|name| format!("{name}.{at}"));
        if !fields.get(&from).is_empty() || !fields.get(&to).is_empty() {
            let label = say.t("event-depths");
            bands.push(v1::DepthBand { shallow_m: metres(&from, "bands", label), deep_m: metres(&to, "bands", label) });
        }
    }
    let next_shelter_m = (!fields.get("next").is_empty()).then(|| metres("next", "next", say.t("event-next")));
    let named = |collection: &str, field: &'static str| -> Vec<String> {
        fields.all(field).map(|id| format!("{collection}/{id}")).collect()
    };
    let classes = BOTTOMS.iter().filter(|(name, _)| fields.all("bottom").any(|given| given == *name));
    let spec = v1::RulesSpec {
        shelters: named("shelters", "shelter"),
        options: named("sensors", "sensor"),
        lure: format!("targets/{}", fields.get("lure")),
        bands,
        bottom_classes: classes.map(|(_, class)| i32::from(*class)).collect(),
        next_shelter_m,
        unlisted_units: fields.has("unlisted"),
        ..v1::RulesSpec::default()
    };
    if faults.is_empty() { Ok(spec) } else { Err(faults) }
}

async fn started(visit: &Visit, fields: &Fields) -> Result<Response, Stop> {
    if !visit.may_store() {
        return Err(Stop::MayNot);
    }
    let say = visit.say().ok_or(Stop::NotThere)?;
    match spec(say, fields) {
        Ok(spec) => visit.desk.deriving.start(visit.client.clone(), spec),
        Err(faults) => return page_of(visit, fields, &faults).await,
    }
    // What is refused is refused at once, and belongs to the form.
    match visit.desk.deriving.state().await {
        Ok(State::Done(name)) => Ok(see(&format!("/event?rules={}#answer", id(&name)))),
        Ok(State::Computing { .. } | State::Nothing) => Ok(see("/event/work")),
        Err(Stop::Refused(faults)) => {
            let at = |fault: Fault| {
                let path = fault.field.trim_start_matches("spec.").split(['[', '.']).next().unwrap_or_default();
                let key = match path {
                    "bands" => "event-depths",
                    "shelters" => "event-shelters",
                    "bottom_classes" => "event-bottoms",
                    "options" => "event-units",
                    "next_shelter_m" => "event-next",
                    _ => "",
                };
                let field = if path == "next_shelter_m" { "next" } else { path };
                let label = if key.is_empty() { "" } else { say.t(key) };
                (Fault { field: field.to_owned(), text: fault.text }, label.to_owned())
            };
            page_of(visit, fields, &faults.into_iter().map(at).collect::<Vec<_>>()).await
        }
        Err(stop) => Err(stop),
    }
}

/// The address of what is computed; it can be closed and opened again.
async fn waited(visit: &Visit) -> Result<Response, Stop> {
    let say = visit.say().ok_or(Stop::NotThere)?;
    let since = match visit.desk.deriving.state().await? {
        State::Nothing => return Ok(see("/event")),
        State::Done(name) => return Ok(see(&format!("/event?rules={}#answer", id(&name)))),
        State::Computing { since } => since,
    };
    let body = html! {
        h1 { (say.t("tab-event")) }
        p role="status" { (say.f("event-computing", &[("seconds", &since.as_secs().to_string())])) }
        form.buttons method="post" action="/event/stop" { (mark(visit)) button type="submit" { (say.t("stop")) } }
    };
    let again = html! { meta http-equiv="refresh" content="1"; };
    Ok(page::whole_with(visit, Tab::Event, say.t("tab-event"), StatusCode::OK, &body, &again))
}
