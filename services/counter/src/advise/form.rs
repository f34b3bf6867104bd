//! The form of the question.

use maud::{Markup, html};
use proto::v1;

use super::ask::{BOTTOMS, DEPTHS, SLOPES};
use super::question::{MOST_PLACES, Place, Question};
use super::shelf::{Shelf, id};
use crate::page::fault_of;
use crate::say::{FOOT, Say, Unit};
use crate::stop::Fault;
use crate::visit::Visit;

type Faults<'a> = &'a [(Fault, String)];

/// Heights of weeds to choose from.
const WEEDS_FT: [f64; 6] = [1.0, 2.0, 3.0, 5.0, 8.0, 12.0];
const WEEDS_M: [f64; 6] = [0.3, 0.6, 1.0, 1.5, 2.5, 4.0];

/// One entry of a choice: value, words, whether it means that it is not known.
type Entry = (String, String, bool);

pub(super) fn form(visit: &Visit, say: Say<'_>, question: &Question, shelf: &Shelf, faults: Faults<'_>) -> Markup {
    html! {
        form.question id="question" method="get" action="/advise#answer" data-compute="answer" data-offline=(say.t("offline")) novalidate {
            h2 { (say.t("question")) }
            p.faults id="offline" role="status" hidden {}
            input type="hidden" name="unit" value=(say.look.unit.tag());
            fieldset {
                legend { (say.t("where")) }
                @for (at, place) in question.places.iter().enumerate() {
                    (place_fields(say, question, (at, place), shelf, faults))
                }
                @if question.places.len() < MOST_PLACES {
                    p { a href=(format!("{}&places={}", question.address_in(say.look.unit), question.places.len() + 1)) { (say.t("add-place")) } }
                }
                @if question.places.len() > 1 { input type="hidden" name="places" value=(question.places.len()); }
                datalist id="depths" {
                    @for (word, _) in DEPTHS { option value=(say.t(&format!("depth-{word}"))) {} }
                }
            }
            (whom(say, question, shelf, faults))
            fieldset {
                legend { (say.t("what-for")) }
                div.alone { (choice("uses", say.t("what-for"), &question.uses, &uses(say, shelf), faults)) }
            }
            (money(visit, say, question, shelf, faults))
            (more(say, question, shelf, faults))
            p.buttons {
                button.first type="submit" { (say.t("show")) }
                a.button href="/advise" { (say.t("next-customer")) }
            }
        }
    }
}

fn place_fields(
    say: Say<'_>,
    question: &Question,
    (at, place): (usize, &Place),
    shelf: &Shelf,
    faults: Faults<'_>,
) -> Markup {
    let number = at + 1;
    let stored = shelf.spot(&place.spot);
    let name = |field: &str| format!("{field}.{number}");
    let depth = match stored {
        Some(spot) if place.depth.is_empty() => say.bare_length(spot.depth_m),
        // The unit stands behind the field.
        _ => place.depth.strip_suffix(say.look.unit.tag()).map_or(place.depth.as_str(), str::trim_end).to_owned(),
    };
    let without = question.with(say.look.unit, |q| {
        if at < q.places.len() {
            q.places.remove(at);
        }
    });
    html! {
        div.place role="group" aria-label=(say.f("place-number", &[("number", &number.to_string())])) {
            @if question.places.len() > 1 {
                p.number {
                    (say.f("place-number", &[("number", &number.to_string())])) " · "
                    a href=(without.trim_end_matches("#answer")) { (say.t("remove")) }
                }
            }
            @if !shelf.spots.is_empty() {
                (choice(&name("spot"), say.t("place"), &place.spot, &spots(say, shelf), faults))
            }
            div.row {
                (text(&Text { name: &name("depth"), label: say.t("depth"), value: &depth, unit: say.look.unit.tag(), list: Some("depths") }, faults))
                (choice(&name("bottom"), say.t("bottom"), &place.bottom, &bottoms(say, stored), faults))
                (choice(&name("weeds"), say.t("weeds"), &place.weeds, &weeds(say, stored, &place.weeds), faults))
            }
        }
    }
}

fn whom(say: Say<'_>, question: &Question, shelf: &Shelf, faults: Faults<'_>) -> Markup {
    let mut shelters = vec![(String::new(), say.t("open-ice").to_owned(), false)];
    shelters.extend(shelf.shelters.iter().map(|s| (id(&s.name).to_owned(), s.display_name.clone(), false)));
    let people = match shelf.shelter(&question.shelter) {
        Some(shelter) if question.people.is_empty() => shelter_people(shelter).to_string(),
        None if question.people.is_empty() => "1".to_owned(),
        Some(_) | None => question.people.clone(),
    };
    html! {
        fieldset {
            legend { (say.t("with-whom")) }
            div.row {
                (choice("shelter", say.t("shelter"), &question.shelter, &shelters, faults))
                (text(&Text { name: "people", label: say.t("people"), value: &people, unit: "", list: None }, faults))
                (choice("others", say.t("others"), &question.others, &others(say, shelf), faults))
            }
        }
    }
}

