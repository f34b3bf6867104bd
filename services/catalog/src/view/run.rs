//! What a run was computed from, as JSON.

use acoustics::units::{Angle, Db, Metres};
use domain::selection::{Lean, OptionRef, Others, RunInput, Settings};
use domain::{CustomGoal, Goal, GoalRecord, Preset, SensorRecord, ShelterRecord, SpotRecord, TargetRecord};
use serde::{Deserialize, Serialize};

use super::record::RecordView;
use crate::error::StoreError;

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct RunInputView {
    spots: Vec<RecordView>,
    sensors: Vec<RecordView>,
    options: Vec<(usize, usize)>,
    shelter: Option<RecordView>,
    lure: RecordView,
    fish: RecordView,
    settings: SettingsView,
    others: OthersView,
    // Left out where no use names a goal of the user's own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    goals: Vec<RecordView>,
}

/// What the others in a shelter have.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum OthersView {
    Same,
    Given { sensors: Vec<RecordView>, options: Vec<(usize, usize)> },
    Unknown,
}

impl From<&Others> for OthersView {
    fn from(others: &Others) -> Self {
        match others {
            Others::Same => Self::Same,
            Others::Given { sensors, options } => Self::Given {
                sensors: sensors.iter().map(|sensor| RecordView::of(&SensorRecord::from(sensor))).collect(),
                options: options.iter().map(|o| (o.sensor, o.option)).collect(),
            },
            Others::Unknown => Self::Unknown,
        }
    }
}

impl TryFrom<OthersView> for Others {
    type Error = StoreError;

    fn try_from(v: OthersView) -> Result<Self, StoreError> {
        Ok(match v {
            OthersView::Same => Self::Same,
            OthersView::Given { sensors, options } => Self::Given {
                sensors: sensors.into_iter().map(known::<SensorRecord>).collect::<Result<_, _>>()?,
                options: options.into_iter().map(|(sensor, option)| OptionRef { sensor, option }).collect(),
            },
            OthersView::Unknown => Self::Unknown,
        })
    }
}

#[derive(Debug, Serialize, Deserialize)]
struct SettingsView {
    goal: GoalView,
    interference_tolerance: f64,
    lure_margin_db: f64,
    strong_mark_db: f64,
    lure_offset_m: Option<f64>,
    // Left out where it hangs upright.
    #[serde(skip_serializing_if = "Option::is_none")]
    lean: Option<LeanView>,
    draws: u32,
    seed: u64,
}

/// A record as it is computed with; a run keeps everything given.
fn known<R: crate::kinds::Resource>(view: RecordView) -> Result<R::Known, StoreError> {
    view.record::<R>()?.known().map_err(|fault| StoreError::BadRecord(fault.message))
}

/// Radians, so that a run comes back bit for bit.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct LeanView {
    angle: f64,
    direction: Option<f64>,
}

names!(PresetView => Preset { Search, WatchLure, School, WeedEdge });

/// A preset by its name, a goal of the user's own with all its figures.
#[derive(Debug, Serialize, Deserialize)]
#[serde(untagged)]
enum GoalView {
    Preset(PresetView),
    Custom(RecordView),
}

impl From<&Goal> for GoalView {
    fn from(goal: &Goal) -> Self {
        match goal {
            Goal::Preset(preset) => Self::Preset((*preset).into()),
            Goal::Custom(goal) => Self::Custom(goal_view(goal)),
        }
    }
}

impl TryFrom<GoalView> for Goal {
    type Error = StoreError;

    fn try_from(v: GoalView) -> Result<Self, StoreError> {
        Ok(match v {
            GoalView::Preset(preset) => Self::Preset(preset.into()),
            GoalView::Custom(goal) => Self::Custom(Box::new(known::<GoalRecord>(goal)?)),
        })
    }
}

fn goal_view(goal: &CustomGoal) -> RecordView {
    RecordView::of(&GoalRecord::from(goal))
}

impl From<&RunInput> for RunInputView {
    fn from(r: &RunInput) -> Self {
        Self {
            spots: r.spots.iter().map(|spot| RecordView::of(&SpotRecord::from(spot))).collect(),
            sensors: r.sensors.iter().map(|sensor| RecordView::of(&SensorRecord::from(sensor))).collect(),
            options: r.options.iter().map(|o| (o.sensor, o.option)).collect(),
            shelter: r.shelter.as_ref().map(|shelter| RecordView::of(&ShelterRecord::from(shelter))),
            lure: RecordView::of(&TargetRecord::from(&r.lure)),
            fish: RecordView::of(&TargetRecord::from(&r.fish)),
            others: OthersView::from(&r.others),
            goals: r.goals.iter().map(goal_view).collect(),
            settings: SettingsView {
                goal: GoalView::from(&r.settings.goal),
                interference_tolerance: r.settings.interference_tolerance,
                lure_margin_db: r.settings.lure_margin.get(),
                strong_mark_db: r.settings.strong_mark.get(),
                lure_offset_m: r.settings.lure_offset.map(Metres::get),
                lean: (r.settings.lean != Lean::UPRIGHT).then(|| LeanView {
                    angle: r.settings.lean.angle.get(),
                    direction: r.settings.lean.direction.map(Angle::get),
                }),
                draws: r.settings.draws,
                seed: r.settings.seed,
            },
        }
    }
}

impl TryFrom<RunInputView> for RunInput {
    type Error = StoreError;

    fn try_from(v: RunInputView) -> Result<Self, StoreError> {
        Ok(Self {
            spots: v.spots.into_iter().map(known::<SpotRecord>).collect::<Result<_, _>>()?,
            sensors: v.sensors.into_iter().map(known::<SensorRecord>).collect::<Result<_, _>>()?,
            options: v.options.into_iter().map(|(sensor, option)| OptionRef { sensor, option }).collect(),
            shelter: v.shelter.map(known::<ShelterRecord>).transpose()?,
            lure: known::<TargetRecord>(v.lure)?,
            fish: known::<TargetRecord>(v.fish)?,
            others: v.others.try_into()?,
            goals: v.goals.into_iter().map(known::<GoalRecord>).collect::<Result<_, _>>()?,
            settings: Settings {
                goal: v.settings.goal.try_into()?,
                interference_tolerance: v.settings.interference_tolerance,
                lure_margin: Db::new(v.settings.lure_margin_db),
                strong_mark: Db::new(v.settings.strong_mark_db),
                lure_offset: v.settings.lure_offset_m.map(Metres::new),
                lean: v.settings.lean.map_or(Lean::UPRIGHT, |lean| Lean {
                    angle: Angle::new(lean.angle),
                    direction: lean.direction.map(Angle::new),
                }),
                draws: v.settings.draws,
                seed: v.settings.seed,
            },
        })
    }
}
