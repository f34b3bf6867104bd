//! Rules in words.

use acoustics::units::Metres;
use proto::v1::sentence_part::Value;
use proto::v1::{
    BandRules, BottomClass, Mix, Rule, RuleHelpKind, RuleRefusal, Sentence, Shelter, ShelterRules, ShelterSheet,
};

use crate::clean::clean;
use crate::document::told::{self, MAX_NAME, MAX_READING, dial};
use crate::wording::Wording;

/// How far it is looked for other shelters, m.
const LOOKED: f64 = 40.0;

pub(super) fn depths(band: &BandRules, say: Wording<'_>) -> String {
    let depths = band.band.unwrap_or_default();
    let short = |metres: f64| say.short(Metres::new(metres));
    format!("{}–{} {}", short(depths.shallow_m), short(depths.deep_m), say.unit())
}

pub(super) fn option_name(rules: &ShelterRules, option: u32, say: Wording<'_>) -> String {
    let known = usize::try_from(option).ok().and_then(|option| rules.options.get(option));
    let Some(known) = known else { return String::new() };
    let Some(class) = &known.unlisted else {
        return told::option_name(&known.sensor_display_name, &known.beam, say);
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
pub(super) fn holds(rules: &ShelterRules, sheet: &ShelterSheet, shelter: &Shelter, say: Wording<'_>) -> Vec<String> {
    let both = |metres: f64| say.both(Metres::new(metres));
    let mut lines = Vec::new();
    let Some(spec) = &rules.spec else { return lines };
    if let Some(lure) = spec.lure.strip_prefix("targets/") {
        lines.push(say.say("holds-lure", [("lure", clean(&lure.replace('-', " "), MAX_NAME))]));
    }
    if !spec.bottom_classes.is_empty() {
        let names: Vec<_> = spec.bottom_classes().map(|class| say.word(&bottom_key(class))).collect();
        lines.push(say.say("holds-bottoms", [("bottoms", names.join(", "))]));
    }
    if let Some(radius) = shelter.hole_radius_m {
        lines.push(say.say("holds-holes", [("across", both(2.0 * radius))]));
    }
    let tolerance = spec.interference_tolerance.unwrap_or(0.02);
    lines.push(say.say("holds-tolerance", [("share", say.percent(tolerance))]));
    lines.push(super::floor::next_shelter(rules, say));
    lines.extend(sheet.bands.iter().map(|band| {
        let depth = ("depth", depths(band, say));
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
            .map(|(reading, gain)| dial(reading, gain, say));
        return say.say("cell-at", [("start", start), ("highest", highest)]);
    };
    let figure = |said: &Sentence| {
        let part = said.parts.iter().find_map(|part| match &part.value {
            Some(Value::Figure(figure)) => Some(figure),
            Some(Value::Proper(_) | Value::Count(_) | Value::Word(_) | Value::LengthM(_)) | None => None,
        });
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
pub(super) fn mixing(sheet: &ShelterSheet, band: &BandRules, say: Wording<'_>) -> Option<String> {
    let allowed: Vec<u32> = band.rules.iter().filter(|rule| rule.allowed).map(|rule| rule.option).collect();
    if sheet.people < 2 || allowed.len() < 2 {
        return None;
    }
    let depth = ("depth", depths(band, say));
    let may = |(a, b): &(u32, u32)| band.mixes.iter().any(|Mix { first, second }| (first, second) == (a, b));
    let pairs = allowed.iter().enumerate().flat_map(|(i, a)| allowed.iter().skip(i + 1).map(move |b| (*a, *b)));
    let (permitted, forbidden): (Vec<_>, Vec<_>) = pairs.partition(may);
    let listed = |pairs: &[(u32, u32)]| {
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

pub(super) fn help(rules: &ShelterRules, band: &BandRules, say: Wording<'_>) -> Option<String> {
    let help = band.help.as_ref()?;
    let depth = ("depth", depths(band, say));
    let option = ("option", option_name(rules, help.option, say));
    Some(match help.kind() {
        RuleHelpKind::ConfirmMarks => {
            let (marks, pings) = (help.marks.to_string(), help.pings.to_string());
            say.say("help-confirm-marks", [depth, option, ("marks", marks), ("pings", pings)])
        }
        RuleHelpKind::LowerGain => say.say("help-lower-gain", [depth, option, ("lower", say.db(help.lower_db, 0))]),
        RuleHelpKind::FewerPeople => say.say("help-fewer-people", [depth, option, ("people", help.people.to_string())]),
        RuleHelpKind::FartherShelters => match help.clear_m {
            Some(clear) => say.say("help-farther-shelters", [depth, ("distance", say.both(Metres::new(clear)))]),
            None => say.say("help-farthest-shelters", [depth, ("distance", say.both(Metres::new(LOOKED)))]),
        },
        RuleHelpKind::OtherOptions | RuleHelpKind::Unspecified => say.say("help-other-options", [depth]),
    })
}

/// What sets the highest gain.
pub(super) fn limit(rule: &Rule, say: Wording<'_>) -> String {
    match rule.limiting_depth_m {
        None => say.word("limit-dial-end"),
        Some(depth) => {
            let bottom = say.word(&bottom_key(rule.limiting_bottom()));
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
fn bottom_key(class: BottomClass) -> String {
    let name = class.as_str_name();
    let class = name.strip_prefix("BOTTOM_CLASS_").unwrap_or(name);
    format!("bottom-{}", class.replace('_', "-").to_lowercase())
}

pub(super) fn why(rule: &Rule, say: Wording<'_>) -> String {
    // Rounded away from nothing: what is refused lacks something.
    let missing = ("missing", say.db(libm::ceil(rule.missing_db), 0));
    match rule.refusal() {
        RuleRefusal::GainBeyondDial => {
            say.say("refusal-gain-beyond-dial", [missing, ("depth", say.metres(rule.start_depth_m))])
        }
        RuleRefusal::NeighboursBeforeLure => say.say("refusal-neighbours-before-lure", [missing]),
        RuleRefusal::NeighboursAlways => say.word("refusal-neighbours-always"),
        RuleRefusal::Unspecified => String::new(),
    }
}
