//! What a run is asked.

use acoustics::units::{Angle, Db, Metres};
use catalog::RunState;
use domain::selection::{Lean, Settings};
use domain::{Fault, FaultReason, GoalName, GoalRecord, Preset, Record as _};
use proto::v1;

use super::Reading;
use crate::names::{self, OptionName};
use domain::Id;

/// A spec whose names are read and whose settings are sound; what it names is yet to be looked up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spec {
    pub(crate) spots: Vec<Id>,
    pub(crate) spot_filter: String,
    pub(crate) options: Vec<OptionName>,
    pub(crate) shelter: Option<Id>,
    /// None where the name is not given; whoever needs one refuses that.
    pub(crate) lure: Option<Id>,
    pub(crate) fish: Option<Id>,
    pub(crate) goal: GoalName,
    /// The goals that the uses name, as far as they are stored ones; with the field that does.
    pub(crate) use_goals: Vec<(String, Id)>,
    /// With the usual goal, until the one of the spec is looked up.
    pub(crate) settings: Settings,
    pub(crate) others: OthersSpec,
}

/// What the others in a shelter have; what it names is yet to be looked up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum OthersSpec {
    Same,
    Given(Vec<OptionName>),
    Unknown,
}

/// Reads a spec; paths are relative to it.
pub(crate) fn spec(message: &v1::RunSpec) -> Result<Spec, Vec<Fault>> {
    let mut reading = Reading::default();
    let spots = each(&mut reading, "spots", &message.spots, |field, name| names::parse(field, "spots", name));
    let options = each(&mut reading, "options", &message.options, names::parse_option);
    if !message.spots.is_empty() && !message.spot_filter.is_empty() {
        let text = "spot_filter is given beside spots; accepted: one of them; drop the other";
        reading.refuse("spot_filter", FaultReason::Contradiction, text);
    }
    let spec = Spec {
        spots,
        spot_filter: message.spot_filter.clone(),
        options,
        shelter: one(&mut reading, "shelter", "shelters", &message.shelter),
        lure: one(&mut reading, "lure", "targets", &message.lure),
        fish: one(&mut reading, "fish", "targets", &message.fish),
        // Where it is refused, some goal stands for it.
        goal: goal_name(&mut reading, "", (message.goal, &message.custom_goal))
            .unwrap_or(GoalName::Preset(Preset::WatchLure)),
        use_goals: use_goals(&mut reading, &message.uses),
        settings: settings(message),
        others: others(&mut reading, message),
    };
    reading.finish(spec, |spec| spec.settings.check())
}

fn others(reading: &mut Reading, message: &v1::RunSpec) -> OthersSpec {
    let read = |others| match others {
        v1::Neighbours::Unspecified => None,
        v1::Neighbours::Same => Some(OthersSpec::Same),
        v1::Neighbours::Unknown => Some(OthersSpec::Unknown),
    };
    let told = reading.optional_choice("neighbours", message.neighbours, read, v1::Neighbours::as_str_name);
    let given = each(reading, "neighbour_options", &message.neighbour_options, names::parse_option);
    if told.is_some() && !message.neighbour_options.is_empty() {
        let text = "neighbours is given beside neighbour_options; accepted: one of them; drop the other";
        reading.refuse("neighbours", FaultReason::Contradiction, text);
    }
    if message.neighbour_options.is_empty() { told.unwrap_or(OthersSpec::Same) } else { OthersSpec::Given(given) }
}

fn settings(message: &v1::RunSpec) -> Settings {
    let default = Settings::default();
    Settings {
        goal: default.goal,
        interference_tolerance: message.interference_tolerance.unwrap_or(default.interference_tolerance),
        lure_margin: message.lure_margin_db.map_or(default.lure_margin, Db::new),
        strong_mark: message.strong_mark_db.map_or(default.strong_mark, Db::new),
        lure_offset: message.lure_offset_m.map(Metres::new),
        lean: Lean {
            angle: Angle::from_degrees(message.lean_deg.unwrap_or(0.0)),
            direction: message.lean_direction_deg.map(Angle::from_degrees),
        },
        draws: message.draws,
        seed: message.seed,
    }
}

