//! The answer: what to take, what it costs against what it is worth, and how it is set.

use std::collections::BTreeSet;

use maud::{Markup, PreEscaped, html};
use proto::v1;

use super::ask::{self, BOTTOMS, DEPTHS};
use super::chart;
use super::question::Question;
use super::shelf::Shelf;
use crate::page::mark;
use crate::say::Say;
use crate::visit::Visit;

/// Assumptions that are told at once; the others stand behind a click.
const FIRST_ASSUMPTIONS: usize = 4;

/// The question again, above its answer on a telephone.
pub(super) fn asked(say: Say<'_>, question: &Question, shelf: &Shelf) -> Markup {
    let mut said: Vec<String> = Vec::new();
    for place in &question.places {
        let stored = shelf.spot(&place.spot);
        let depth = match stored {
            Some(spot) if place.depth.is_empty() => say.length(spot.depth_m),
            _ => place.depth.clone(),
        };
        let bottom = BOTTOMS.iter().find(|(word, _)| *word == place.bottom);
        let bottom = bottom.map_or_else(
            || say.t("bottom-not-known").to_owned(),
            |(word, _)| say.t(&format!("bottom-{word}")).to_owned(),
        );
        said.push(
            stored.map_or_else(|| format!("{depth}, {bottom}"), |spot| format!("{}, {depth}", spot.display_name)),
        );
    }
    said.extend(shelf.shelter(&question.shelter).map(|shelter| shelter.display_name.clone()));
    if !question.most.is_empty() {
        said.push(say.f("to-money", &[("amount", &question.most)]));
    }
    html! { p.asked { (said.join(" · ")) " " a href="#question" { (say.t("change")) } } }
}

pub(super) fn answer(
    visit: &Visit,
    say: Say<'_>,
    question: &Question,
    shelf: &Shelf,
    answer: &v1::Recommendation,
) -> Markup {
    let advised = answer.sensors.iter().find(|s| !answer.sensor.is_empty() && s.sensor == answer.sensor);
    html! {
        (panel(visit, say, question, answer, advised))
        @if answer.sensors.iter().any(|s| s.price.is_some()) {
            section.value {
                h3 { (say.report("price-value")) }
                (PreEscaped(chart::chart(say, question, shelf, answer, chart::Width::Wide)))
                (PreEscaped(chart::chart(say, question, shelf, answer, chart::Width::Narrow)))
            }
        }
        @if let Some(advised) = advised { (settings(say, answer, &advised.display_name)) }
        (assumptions(say, question, shelf, answer))
        (candidates(say, answer))
    }
}

fn panel(
    visit: &Visit,
    say: Say<'_>,
    question: &Question,
    answer: &v1::Recommendation,
    advised: Option<&v1::SensorWorth>,
) -> Markup {
    let text = answer.text.clone().unwrap_or_default();
    let told = |sentences: &[v1::Sentence]| sentences.iter().map(|s| say.sentence(s)).collect::<Vec<_>>().join(" ");
    let headline = text.headline.as_ref().map(|s| say.sentence(s)).unwrap_or_default();
    let price = advised.filter(|s| !s.owned).and_then(|s| s.price.as_ref()).map(|price| say.money(price));
    let standing = text.standing.as_ref().map(|s| say.sentence(s)).unwrap_or_default();
    html! {
        div.panel {
            div.headline {
                h2 { (headline.trim_end_matches('.')) }
                @if let Some(sure) = sure(say, answer.firmness()) { span.badge { (sure) } }
                @if let Some(price) = price { span.price { (price) } }
            }
            p { (standing) " " (told(&text.works)) }
            @if !text.money.is_empty() { p { (told(&text.money)) } }
            @if let Some(settling) = &text.settling {
                p.settling { (say.sentence(settling)) }
                (tries(say, question, answer))
            }
            @if !text.notes.is_empty() { p.small { (told(&text.notes)) } }
            @if visit.may_store() { (buttons(visit, say, question)) } @else { p.small { (say.t("stop-may-not")) } }
        }
    }
}

pub(super) fn sure(say: Say<'_>, firmness: v1::Firmness) -> Option<String> {
    let key = match firmness {
        v1::Firmness::Unspecified => return None,
        v1::Firmness::Firm => "sure-firm",
        v1::Firmness::Likely => "sure-likely",
        v1::Firmness::TossUp | v1::Firmness::TooLittleKnown => "sure-toss-up",
    };
    Some(say.report(key))
}

