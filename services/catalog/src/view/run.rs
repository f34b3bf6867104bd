//! What a run was computed from, as JSON.

use acoustics::units::{Db, Metres};
use domain::BadId;
use domain::selection::{Goal, OptionRef, RunInput, Settings};
use serde::{Deserialize, Serialize};

use super::{SensorView, ShelterView, SpotView, TargetView};

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct RunInputView<'r> {
    spots: Vec<SpotView<'r>>,
    sensors: Vec<SensorView>,
    options: Vec<(usize, usize)>,
    shelter: Option<ShelterView>,
    lure: TargetView,
    fish: TargetView,
    settings: SettingsView,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct SettingsView {
    goal: GoalView,
    interference_tolerance: f64,
    lure_margin_db: f64,
    strong_mark_db: f64,
    lure_offset_m: Option<f64>,
    draws: u32,
    seed: u64,
}

names!(GoalView => Goal { Search, WatchLure, School, WeedEdge });

impl<'r> From<&'r RunInput> for RunInputView<'r> {
    fn from(r: &'r RunInput) -> Self {
        Self {
            spots: r.spots.iter().map(SpotView::from).collect(),
            sensors: r.sensors.iter().map(SensorView::from).collect(),
            options: r.options.iter().map(|o| (o.sensor, o.option)).collect(),
            shelter: r.shelter.as_ref().map(ShelterView::from),
            lure: TargetView::from(&r.lure),
            fish: TargetView::from(&r.fish),
            settings: SettingsView {
                goal: r.settings.goal.into(),
                interference_tolerance: r.settings.interference_tolerance,
                lure_margin_db: r.settings.lure_margin.get(),
                strong_mark_db: r.settings.strong_mark.get(),
                lure_offset_m: r.settings.lure_offset.map(Metres::get),
                draws: r.settings.draws,
                seed: r.settings.seed,
            },
        }
    }
}

impl TryFrom<RunInputView<'_>> for RunInput {
    type Error = BadId;

    fn try_from(v: RunInputView<'_>) -> Result<Self, BadId> {
        Ok(Self {
            spots: v.spots.into_iter().map(TryInto::try_into).collect::<Result<_, _>>()?,
            sensors: v.sensors.into_iter().map(TryInto::try_into).collect::<Result<_, _>>()?,
            options: v.options.into_iter().map(|(sensor, option)| OptionRef { sensor, option }).collect(),
            shelter: v.shelter.map(TryInto::try_into).transpose()?,
            lure: v.lure.try_into()?,
            fish: v.fish.try_into()?,
            settings: Settings {
                goal: v.settings.goal.into(),
                interference_tolerance: v.settings.interference_tolerance,
                lure_margin: Db::new(v.settings.lure_margin_db),
                strong_mark: Db::new(v.settings.strong_mark_db),
                lure_offset: v.settings.lure_offset_m.map(Metres::new),
                draws: v.settings.draws,
                seed: v.settings.seed,
            },
        })
    }
}