/// Reads a preset.
pub(crate) fn preset(goal: v1::Goal) -> Option<Preset> {
    match goal {
        v1::Goal::Unspecified => None,
        v1::Goal::Search => Some(Preset::Search),
        v1::Goal::WatchLure => Some(Preset::WatchLure),
        v1::Goal::School => Some(Preset::School),
        v1::Goal::WeedEdge => Some(Preset::WeedEdge),
    }
}

/// Writes a preset.
pub(crate) const fn preset_to(preset: Preset) -> v1::Goal {
    match preset {
        Preset::Search => v1::Goal::Search,
        Preset::WatchLure => v1::Goal::WatchLure,
        Preset::School => v1::Goal::School,
        Preset::WeedEdge => v1::Goal::WeedEdge,
    }
}

/// Reads which goal is meant: exactly one of `goal` and `custom_goal`, whose paths begin with `prefix`.
pub(crate) fn goal_name(reading: &mut Reading, prefix: &str, (goal, custom): (i32, &str)) -> Option<GoalName> {
    let (goal_field, custom_field) = (format!("{prefix}goal"), format!("{prefix}custom_goal"));
    if custom.is_empty() {
        return reading.choice(&goal_field, goal, preset, v1::Goal::as_str_name).map(GoalName::Preset);
    }
    if goal != 0 {
        let text = format!("{custom_field} is given beside {goal_field}; accepted: one of them; drop the other");
        reading.refuse(custom_field, FaultReason::Contradiction, text);
        return None;
    }
    match names::parse(&custom_field, GoalRecord::COLLECTION, custom) {
        Ok(id) => Some(GoalName::Custom(id)),
        Err(fault) => {
            reading.add(fault);
            None
        }
    }
}

/// Most uses of a sensor.
const MAX_USES: usize = 16;

/// The stored goals that uses name. What else is wrong with a use is told where the choice is read.
fn use_goals(reading: &mut Reading, uses: &[v1::UseShare]) -> Vec<(String, Id)> {
    let mut found: Vec<(String, Id)> = Vec::new();
    if uses.len() > MAX_USES {
        let text =
            format!("uses has {} entries; accepted: up to {MAX_USES}, each goal once; leave out the least", uses.len());
        reading.refuse("uses", FaultReason::OutOfRange, text);
        return found;
    }
    for (index, one) in uses.iter().enumerate().filter(|(_, one)| !one.custom_goal.is_empty()) {
        let prefix = use_prefix(index);
        match goal_name(reading, &prefix, (one.goal, &one.custom_goal)) {
            Some(GoalName::Custom(id)) if found.iter().all(|(_, known)| *known != id) => {
                found.push((format!("{prefix}custom_goal"), id));
            }
            Some(GoalName::Custom(_) | GoalName::Preset(_)) | None => {}
        }
    }
    found
}

/// Path of a use, up to its fields.
pub(crate) fn use_prefix(index: usize) -> String {
    format!("uses[{index}].")
}

/// An optional name.
fn one(reading: &mut Reading, field: &str, collection: &'static str, name: &str) -> Option<Id> {
    if name.is_empty() {
        return None;
    }
    match names::parse(field, collection, name) {
        Ok(id) => Some(id),
        Err(fault) => {
            reading.add(fault);
            None
        }
    }
}

/// A list of names, each given once.
pub(crate) fn each<T>(
    reading: &mut Reading,
    list: &str,
    given: &[String],
    parse: impl Fn(&str, &str) -> Result<T, Fault>,
) -> Vec<T> {
    let mut parsed = Vec::with_capacity(given.len());
    let mut seen = std::collections::HashMap::new();
    for (index, name) in given.iter().enumerate() {
        let field = format!("{list}[{index}]");
        match parse(&field, name) {
            Err(fault) => reading.add(fault),
            Ok(value) => {
                if let Some(first) = seen.insert(name.as_str(), index) {
                    let text = format!("{field} is '{name}', as is {list}[{first}]; accepted: each once; drop one");
                    reading.refuse(field, FaultReason::Duplicate, text);
                }
                parsed.push(value);
            }
        }
    }
    parsed
}

