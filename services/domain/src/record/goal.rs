//! A goal of the user's own as it is given: which preset it starts from, and what it weighs otherwise.

use crate::check::{Faults, plain};
use crate::desirability::OneSided;
use crate::field::{Accepted, Field, Record, name_of, named, names, within};
use crate::goal::{CustomGoal, Limits, PRESETS, Preset, Weighing, Weights};
use crate::{Fault, FaultReason, Id};

type GoalField = Field<GoalRecord>;

/// A goal as it is given. What is left out is the figure of the preset that it starts from, at the time when it is used.
#[derive(Debug, Clone, PartialEq)]
pub struct GoalRecord {
    /// Resource id.
    pub id: Id,
    /// Title for people.
    pub display_name: String,
    /// Free notes.
    pub notes: String,
    /// The preset whose figures hold where none is given.
    pub starts_from: Option<Preset>,
    /// Weight of the coverage.
    pub coverage_weight: Option<f64>,
    /// Weight of the clutter.
    pub clutter_weight: Option<f64>,
    /// Weight of the resolution.
    pub resolution_weight: Option<f64>,
    /// Weight of the interference.
    pub interference_weight: Option<f64>,
    /// Coverage radius, m.
    pub coverage_radius: Ends,
    /// Watch footprint, m.
    pub watch_footprint: Ends,
    /// Dead zone height, m.
    pub dead_zone_height: Ends,
    /// Lure over plants, dB.
    pub lure_over_vegetation: Ends,
    /// Headroom, dB.
    pub headroom: Ends,
    /// Probability that no other fish shares the lure's cell.
    pub single_fish: Ends,
}

/// The ends of a limit as far as they are given.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ends {
    /// The figure that is worth nothing.
    pub worthless: Option<f64>,
    /// The figure from which on more is not better.
    pub good: Option<f64>,
}

const STARTS_FROM: &[&str] = &names(&PRESETS);
const WEIGHT: Accepted = within(0.0, 100.0, "");
const RADIUS: Accepted = within(0.0, 100.0, "m");
const FOOTPRINT: Accepted = within(0.0, 100.0, "m");
const HEIGHT: Accepted = within(0.0, 20.0, "m");
const DECIBELS: Accepted = within(-60.0, 60.0, "dB");
const PROBABILITY: Accepted = within(0.0, 1.0, "");
/// What holds where a figure is left out.
const OF_PRESET: &str = "the figure of starts_from";
const ADVICE: &str = "leave it out for the figure of starts_from";
/// What holds where a limit on single fish is left out: not every preset has one.
const OF_PRESET_IF_ANY: &str = "as starts_from has it, if it asks for single fish";

/// A figure that is the preset's where it is left out.
const fn of_preset(
    path: &'static str,
    accepted: Accepted,
    get: fn(&GoalRecord) -> Option<f64>,
    set: fn(&mut GoalRecord, f64),
) -> GoalField {
    GoalField::number(path, accepted, get, set).left_out(OF_PRESET).advice(ADVICE)
}

impl Record for GoalRecord {
    type Known = CustomGoal;
    const COLLECTION: &'static str = "goals";

