//! What has changed since the answer before: the one sentence that a clerk needs after every change.

use maud::{Markup, html};
use proto::v1;

use super::form::{bottoms, others, uses, weeds};
use super::question::{OF_PLACE, Place, Question, WHOLE};
use super::sheet::sure;
use super::shelf::Shelf;
use crate::say::Say;
use crate::visit::Visit;

pub(super) fn sentence(visit: &Visit, say: Say<'_>, question: &Question, shelf: &Shelf) -> Markup {
    let (Some(before), Some(last)) = (visit.desk.work.before(), visit.desk.work.last()) else { return html! {} };
    if last.question != *question || before.question == *question {
        return html! {};
    }
    let changes = changes(say, &before.question, question, shelf);
    let Some((what, from, to)) = changes.first() else { return html! {} };
    let others = changes.len() - 1;
    html! {
        p.changed data-live {
            (say.t("changed")) " " strong { (what) } ": " (from) " → " (to)
            @if others > 0 { (say.f("changed-more", &[("count", &say.whole(others))])) }
            ". " (say.f("changed-before", &[("advice", &short(say, &before.answer))]))
            " " (say.f("changed-now", &[("advice", &short(say, &last.answer))]))
            " " a href=(format!("{}#answer", before.question.address_in(say.look.unit))) { (say.t("undo")) }
        }
    }
}

/// `Birch 24/11, likely`.
fn short(say: Say<'_>, answer: &v1::Recommendation) -> String {
    let name = answer.sensors.iter().find(|s| s.sensor == answer.sensor && !answer.sensor.is_empty());
    let name = name.map_or_else(|| say.t("nothing").to_owned(), |s| s.display_name.clone());
    sure(say, answer.firmness()).map_or(name.clone(), |sure| format!("{name}, {sure}"))
}

type Change = (String, String, String);

fn changes(say: Say<'_>, before: &Question, now: &Question, shelf: &Shelf) -> Vec<Change> {
    let mut all = Vec::new();
    let several = before.places.len().max(now.places.len()) > 1;
    let empty = Place::default();
    for at in 0..before.places.len().max(now.places.len()) {
        let (old, new) = (before.places.get(at).unwrap_or(&empty), now.places.get(at).unwrap_or(&empty));
        for (field, get, _) in OF_PLACE {
            if get(old) != get(new) {
                let key = if field == "spot" { "place" } else { field };
                let label = if several {
                    say.f("field-of-place", &[("field", &lower(say, say.t(key))), ("number", &(at + 1).to_string())])
                } else {
                    lower(say, say.t(key))
                };
                all.push((label, of_place(say, field, old, shelf), of_place(say, field, new, shelf)));
            }
        }
    }
    for (field, get, _) in WHOLE {
        if get(before) != get(now) {
            let key = if field == "uses" { "what-for" } else { field };
            let told = |question| of_whole(say, field, get(question), shelf);
            all.push((lower(say, say.t(key)), told(before), told(now)));
        }
    }
    all
}

/// A label within a sentence: German nouns keep their capital.
fn lower(say: Say<'_>, label: &str) -> String {
    if say.look.language == "en" { label.to_lowercase() } else { label.to_owned() }
}

fn of_place(say: Say<'_>, field: &str, place: &Place, shelf: &Shelf) -> String {
    let stored = shelf.spot(&place.spot);
    let from = |entries: Vec<(String, String, bool)>, value: &str| {
        entries.into_iter().find(|(known, ..)| known == value).map_or_else(|| value.to_owned(), |(_, words, _)| words)
    };
    match field {
        "spot" => stored.map_or_else(|| say.t("own-place").to_owned(), |spot| spot.display_name.clone()),
        "bottom" => from(bottoms(say, stored), &place.bottom),
        "weeds" => from(weeds(say, stored, &place.weeds), &place.weeds),
        "depth" => or_none(say, &place.depth),
        _ => or_none(say, &place.days),
    }
}

fn of_whole(say: Say<'_>, field: &str, value: &str, shelf: &Shelf) -> String {
    let name = match field {
        "shelter" if value.is_empty() => Some(say.t("open-ice").to_owned()),
        "shelter" => shelf.shelter(value).map(|s| s.display_name.clone()),
        "others" => others(say, shelf).into_iter().find(|(known, ..)| known == value).map(|(_, words, _)| words),
        "owned" if value.is_empty() => Some(say.t("nothing").to_owned()),
        "owned" => shelf.sensor(value).map(|s| s.display_name.clone()),
        "lure" if value.is_empty() => Some(say.t("small-jig").to_owned()),
        "fish" if value.is_empty() => Some(say.t("perch-size").to_owned()),
        "lure" | "fish" => shelf.target(value).map(|t| t.display_name.clone()),
        "uses" => uses(say, shelf).into_iter().find(|(known, ..)| known == value).map(|(_, words, _)| words),
        "slope" if value.is_empty() => Some(say.t("unknown").to_owned()),
        "slope" => Some(say.t(&format!("slope-{value}")).to_owned()),
        _ => None,
    };
    name.unwrap_or_else(|| or_none(say, value))
}

fn or_none(say: Say<'_>, value: &str) -> String {
    if value.is_empty() { say.t("not-said").to_owned() } else { value.to_owned() }
}