/// What the others in a shelter may have.
pub(super) fn others(say: Say<'_>, shelf: &Shelf) -> Vec<Entry> {
    let words = [("", "unknown", true), ("same", "others-same", false)];
    let mut all: Vec<Entry> =
        words.map(|(value, key, quiet)| (value.to_owned(), say.t(key).to_owned(), quiet)).to_vec();
    all.extend(shelf.sensors.iter().map(|s| (id(&s.name).to_owned(), s.display_name.clone(), false)));
    all
}

fn shelter_people(shelter: &v1::Shelter) -> usize {
    let party = usize::try_from(shelter.party_size).unwrap_or(1);
    if shelter.holes.is_empty() { party.max(1) } else { shelter.holes.len() }
}

fn money(visit: &Visit, say: Say<'_>, question: &Question, shelf: &Shelf, faults: Faults<'_>) -> Markup {
    let currency = shelf.currency().unwrap_or(visit.shop.currency(say.look.unit));
    let mut owned = vec![(String::new(), say.t("nothing").to_owned(), false)];
    owned.extend(shelf.sensors.iter().map(|s| (id(&s.name).to_owned(), s.display_name.clone(), false)));
    html! {
        fieldset {
            legend { (say.t("money")) }
            div.row {
                (text(&Text { name: "most", label: say.t("most"), value: &question.most, unit: currency, list: None }, faults))
                (choice("owned", say.t("owned"), &question.owned, &owned, faults))
            }
        }
    }
}

fn more(say: Say<'_>, question: &Question, shelf: &Shelf, faults: Faults<'_>) -> Markup {
    let of = |kind: v1::TargetKind, key: &str| {
        let mut all = vec![(String::new(), say.t(key).to_owned(), true)];
        all.extend(shelf.targets_of(kind).map(|t| (id(&t.name).to_owned(), t.display_name.clone(), false)));
        all
    };
    let (lures, fishes) = (of(v1::TargetKind::Lure, "small-jig"), of(v1::TargetKind::Fish, "perch-size"));
    let mut slopes = vec![(String::new(), say.t("unknown").to_owned(), true)];
    slopes.extend(SLOPES.map(|(word, _)| (word.to_owned(), say.t(&format!("slope-{word}")).to_owned(), false)));
    let chosen = |all: &[Entry], value: &str| {
        all.iter().find(|(known, ..)| known == value).map(|(_, words, _)| words.clone()).unwrap_or_default()
    };
    let said =
        say.f("more-said", &[("lure", &chosen(&lures, &question.lure)), ("fish", &chosen(&fishes, &question.fish))]);
    let several = question.places.len() > 1;
    let opened = ["slope", "water", "lure", "fish"].iter().any(|field| fault_of(faults, field).is_some());
    html! {
        details.more open[opened || !(question.slope.is_empty() && question.water.is_empty())] {
            summary { strong { (say.t("more")) } " " span.small { (said) } }
            div.row {
                (choice("lure", say.t("lure"), &question.lure, &lures, faults))
                (choice("fish", say.t("fish"), &question.fish, &fishes, faults))
            }
            div.row {
                (choice("slope", say.t("slope"), &question.slope, &slopes, faults))
                (text(&Text { name: "water", label: say.t("water"), value: &question.water, unit: "°C", list: None }, faults))
            }
            @if several {
                div.row {
                    @for (at, place) in question.places.iter().enumerate() {
                        @let label = say.f("days-at", &[("number", &(at + 1).to_string())]);
                        (text(&Text { name: &format!("days.{}", at + 1), label: &label, value: &place.days, unit: say.t("days-unit"), list: None }, faults))
                    }
                }
            }
        }
    }
}

/// What it is for: in common words, or a stored goal by its whole name.
pub(super) fn uses(say: Say<'_>, shelf: &Shelf) -> Vec<Entry> {
    let mut all = [("", "uses-both"), ("search", "uses-search"), ("watch", "uses-watch")]
        .map(|(value, key)| (value.to_owned(), say.t(key).to_owned(), false))
        .to_vec();
    all.extend(shelf.goals.iter().map(|goal| (goal.name.clone(), goal.display_name.clone(), false)));
    all
}

