//! Rules in words.

use acoustics::units::Metres;

use super::super::{MAX_NAME, MAX_READING, Sentence};
use super::{Band, Depths, Mix, Rule, Rules, Sheet};
use crate::clean::clean;
use crate::wording::Wording;

/// How far it is looked for other shelters, m.
const LOOKED: f64 = 40.0;

pub(super) fn depths(band: &Depths, say: Wording<'_>) -> String {
    let short = |metres: f64| say.short(Metres::new(metres));
    format!("{}–{} {}", short(band.shallow_m), short(band.deep_m), say.unit())
}

pub(super) fn option_name(rules: &Rules, option: usize, say: Wording<'_>) -> String {
    let Some(known) = rules.options.get(option) else { return String::new() };
    let Some(class) = &known.unlisted else {
        return super::super::option_name(&known.sensor_display_name, &known.beam, say);
    };
    let khz = match (class.lowest_khz, class.highest_khz) {
        (low, high) if low <= 0.0 => say.say("unlisted-under", [("high", say.number(high, 0))]),
        (low, high) if high <= 0.0 => say.say("unlisted-over", [("low", say.number(low, 0))]),
        (low, high) => say.say("unlisted-between", [("low", say.number(low, 0)), ("high", say.number(high, 0))]),
    };
    let [narrow, wide] = [class.narrowest_deg, class.widest_deg].map(|degrees| say.number(degrees, 0));
    say.say("unlisted", [("narrow", narrow), ("wide", wide), ("khz", khz)])
}

/// What the rules hold for.
pub(super) fn holds(rules: &Rules, sheet: &Sheet, say: Wording<'_>) -> Vec<String> {
    let both = |metres: f64| say.both(Metres::new(metres));
    let spec = &rules.spec;
    let mut lines = Vec::new();
    if let Some(lure) = spec.lure.strip_prefix("targets/") {
        lines.push(say.say("holds-lure", [("lure", clean(&lure.replace('-', " "), MAX_NAME))]));
    }
    if !spec.bottom_classes.is_empty() {
        let names: Vec<_> =
            spec.bottom_classes.iter().map(|class| clean(&say.word(&bottom_key(class)), MAX_NAME)).collect();
        lines.push(say.say("holds-bottoms", [("bottoms", names.join(", "))]));
    }
    if sheet.shelter.hole_radius_m > 0.0 {
        lines.push(say.say("holds-holes", [("across", both(2.0 * sheet.shelter.hole_radius_m))]));
    }
    let tolerance = spec.interference_tolerance.unwrap_or(0.02);
    lines.push(say.say("holds-tolerance", [("share", say.percent(tolerance))]));
    lines.push(super::floor::next_shelter(spec.next_shelter_m, say));
    lines.extend(sheet.bands.iter().map(|band| {
        let depth = ("depth", depths(&band.band, say));
        match band.holds_beyond_m {
            None => say.say("next-further", [depth, ("distance", both(LOOKED))]),
            Some(clear) if clear > 0.0 => say.say("next-within", [depth, ("distance", both(clear))]),
            Some(_) => say.say("next-never", [depth]),
        }
    }));
    lines
}

/// Where to start and where never to go above, as a cell of a table holds it.
pub(super) fn setting(rule: &Rule, say: Wording<'_>) -> String {
    let (Some(start), Some(highest)) = (&rule.start, &rule.highest) else {
        // A document of an earlier version.
        let [start, highest] = [(&rule.start_dial, rule.start_gain_db), (&rule.highest_dial, rule.highest_gain_db)]
            .map(|(reading, gain)| super::super::dial(reading, gain, say));
        return say.say("cell-at", [("start", start), ("highest", highest)]);
    };
    let figure = |said: &Sentence| {
        let part = said.parts.iter().find_map(|part| part.figure.as_ref());
        part.map(|text| say.figures(text, MAX_READING)).unwrap_or_default()
    };
    let (at, most) = (figure(start), figure(highest));
    let free = matches!(highest.key.as_str(), "setting-no-limit" | "setting-alone");
    match start.key.as_str() {
        "setting-at" if free => say.say("cell-open", [("start", at)]),
        "setting-at" if at == most => say.say("cell-leave", [("start", at)]),
        "setting-at" => say.say("cell-at", [("start", at), ("highest", most)]),
        _ if free => say.word("cell-lure-open"),
        "setting-start-leave" => say.word("cell-lure-leave"),
        _ => say.say("cell-lure", [("room", most)]),
    }
}

