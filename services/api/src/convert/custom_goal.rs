//! Goals of the users' own.

use domain::record::goal::Ends;
use domain::{Fault, GoalRecord, Id, Record as _};
use proto::v1;

use super::{Reading, run};
use crate::names;

/// Reads a goal.
pub(crate) fn from(id: Id, message: v1::CustomGoal) -> Result<GoalRecord, Vec<Fault>> {
    let mut reading = Reading::default();
    let ends = |worthless, good| Ends { worthless, good };
    let goal = GoalRecord {
        starts_from: reading.optional_choice("starts_from", message.starts_from, run::preset, v1::Goal::as_str_name),
        id,
        display_name: message.display_name,
        notes: message.notes,
        coverage_weight: message.coverage_weight,
        clutter_weight: message.clutter_weight,
        resolution_weight: message.resolution_weight,
        interference_weight: message.interference_weight,
        coverage_radius: ends(message.coverage_radius_worthless_m, message.coverage_radius_good_m),
        watch_footprint: ends(message.watch_footprint_worthless_m, message.watch_footprint_good_m),
        dead_zone_height: ends(message.dead_zone_height_worthless_m, message.dead_zone_height_good_m),
        lure_over_vegetation: ends(message.lure_over_vegetation_worthless_db, message.lure_over_vegetation_good_db),
        headroom: ends(message.headroom_worthless_db, message.headroom_good_db),
        single_fish: ends(message.single_fish_probability_worthless, message.single_fish_probability_good),
    };
    reading.finish(goal, GoalRecord::check)
}

/// Writes a goal, without what the store knows of it.
pub(crate) fn to(goal: &GoalRecord) -> v1::CustomGoal {
    v1::CustomGoal {
        name: names::of(GoalRecord::COLLECTION, &goal.id),
        display_name: goal.display_name.clone(),
        notes: goal.notes.clone(),
        starts_from: goal.starts_from.map_or(v1::Goal::Unspecified, run::preset_to).into(),
        coverage_weight: goal.coverage_weight,
        clutter_weight: goal.clutter_weight,
        resolution_weight: goal.resolution_weight,
        interference_weight: goal.interference_weight,
        coverage_radius_worthless_m: goal.coverage_radius.worthless,
        coverage_radius_good_m: goal.coverage_radius.good,
        watch_footprint_worthless_m: goal.watch_footprint.worthless,
        watch_footprint_good_m: goal.watch_footprint.good,
        dead_zone_height_worthless_m: goal.dead_zone_height.worthless,
        dead_zone_height_good_m: goal.dead_zone_height.good,
        lure_over_vegetation_worthless_db: goal.lure_over_vegetation.worthless,
        lure_over_vegetation_good_db: goal.lure_over_vegetation.good,
        headroom_worthless_db: goal.headroom.worthless,
        headroom_good_db: goal.headroom.good,
        single_fish_probability_worthless: goal.single_fish.worthless,
        single_fish_probability_good: goal.single_fish.good,
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}