fn spots(say: Say<'_>, shelf: &Shelf) -> Vec<Entry> {
    let mut all = vec![(String::new(), say.t("own-place").to_owned(), false)];
    all.extend(shelf.spots.iter().map(|spot| {
        let lake = if spot.lake.is_empty() { String::new() } else { format!(", {}", spot.lake) };
        (id(&spot.name).to_owned(), format!("{}{lake}", spot.display_name), false)
    }));
    all
}

pub(super) fn bottoms(say: Say<'_>, stored: Option<&v1::Spot>) -> Vec<Entry> {
    let mut all = match stored {
        Some(spot) => vec![
            (String::new(), say.f("as-stored", &[("value", &bottom(say, spot.bottom_class()))]), false),
            ("unknown".to_owned(), say.t("unknown").to_owned(), true),
        ],
        None => vec![(String::new(), say.t("unknown").to_owned(), true)],
    };
    all.extend(BOTTOMS.map(|(word, _)| (word.to_owned(), say.t(&format!("bottom-{word}")).to_owned(), false)));
    all
}

/// A bottom in the words of the reports.
pub(crate) fn bottom(say: Say<'_>, class: v1::BottomClass) -> String {
    if class == v1::BottomClass::Unspecified {
        return say.t("bottom-not-known").to_owned();
    }
    let name = class.as_str_name().trim_start_matches("BOTTOM_CLASS_").to_lowercase().replace('_', "-");
    say.report(&format!("part-{name}"))
}

pub(super) fn weeds(say: Say<'_>, stored: Option<&v1::Spot>, chosen: &str) -> Vec<Entry> {
    let unknown = ("unknown".to_owned(), say.t("unknown").to_owned(), true);
    let mut all = match stored {
        Some(spot) => {
            let there = match &spot.canopy {
                Some(canopy) => some(say, canopy.height_m),
                None => say.t(if spot.canopy_unknown { "unknown" } else { "weeds-none" }).to_owned(),
            };
            vec![(String::new(), say.f("as-stored", &[("value", &there)]), false), unknown]
        }
        None => vec![(String::new(), say.t("unknown").to_owned(), true)],
    };
    all.push(("none".to_owned(), say.t("weeds-none").to_owned(), false));
    let heights = match say.look.unit {
        Unit::Feet => WEEDS_FT.map(|feet| feet * FOOT),
        Unit::Metres => WEEDS_M,
    };
    all.extend(heights.map(|height| (format!("{height:.4}"), some(say, height), false)));
    // A height that was chosen in the other unit stays what it is.
    if let Ok(height) = chosen.parse::<f64>()
        && !all.iter().any(|(value, ..)| value == chosen)
    {
        all.push((chosen.to_owned(), some(say, height), false));
    }
    all
}

fn some(say: Say<'_>, height_m: f64) -> String {
    say.f("weeds-some", &[("height", &say.length(height_m))])
}

/// A field to type in.
struct Text<'a> {
    name: &'a str,
    label: &'a str,
    value: &'a str,
    /// Unit inside the field; may be empty.
    unit: &'a str,
    list: Option<&'a str>,
}

fn text(field: &Text<'_>, faults: Faults<'_>) -> Markup {
    let fault = fault_of(faults, field.name);
    let help = format!("{}-fault", field.name);
    html! {
        div.field {
            label for=(field.name) { (field.label) }
            span.boxed {
                input id=(field.name) name=(field.name) value=(field.value) list=[field.list] autocomplete="off"
                    aria-invalid=[fault.as_ref().map(|_| "true")] aria-describedby=[fault.as_ref().map(|_| help.as_str())];
                @if !field.unit.is_empty() { span.unit { (field.unit) } }
            }
            @if let Some(fault) = &fault { p.fault id=(help) { (fault) } }
        }
    }
}

/// A field to choose from.
fn choice(name: &str, label: &str, value: &str, entries: &[Entry], faults: Faults<'_>) -> Markup {
    let fault = fault_of(faults, name);
    let help = format!("{name}-fault");
    let unknown = entries.iter().any(|(known, _, unknown)| *unknown && known == value);
    html! {
        div.field {
            label for=(name) { (label) }
            select.unknown[unknown] id=(name) name=(name) aria-invalid=[fault.as_ref().map(|_| "true")]
                aria-describedby=[fault.as_ref().map(|_| help.as_str())] {
                @for (known, words, unknown) in entries {
                    option.unknown[*unknown] value=(known) selected[known == value] { (words) }
                }
            }
            @if let Some(fault) = &fault { p.fault id=(help) { (fault) } }
        }
    }
}
