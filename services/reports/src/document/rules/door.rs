//! What the rules say of one unit at one shelter and depth, for who stands at its door: in the words of the page that hangs there.

use proto::v1::{BandRules, Rule, ShelterRules, ShelterSheet};

use super::words;
use crate::document::told::told;
use crate::speech::Speaker;
use crate::wording::Wording;

/// An answer at the door.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtTheDoor {
    /// Whether the unit may be used there.
    pub allowed: bool,
    /// Where to start; empty where it is not allowed.
    pub start: String,
    /// Where never to go above; empty where it is not allowed.
    pub highest: String,
    /// Why it is not allowed; empty where it is.
    pub why: String,
    /// Other allowed units that may not be used beside it; none where it is not allowed.
    pub not_with: Vec<String>,
    /// What the rules hold for, a line each.
    pub holds: Vec<String>,
}

impl Speaker<'_> {
    /// What rules say of an option, by its place among them, at a shelter and a band of depth.
    #[must_use]
    pub fn at_the_door(
        self,
        rules: &ShelterRules,
        sheet: &ShelterSheet,
        band: &BandRules,
        option: u32,
    ) -> Option<AtTheDoor> {
        let say = self.wording();
        let rule = band.rules.iter().find(|rule| rule.option == option)?;
        let told = |sentence: &Option<proto::v1::Sentence>| match sentence {
            Some(sentence) if rule.allowed => told(sentence, say),
            Some(_) | None => String::new(),
        };
        Some(AtTheDoor {
            allowed: rule.allowed,
            start: told(&rule.start),
            highest: told(&rule.highest),
            why: words::why(rule, say),
            not_with: if rule.allowed { not_with(rules, sheet, band, option, say) } else { Vec::new() },
            holds: self.rules_hold_for(rules, sheet),
        })
    }

    /// The answer for an option in a line: where to start and never to go above, or why not.
    #[must_use]
    pub fn ruled(self, rule: &Rule) -> String {
        if rule.allowed { words::setting(rule, self.wording()) } else { words::why(rule, self.wording()) }
    }

    /// What may be mixed, in full, by the places of the options from 1; none where there is nothing to mix.
    #[must_use]
    pub fn mixing(self, sheet: &ShelterSheet, band: &BandRules) -> Option<String> {
        words::mixing(sheet, band, self.wording())
    }

    /// What would help where nothing is allowed.
    #[must_use]
    pub fn help(self, rules: &ShelterRules, band: &BandRules) -> Option<String> {
        words::help(rules, band, self.wording())
    }

    /// What rules hold for, a line each.
    #[must_use]
    pub fn rules_hold_for(self, rules: &ShelterRules, sheet: &ShelterSheet) -> Vec<String> {
        let shelter = sheet.shelter.as_ref();
        shelter.map(|shelter| words::holds(rules, sheet, shelter, self.wording())).unwrap_or_default()
    }

    /// An option of rules by its name.
    #[must_use]
    pub fn ruled_option(self, rules: &ShelterRules, option: u32) -> String {
        words::option_name(rules, option, self.wording())
    }

    /// A band of depth.
    #[must_use]
    pub fn depths(self, band: &BandRules) -> String {
        words::depths(band, self.wording())
    }
}

/// Allowed options that may not be mixed with one.
fn not_with(
    rules: &ShelterRules,
    sheet: &ShelterSheet,
    band: &BandRules,
    option: u32,
    say: Wording<'_>,
) -> Vec<String> {
    if sheet.people < 2 {
        return Vec::new();
    }
    let mixes =
        |other: u32| band.mixes.iter().any(|mix| (mix.first, mix.second) == (option.min(other), option.max(other)));
    let others = band.rules.iter().filter(|rule| rule.allowed && rule.option != option);
    others.filter(|rule| !mixes(rule.option)).map(|rule| words::option_name(rules, rule.option, say)).collect()
}