/// What would settle it, as links that set the field and answer.
fn tries(say: Say<'_>, question: &Question, answer: &v1::Recommendation) -> Markup {
    let Some(at) = ask::place_number(&answer.settling_spot).map(|number| number - 1) else { return html! {} };
    let entries: Vec<(String, String)> = match answer.settling_unknown.as_str() {
        "BOTTOM" => {
            BOTTOMS.iter().take(3).map(|(w, _)| ((*w).to_owned(), say.t(&format!("bottom-{w}")).to_owned())).collect()
        }
        "DEPTH" => DEPTHS
            .iter()
            .map(|(w, _)| (say.t(&format!("depth-{w}")).to_owned(), say.t(&format!("depth-{w}")).to_owned()))
            .collect(),
        "PLANTS" => {
            vec![("none".to_owned(), say.t("weeds-none").to_owned()), ("0.9144".to_owned(), say.length(0.9144))]
        }
        _ => Vec::new(),
    };
    let unknown = answer.settling_unknown.clone();
    let address = |value: &str| {
        question.with(say.look.unit, |q| {
            if let Some(place) = q.places.get_mut(at) {
                let slot = match unknown.as_str() {
                    "BOTTOM" => &mut place.bottom,
                    "DEPTH" => &mut place.depth,
                    _ => &mut place.weeds,
                };
                value.clone_into(slot);
            }
        })
    };
    html! {
        @if !entries.is_empty() {
            p.tries {
                (say.t("try"))
                @for (value, words) in &entries { " " a.chip href=(address(value)) { (words) } }
            }
        }
    }
}

fn buttons(visit: &Visit, say: Say<'_>, question: &Question) -> Markup {
    html! {
        form.buttons method="post" action="/advise/keep" {
            (mark(visit))
            input type="hidden" name="question" value=(question.fields(say.look.unit).written());
            button.first type="submit" name="then" value="customer-sheet" { (say.t("print-sheet")) }
            button type="submit" name="then" value="" { (say.t("keep-later")) }
            button type="submit" name="then" value="comparison" { (say.t("full-comparison")) }
        }
    }
}

/// How the advised sensor is set: a row a place, and one a use where the switch is turned between them.
fn settings(say: Say<'_>, answer: &v1::Recommendation, sensor: &str) -> Markup {
    html! {
        section {
            h3 { (say.f("how-to-set", &[("sensor", sensor)])) }
            table.cards {
                thead { tr {
                    th scope="col" { (say.t("place")) }
                    th scope="col" { (say.report("col-switch")) }
                    th scope="col" { (say.t("start")) }
                    th scope="col" { (say.t("never-above")) }
                    th scope="col" { (say.report("col-shows")) }
                    th scope="col" { (say.report("col-watch-out")) }
                } }
                tbody {
                    @for uses in answer.places.chunk_by(|a, b| a.spot == b.spot) { (place_rows(say, uses)) }
                }
            }
            p { strong { (say.t("check-on-ice")) } " " (say.t("check-on-ice-how")) }
        }
    }
}

fn place_rows(say: Say<'_>, uses: &[v1::PlaceSetting]) -> Markup {
    let alike = uses.iter().all(|one| uses.first().is_some_and(|first| first.option == one.option));
    // Of uses that share a switch position, one that does not work is told.
    let worst = uses.iter().find(|one| !one.works).or(uses.first());
    let told: Vec<&v1::PlaceSetting> = if alike { worst.into_iter().collect() } else { uses.iter().collect() };
    html! { @for place in told { (place_row(say, place, !alike)) } }
}