    const FIELDS: &'static [Field<Self>] = &[
        GoalField::id(|g| &g.id, |g, id| g.id = id).example("perch-school"),
        GoalField::name(|g| &g.display_name, |g, text| g.display_name = text).example("Perch in a school"),
        GoalField::notes(|g| &g.notes, |g, text| g.notes = text),
        GoalField::choice(
            "starts_from",
            STARTS_FROM,
            |g| g.starts_from.and_then(|preset| name_of(&PRESETS, &preset)),
            |g, name| g.starts_from = named(&PRESETS, name),
        )
        .left_out("watch_lure")
        .example("school"),
        of_preset("coverage_weight", WEIGHT, |g| g.coverage_weight, |g, v| g.coverage_weight = Some(v)).example("1"),
        of_preset("clutter_weight", WEIGHT, |g| g.clutter_weight, |g, v| g.clutter_weight = Some(v)).example("2"),
        of_preset("resolution_weight", WEIGHT, |g| g.resolution_weight, |g, v| g.resolution_weight = Some(v)),
        of_preset("interference_weight", WEIGHT, |g| g.interference_weight, |g, v| g.interference_weight = Some(v)),
        of_preset(
            "coverage_radius_worthless_m",
            RADIUS,
            |g| g.coverage_radius.worthless,
            |g, v| g.coverage_radius.worthless = Some(v),
        ),
        of_preset(
            "coverage_radius_good_m",
            RADIUS,
            |g| g.coverage_radius.good,
            |g, v| g.coverage_radius.good = Some(v),
        )
        .accepts("more than the worthless one"),
        of_preset(
            "watch_footprint_worthless_m",
            FOOTPRINT,
            |g| g.watch_footprint.worthless,
            |g, v| g.watch_footprint.worthless = Some(v),
        )
        .example("3"),
        of_preset(
            "watch_footprint_good_m",
            FOOTPRINT,
            |g| g.watch_footprint.good,
            |g, v| g.watch_footprint.good = Some(v),
        )
        .accepts("less than the worthless one")
        .example("0.6"),
        of_preset(
            "dead_zone_height_worthless_m",
            HEIGHT,
            |g| g.dead_zone_height.worthless,
            |g, v| g.dead_zone_height.worthless = Some(v),
        ),
        of_preset(
            "dead_zone_height_good_m",
            HEIGHT,
            |g| g.dead_zone_height.good,
            |g, v| g.dead_zone_height.good = Some(v),
        )
        .accepts("less than the worthless one"),
        of_preset(
            "lure_over_vegetation_worthless_db",
            DECIBELS,
            |g| g.lure_over_vegetation.worthless,
            |g, v| g.lure_over_vegetation.worthless = Some(v),
        ),
        of_preset(
            "lure_over_vegetation_good_db",
            DECIBELS,
            |g| g.lure_over_vegetation.good,
            |g, v| g.lure_over_vegetation.good = Some(v),
        )
        .accepts("more than the worthless one"),
        of_preset("headroom_worthless_db", DECIBELS, |g| g.headroom.worthless, |g, v| g.headroom.worthless = Some(v)),
        of_preset("headroom_good_db", DECIBELS, |g| g.headroom.good, |g, v| g.headroom.good = Some(v))
            .accepts("more than the worthless one"),
        of_preset(
            "single_fish_probability_worthless",
            PROBABILITY,
            |g| g.single_fish.worthless,
            |g, v| g.single_fish.worthless = Some(v),
        )
        .left_out(OF_PRESET_IF_ANY),
        of_preset(
            "single_fish_probability_good",
            PROBABILITY,
            |g| g.single_fish.good,
            |g, v| g.single_fish.good = Some(v),
        )
        .accepts("more than the worthless one")
        .left_out(OF_PRESET_IF_ANY),
    ];

    fn blank(id: Id) -> Self {
        Self {
            id,
            display_name: String::new(),
            notes: String::new(),
            starts_from: None,
            coverage_weight: None,
            clutter_weight: None,
            resolution_weight: None,
            interference_weight: None,
            coverage_radius: Ends::default(),
            watch_footprint: Ends::default(),
            dead_zone_height: Ends::default(),
            lure_over_vegetation: Ends::default(),
            headroom: Ends::default(),
            single_fish: Ends::default(),
        }
    }

    fn id(&self) -> &Id {
        &self.id
    }

    fn known(&self) -> Result<CustomGoal, Fault> {
        self.resolve()
    }

    fn check(&self) -> Vec<Fault> {
        let mut faults = Faults::of(self, Self::FIELDS);
        if self.weights().as_array().iter().all(|weight| *weight == 0.0) {
            let message = "the weights are all 0; accepted: at least one above 0; give the weight of what counts";
            faults.add("coverage_weight", FaultReason::Contradiction, message.to_owned());
        }
        for limit in self.limits() {
            limit.check(&mut faults);
        }
        if PRESETS.iter().any(|(name, _)| name.replace('_', "-") == self.id.as_str()) {
            let message = format!(
                "id is '{}', which is what a preset is called; accepted: another one; choose a name of its own",
                self.id
            );
            faults.add("id", FaultReason::Contradiction, message);
        }
        faults.found.into_vec()
    }
}

/// Which way a figure gets better.
#[derive(Clone, Copy)]
enum Better {
    More,
    Less,
}

/// One limit: its fields, its direction, and what it is in record and preset.
struct Limit {
    worthless: &'static str,
    good: &'static str,
    better: Better,
    given: Ends,
    preset: Option<OneSided>,
}

impl Limit {
    /// What holds for scoring; none where the goal does not ask for it.
    ///
    /// # Errors
    /// One end is given, and neither record nor preset has the other.
    fn line(&self) -> Result<Option<OneSided>, Fault> {
        let worthless = self.given.worthless.or(self.preset.map(|preset| preset.worthless));
        let good = self.given.good.or(self.preset.map(|preset| preset.ideal));
        let lacks = |field: &str, beside: &str| {
            let text = format!("{field} is left out beside {beside}, and starts_from has no such limit; give both");
            Fault { beside: Some(beside.to_owned()), ..Fault::new(field, FaultReason::Missing, text) }
        };
        match (worthless, good) {
            (Some(worthless), Some(good)) => Ok(Some(OneSided::line(worthless, good))),
            (None, None) => Ok(None),
            (Some(_), None) => Err(lacks(self.good, self.worthless)),
            (None, Some(_)) => Err(lacks(self.worthless, self.good)),
        }
    }