/// A state as the protocol names it.
pub(crate) const fn state(state: RunState) -> v1::RunState {
    match state {
        RunState::Pending => v1::RunState::Pending,
        RunState::Running => v1::RunState::Running,
        RunState::Succeeded => v1::RunState::Succeeded,
        RunState::Failed => v1::RunState::Failed,
        RunState::Cancelled => v1::RunState::Cancelled,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_out_settings_take_the_stated_defaults() {
        let message = v1::RunSpec { goal: v1::Goal::School.into(), ..v1::RunSpec::default() };
        let spec = spec(&message).unwrap();
        let settings = spec.settings;
        assert_eq!(spec.goal, GoalName::Preset(Preset::School));
        assert_eq!(settings, Settings { seed: 0, ..Settings::default() });
        assert_eq!((settings.interference_tolerance, settings.lure_margin.get()), (0.02, 3.0));
        assert_eq!((settings.strong_mark.get(), settings.lure_offset), (30.0, None));
    }

    #[test]
    fn a_goal_is_named_once_and_in_one_way() {
        let named = |goal: v1::Goal, custom: &str| {
            let use_share = v1::UseShare { goal: goal.into(), custom_goal: custom.to_owned(), share: 1.0 };
            let message = v1::RunSpec {
                goal: goal.into(),
                custom_goal: custom.to_owned(),
                uses: vec![use_share],
                ..v1::RunSpec::default()
            };
            spec(&message)
                .map(|spec| (spec.goal, spec.use_goals))
                .map_err(|faults| faults.into_iter().map(|fault| (fault.field, fault.reason)).collect::<Vec<_>>())
        };
        let own = Id::parse("own").unwrap();
        let custom = GoalName::Custom(own.clone());
        assert_eq!(
            named(v1::Goal::Unspecified, "goals/own"),
            Ok((custom, vec![("uses[0].custom_goal".to_owned(), own)]))
        );
        assert_eq!(named(v1::Goal::School, ""), Ok((GoalName::Preset(Preset::School), vec![])));
        let faults = |goal, custom, reason: FaultReason, use_reason: Option<FaultReason>, field: &str| {
            let mut wanted = vec![(field.to_owned(), reason)];
            wanted.extend(use_reason.map(|reason| (format!("uses[0].{field}"), reason)));
            assert_eq!(named(goal, custom), Err(wanted));
        };
        let (missing, form, both) = (FaultReason::Missing, FaultReason::BadForm, FaultReason::Contradiction);
        // Of a use without a goal the choice tells.
        faults(v1::Goal::Unspecified, "", missing, None, "goal");
        faults(v1::Goal::Unspecified, "own", form, Some(form), "custom_goal");
        faults(v1::Goal::School, "goals/own", both, Some(both), "custom_goal");
    }

    #[test]
    fn a_sensor_is_for_so_many_uses_and_no_more() {
        let with = |count: usize| {
            let uses = vec![v1::UseShare { goal: v1::Goal::Search.into(), ..Default::default() }; count];
            let message = v1::RunSpec { goal: v1::Goal::School.into(), uses, ..Default::default() };
            spec(&message).map_err(|faults| faults.into_iter().map(|fault| fault.field).collect::<Vec<_>>())
        };
        assert!(with(MAX_USES).is_ok());
        assert_eq!(with(MAX_USES + 1).unwrap_err(), ["uses"]);
    }

    #[test]
    fn every_fault_of_a_spec_comes_back_at_once() {
        let text = |name: &str| name.to_owned();
        let message = v1::RunSpec {
            spots: vec![text("spots/a"), text("spots/a"), text("spots/A")],
            spot_filter: text("depth_m > 6"),
            options: vec![text("sensors/a/options"), text("sensors/a")],
            shelter: text("shelter/x"),
            lure: text("targets/"),
            goal: 9,
            interference_tolerance: Some(f64::NAN),
            lure_margin_db: Some(21.0),
            strong_mark_db: Some(-1.0),
            lure_offset_m: Some(f64::INFINITY),
            lean_deg: Some(31.0),
            lean_direction_deg: Some(-1.0),
            draws: 100_001,
            ..v1::RunSpec::default()
        };
        let mut fields: Vec<_> = spec(&message).unwrap_err().into_iter().map(|fault| fault.field).collect();
        fields.sort();
        assert_eq!(
            fields,
            [
                "draws",
                "goal",
                "interference_tolerance",
                "lean_deg",
                "lean_direction_deg",
                "lure",
                "lure_margin_db",
                "lure_offset_m",
                "options[0]",
                "shelter",
                "spot_filter",
                "spots[1]",
                "spots[2]",
                "strong_mark_db",
            ]
        );
    }
}