fn place_row(say: Say<'_>, place: &v1::PlaceSetting, purpose: bool) -> Markup {
    let said = |sentence: &Option<v1::Sentence>| sentence.as_ref().map(|s| say.sentence(s)).unwrap_or_default();
    let radius = place.finding.as_ref().and_then(|f| f.criteria.as_ref()).map(|c| c.coverage_radius_m);
    let shows = radius.filter(|_| place.works).map(|radius| say.f("shows", &[("radius", &say.length(radius))]));
    let watch_out: Vec<String> = place.watch_out.iter().map(|s| say.sentence(s)).collect();
    html! {
        tr {
            th scope="row" {
                (place.display_name)
                @if purpose { " " span.small { (purpose_of(say, place)) } }
            }
            td data-label=(say.report("col-switch")) { strong { (say.figure(&place.option_name)) } }
            td data-label=(say.t("start")) { strong { (said(&place.start)) } }
            td data-label=(say.t("never-above")) { strong { (said(&place.highest)) } }
            td data-label=(say.report("col-shows")) { (shows.unwrap_or_default()) }
            td data-label=(say.report("col-watch-out")) {
                @if watch_out.is_empty() { (say.report("watch-nothing")) } @else { (watch_out.join(" ")) }
            }
        }
    }
}

/// A use in two words; one of the user's own by its title.
fn purpose_of(say: Say<'_>, place: &v1::PlaceSetting) -> String {
    if !place.custom_goal.is_empty() {
        return place.goal_title.clone();
    }
    let key = match place.goal() {
        v1::Goal::Unspecified | v1::Goal::WatchLure => "use-watch-lure",
        v1::Goal::Search => "use-search",
        v1::Goal::School => "use-school",
        v1::Goal::WeedEdge => "use-weed-edge",
    };
    say.report(key).to_owned()
}

fn assumptions(say: Say<'_>, question: &Question, shelf: &Shelf, answer: &v1::Recommendation) -> Markup {
    let own = ask::assumed(say, question, shelf);
    let findings = answer.places.iter().filter_map(|place| place.finding.as_ref());
    let of_records: BTreeSet<String> = findings
        .flat_map(|f| &f.assumptions)
        .filter_map(|a| a.text_sentence.as_ref())
        .map(|told| say.sentence(told))
        .collect();
    let first: Vec<&str> = own.iter().map(String::as_str).take(FIRST_ASSUMPTIONS).collect();
    let all = own.len() + of_records.len();
    html! {
        @if all > 0 {
            details.assumed {
                summary {
                    em { (say.f("assumed", &[("what", &first.join("; "))])) } " "
                    span.link { (say.f("all-of-them", &[("count", &say.whole(all))])) }
                }
                ul {
                    @for one in &own { li { (one) } }
                    @for one in &of_records { li { (one) } }
                }
            }
        }
    }
}

fn candidates(say: Say<'_>, answer: &v1::Recommendation) -> Markup {
    let drawn = answer.draws > 0;
    html! {
        details.candidates {
            summary { (say.report("candidates")) " " span.small { (say.whole(answer.sensors.len())) } }
            table.cards {
                thead { tr {
                    th scope="col" { (say.t("sensor")) }
                    th.figure scope="col" { (say.t("price")) }
                    th.figure scope="col" { (say.report("col-points")) }
                    th.figure scope="col" { (say.report("col-works")) }
                    th.figure scope="col" { (say.report("col-right")) }
                    th scope="col" { (say.t("remark")) }
                } }
                tbody {
                    @for s in &answer.sensors {
                        tr {
                            th scope="row" { (s.display_name) }
                            td.figure data-label=(say.t("price")) { (s.price.as_ref().map(|p| say.money(p)).unwrap_or_default()) }
                            td.figure data-label=(say.report("col-points")) { (say.number(100.0 * s.value, 0)) }
                            td.figure data-label=(say.report("col-works")) { (say.number(100.0 * s.works_share, 0)) " %" }
                            td.figure data-label=(say.report("col-right")) {
                                @if drawn && s.affordable { (say.f("of-hundred", &[("count", &say.number(100.0 * s.best_share, 0))])) }
                            }
                            td data-label=(say.t("remark")) { (remark(say, s)) }
                        }
                    }
                }
            }
        }
    }
}

fn remark(say: Say<'_>, sensor: &v1::SensorWorth) -> String {
    match (sensor.owned, sensor.affordable, sensor.efficient) {
        (true, _, _) => say.report("candidate-owned"),
        (false, false, _) if sensor.price.is_none() => say.report("candidate-no-price"),
        (false, false, _) => say.report("candidate-too-dear"),
        (false, true, true) => say.t("efficient").to_owned(),
        (false, true, false) => String::new(),
    }
}