    /// A limit whose ends are equal or the wrong way round says nothing; where one of them is the preset's that is said.
    fn check(&self, faults: &mut Faults) {
        if faults.has(self.worthless) || faults.has(self.good) {
            return;
        }
        let line = match self.line() {
            Ok(Some(line)) => line,
            Ok(None) => return,
            Err(fault) => return faults.found.push(fault),
        };
        let (fine, relation) = match self.better {
            Better::More => (line.worthless < line.ideal, "more than"),
            Better::Less => (line.worthless > line.ideal, "less than"),
        };
        if fine {
            return;
        }
        let by = |given: Option<f64>| if given.is_some() { "" } else { " as in starts_from" };
        let message = format!(
            "{} is {}{}; accepted: {relation} {}, which is {}{}; give both ends the right way round",
            self.good,
            plain(line.ideal),
            by(self.given.good),
            self.worthless,
            plain(line.worthless),
            by(self.given.worthless)
        );
        let fault = Fault::new(self.good, FaultReason::Contradiction, message);
        faults.found.push(Fault { beside: Some(self.worthless.to_owned()), ..fault });
    }
}

impl GoalRecord {
    fn preset(&self) -> Weighing {
        self.starts_from.unwrap_or(Preset::WatchLure).weighing()
    }

    fn weights(&self) -> Weights {
        let preset = self.preset().weights;
        Weights {
            coverage: self.coverage_weight.unwrap_or(preset.coverage),
            clutter: self.clutter_weight.unwrap_or(preset.clutter),
            resolution: self.resolution_weight.unwrap_or(preset.resolution),
            interference: self.interference_weight.unwrap_or(preset.interference),
        }
    }

    /// In the order of [`Limits`].
    fn limits(&self) -> [Limit; 6] {
        let preset = self.preset().limits;
        [
            Limit {
                worthless: "coverage_radius_worthless_m",
                good: "coverage_radius_good_m",
                better: Better::More,
                given: self.coverage_radius,
                preset: Some(preset.coverage_radius),
            },
            Limit {
                worthless: "watch_footprint_worthless_m",
                good: "watch_footprint_good_m",
                better: Better::Less,
                given: self.watch_footprint,
                preset: Some(preset.watch_footprint),
            },
            Limit {
                worthless: "dead_zone_height_worthless_m",
                good: "dead_zone_height_good_m",
                better: Better::Less,
                given: self.dead_zone_height,
                preset: Some(preset.dead_zone_height),
            },
            Limit {
                worthless: "lure_over_vegetation_worthless_db",
                good: "lure_over_vegetation_good_db",
                better: Better::More,
                given: self.lure_over_vegetation,
                preset: Some(preset.lure_over_vegetation),
            },
            Limit {
                worthless: "headroom_worthless_db",
                good: "headroom_good_db",
                better: Better::More,
                given: self.headroom,
                preset: Some(preset.headroom),
            },
            Limit {
                worthless: "single_fish_probability_worthless",
                good: "single_fish_probability_good",
                better: Better::More,
                given: self.single_fish,
                preset: preset.single_fish,
            },
        ]
    }

    /// The goal as it is weighed by: what is not given is the preset's.
    ///
    /// # Errors
    /// One end of the limit on single fish is lacking, which its check tells.
    pub fn resolve(&self) -> Result<CustomGoal, Fault> {
        let preset = self.preset().limits;
        let [coverage, footprint, dead_zone, vegetation, headroom, single_fish] =
            self.limits().map(|limit| limit.line());
        Ok(CustomGoal {
            id: self.id.clone(),
            display_name: self.display_name.clone(),
            notes: self.notes.clone(),
            weighing: Weighing {
                weights: self.weights(),
                limits: Limits {
                    coverage_radius: coverage?.unwrap_or(preset.coverage_radius),
                    watch_footprint: footprint?.unwrap_or(preset.watch_footprint),
                    dead_zone_height: dead_zone?.unwrap_or(preset.dead_zone_height),
                    lure_over_vegetation: vegetation?.unwrap_or(preset.lure_over_vegetation),
                    headroom: headroom?.unwrap_or(preset.headroom),
                    single_fish: single_fish?,
                },
            },
        })
    }
}

impl From<&CustomGoal> for GoalRecord {
    fn from(g: &CustomGoal) -> Self {
        let Weighing { weights, limits } = g.weighing;
        let ends = |line: OneSided| Ends { worthless: Some(line.worthless), good: Some(line.ideal) };
        Self {
            id: g.id.clone(),
            display_name: g.display_name.clone(),
            notes: g.notes.clone(),
            // Every figure is given; the preset that is taken without one asks for no single fish.
            starts_from: None,
            coverage_weight: Some(weights.coverage),
            clutter_weight: Some(weights.clutter),
            resolution_weight: Some(weights.resolution),
            interference_weight: Some(weights.interference),
            coverage_radius: ends(limits.coverage_radius),
            watch_footprint: ends(limits.watch_footprint),
            dead_zone_height: ends(limits.dead_zone_height),
            lure_over_vegetation: ends(limits.lure_over_vegetation),
            headroom: ends(limits.headroom),
            single_fish: limits.single_fish.map(ends).unwrap_or_default(),
        }
    }
}

impl CustomGoal {
    /// Every fault of what is weighed by, with field paths of the public API; empty when it is sound.
    #[must_use]
    pub fn check(&self) -> Vec<Fault> {
        GoalRecord::from(self).check()
    }
}

#[cfg(test)]
mod tests;
