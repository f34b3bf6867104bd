//! Shelter rules: what they are derived from, and what they say, both ways.

use acoustics::units::{Db, Metres};
use domain::selection::OptionRef;
use domain::wording::beam_name;
use domain::{BottomClass, Confirmation, Fault, Id, Point, Sensor, ShelterRecord};
use planning::generic::{FrequencyClass, GenericUnit};
use planning::recommend::{highest, start};
use planning::rules::{BandRules, DepthBand, Help, Mix, Refusal, Rule, RuleBook, RulesInput, RulesSettings, Sheet};
use proto::v1;

use super::run::each;
use super::{Reading, sentence, shelter, spot};
use crate::names::{self, OptionName};

/// A spec whose names are read; what it names is yet to be looked up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spec {
    pub(crate) shelters: Vec<Id>,
    pub(crate) options: Vec<OptionName>,
    pub(crate) lure: Id,
    pub(crate) bands: Vec<DepthBand>,
    pub(crate) bottoms: Vec<BottomClass>,
    pub(crate) settings: RulesSettings,
}

/// Reads a spec; paths are relative to it.
pub(crate) fn spec(message: &v1::RulesSpec) -> Result<Spec, Vec<Fault>> {
    let mut reading = Reading::default();
    let default = RulesSettings::default();
    let shelters =
        each(&mut reading, "shelters", &message.shelters, |field, name| names::parse(field, "shelters", name));
    let options = each(&mut reading, "options", &message.options, names::parse_option);
    let lure = names::parse("lure", "targets", &message.lure).map_err(|fault| reading.add(fault)).ok();
    let bands = message.bands.iter().map(band).collect();
    let bottoms = message.bottom_classes.iter().enumerate().filter_map(|(index, class)| {
        let field = format!("bottom_classes[{index}]");
        reading.choice(&field, *class, spot::bottom, v1::BottomClass::as_str_name)
    });
    let bottoms = bottoms.collect();
    let settings = RulesSettings {
        tolerance: message.interference_tolerance.unwrap_or(default.tolerance),
        lure_margin: message.lure_margin_db.map_or(default.lure_margin, Db::new),
        strong_mark: message.strong_mark_db.map_or(default.strong_mark, Db::new),
        lure_height: message.lure_height_m.map(Metres::new),
        next_shelter: message.next_shelter_m.map(Metres::new),
    };
    let read = reading.finish((), |()| Vec::new());
    match (read, lure) {
        (Ok(()), Some(lure)) => Ok(Spec { shelters, options, lure, bands, bottoms, settings }),
        (Err(faults), _) => Err(faults),
        // A lure that is not read has left its fault behind.
        (Ok(()), None) => Err(Vec::new()),
    }
}

fn band(message: &v1::DepthBand) -> DepthBand {
    DepthBand { shallow: Metres::new(message.shallow_m), deep: Metres::new(message.deep_m) }
}

/// Writes rules, without name, spec and time.
pub(crate) fn to(input: &RulesInput, book: &RuleBook) -> v1::ShelterRules {
    let options = options_to(&input.sensors, &input.options);
    let unlisted = input
        .unlisted
        .iter()
        .map(|class| v1::RuledOption { unlisted: Some(unlisted_to(*class)), ..v1::RuledOption::default() });
    v1::ShelterRules {
        options: options.into_iter().chain(unlisted).collect(),
        sheets: book.sheets.iter().filter_map(|sheet| sheet_to(input, sheet)).collect(),
        ..v1::ShelterRules::default()
    }
}

/// Writes options as rules name them.
pub(crate) fn options_to(sensors: &[Sensor], options: &[OptionRef]) -> Vec<v1::RuledOption> {
    let named = options.iter().filter_map(|reference| {
        let sensor = sensors.get(reference.sensor)?;
        let option = sensor.options.get(reference.option)?;
        Some(v1::RuledOption {
            option: domain::selection::option_path(&sensor.id, &option.id),
            sensor_display_name: sensor.display_name.clone(),
            beam: beam_name(option),
            unlisted: None,
        })
    });
    named.collect()
}

fn unlisted_to(class: GenericUnit) -> v1::UnlistedClass {
    let ((narrowest_deg, widest_deg), (low, high)) = (class.degrees(), class.khz());
    v1::UnlistedClass {
        narrowest_deg,
        widest_deg,
        lowest_khz: if class.frequency == FrequencyClass::Low { 0.0 } else { low },
        highest_khz: if class.frequency == FrequencyClass::High { 0.0 } else { high },
    }
}