/// What may be mixed, in full, by the numbers of the rows: the shorter one of what may and what may not.
pub(super) fn mixing(sheet: &Sheet, band: &Band, say: Wording<'_>) -> Option<String> {
    let allowed: Vec<usize> = band.rules.iter().filter(|rule| rule.allowed).map(|rule| rule.option).collect();
    if sheet.people < 2 || allowed.len() < 2 {
        return None;
    }
    let depth = ("depth", depths(&band.band, say));
    let may = |(a, b): &(usize, usize)| band.mixes.iter().any(|Mix { first, second }| (first, second) == (a, b));
    let pairs = allowed.iter().enumerate().flat_map(|(i, a)| allowed.iter().skip(i + 1).map(move |b| (*a, *b)));
    let (permitted, forbidden): (Vec<_>, Vec<_>) = pairs.partition(may);
    let listed = |pairs: &[(usize, usize)]| {
        let of_one = pairs.chunk_by(|one, next| one.0 == next.0).filter_map(|chunk| {
            let others: Vec<_> = chunk.iter().map(|(_, other)| (other + 1).to_string()).collect();
            let first = (chunk.first()?.0 + 1).to_string();
            Some(say.say("mixing-pair", [("first", first), ("others", others.join(", "))]))
        });
        ("pairs", of_one.collect::<Vec<_>>().join("; "))
    };
    Some(match (permitted.as_slice(), forbidden.as_slice()) {
        ([], _) => say.say("mixing-none", [depth]),
        (_, []) => say.say("mixing-all", [depth]),
        (few, many) if few.len() <= many.len() => say.say("mixing-only", [depth, listed(few)]),
        (_, few) => say.say("mixing-but", [depth, listed(few)]),
    })
}

pub(super) fn help(rules: &Rules, band: &Band, say: Wording<'_>) -> Option<String> {
    let help = band.help.as_ref()?;
    let depth = ("depth", depths(&band.band, say));
    let option = ("option", option_name(rules, help.option, say));
    Some(match help.kind.as_str() {
        "RULE_HELP_KIND_CONFIRM_MARKS" => {
            let (marks, pings) = (help.marks.to_string(), help.pings.to_string());
            say.say("help-confirm-marks", [depth, option, ("marks", marks), ("pings", pings)])
        }
        "RULE_HELP_KIND_LOWER_GAIN" => say.say("help-lower-gain", [depth, option, ("lower", say.db(help.lower_db, 0))]),
        "RULE_HELP_KIND_FEWER_PEOPLE" => {
            say.say("help-fewer-people", [depth, option, ("people", help.people.to_string())])
        }
        "RULE_HELP_KIND_FARTHER_SHELTERS" => match help.clear_m {
            Some(clear) => say.say("help-farther-shelters", [depth, ("distance", say.both(Metres::new(clear)))]),
            None => say.say("help-farthest-shelters", [depth, ("distance", say.both(Metres::new(LOOKED)))]),
        },
        _ => say.say("help-other-options", [depth]),
    })
}

/// What sets the highest gain.
pub(super) fn limit(rule: &Rule, say: Wording<'_>) -> String {
    match rule.limiting_depth_m {
        None => say.word("limit-dial-end"),
        Some(depth) => {
            let bottom = clean(&say.word(&bottom_key(&rule.limiting_bottom)), MAX_NAME);
            say.say("limit-at", [("depth", say.metres(depth)), ("bottom", bottom)])
        }
    }
}

/// `9:30 (24 dB)`; a gain alone where no position is known.
pub(super) fn with_gain(reading: &str, gain: f64, say: Wording<'_>) -> String {
    let gain = say.db(gain, 0);
    if reading.is_empty() { gain } else { format!("{} ({gain})", say.figures(reading, MAX_READING)) }
}

/// `BOTTOM_CLASS_SOFT_MUD` becomes `bottom-soft-mud`.
fn bottom_key(class: &str) -> String {
    let class = class.strip_prefix("BOTTOM_CLASS_").unwrap_or(class);
    format!("bottom-{}", class.replace('_', "-").to_lowercase())
}

pub(super) fn why(rule: &Rule, say: Wording<'_>) -> String {
    let missing = ("missing", say.db(rule.missing_db, 0));
    match rule.refusal.as_str() {
        "RULE_REFUSAL_GAIN_BEYOND_DIAL" => {
            say.say("refusal-gain-beyond-dial", [missing, ("depth", say.metres(rule.start_depth_m))])
        }
        "RULE_REFUSAL_NEIGHBOURS_BEFORE_LURE" => say.say("refusal-neighbours-before-lure", [missing]),
        "RULE_REFUSAL_NEIGHBOURS_ALWAYS" => say.word("refusal-neighbours-always"),
        _ => String::new(),
    }
}