fn sheet_to(input: &RulesInput, sheet: &Sheet) -> Option<v1::ShelterSheet> {
    Some(v1::ShelterSheet {
        shelter: Some(shelter::to(&ShelterRecord::from(input.shelters.get(sheet.shelter)?))),
        people: sheet.people,
        holes: holes_to(&sheet.holes),
        spacing_m: sheet.spacing.map_or(0.0, Metres::get),
        bands: sheet.bands.iter().filter_map(|band| band_to(input, band)).collect(),
    })
}

/// Writes holes.
pub(crate) fn holes_to(holes: &[Point]) -> Vec<v1::Hole> {
    holes.iter().map(|hole| v1::Hole { x_m: hole.x.get(), y_m: hole.y.get() }).collect()
}

fn band_to(input: &RulesInput, rules: &BandRules) -> Option<v1::BandRules> {
    let band = input.bands.get(rules.band)?;
    Some(v1::BandRules {
        band: Some(v1::DepthBand { shallow_m: band.shallow.get(), deep_m: band.deep.get() }),
        rules: rules.rules.iter().map(rule_to).collect(),
        mixes: rules.mixes.iter().map(mix_to).collect(),
        help: rules.help.map(help_to),
        holds_beyond_m: rules.holds_beyond.map(Metres::get),
    })
}

fn rule_to(rule: &Rule) -> v1::Rule {
    let (refusal, missing) = match rule.refusal {
        None => (v1::RuleRefusal::Unspecified, Db::new(0.0)),
        Some(Refusal::GainBeyondMax { missing }) => (v1::RuleRefusal::GainBeyondDial, missing),
        Some(Refusal::NeighboursShow { missing }) => (v1::RuleRefusal::NeighboursBeforeLure, missing),
        Some(Refusal::NoClearGain { missing }) => (v1::RuleRefusal::NeighboursAlways, missing),
    };
    v1::Rule {
        option: index(rule.option),
        allowed: rule.refusal.is_none(),
        refusal: refusal.into(),
        missing_db: missing.get(),
        start_gain_db: rule.start_gain.get(),
        start_dial: rule.start_dial.clone().unwrap_or_default(),
        start_depth_m: rule.start_depth.get(),
        start_bottom: spot::bottom_to(rule.start_bottom).into(),
        highest_gain_db: rule.highest_gain.get(),
        highest_dial: rule.highest_dial.clone().unwrap_or_default(),
        limiting_depth_m: rule.limited_by.map(|(depth, _)| depth.get()),
        limiting_bottom: rule
            .limited_by
            .map_or(v1::BottomClass::Unspecified, |(_, class)| spot::bottom_to(class))
            .into(),
        least_spacing_m: rule.least_spacing.map(Metres::get),
        most_people: rule.most_people,
        alike_highest_gain_db: rule.alike_highest_gain.get(),
        alike_highest_dial: rule.alike_highest_dial.clone().unwrap_or_default(),
        start: rule.setting.as_ref().map(|set| sentence::one(&start(&set.start, &set.highest))),
        highest: rule.setting.as_ref().map(|set| sentence::one(&highest(&set.highest))),
    }
}

fn mix_to(mix: &Mix) -> v1::Mix {
    v1::Mix { first: index(mix.first), second: index(mix.second) }
}

fn help_to(help: Help) -> v1::RuleHelp {
    let blank = v1::RuleHelp::default();
    match help {
        Help::Confirmation { option, confirmation: Confirmation { marks, pings } } => {
            v1::RuleHelp { kind: v1::RuleHelpKind::ConfirmMarks.into(), option: index(option), marks, pings, ..blank }
        }
        Help::LowerGain { option, by } => v1::RuleHelp {
            kind: v1::RuleHelpKind::LowerGain.into(),
            option: index(option),
            lower_db: by.get(),
            ..blank
        },
        Help::FewerPeople { option, people } => {
            v1::RuleHelp { kind: v1::RuleHelpKind::FewerPeople.into(), option: index(option), people, ..blank }
        }
        Help::FartherShelters { clear } => {
            v1::RuleHelp { kind: v1::RuleHelpKind::FartherShelters.into(), clear_m: clear.map(Metres::get), ..blank }
        }
        Help::OtherOptions => v1::RuleHelp { kind: v1::RuleHelpKind::OtherOptions.into(), ..blank },
    }
}

/// A place in a list.
pub(crate) fn index(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}
