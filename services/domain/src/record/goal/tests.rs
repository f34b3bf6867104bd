//! Checks of goals, and what left-out figures become.

use super::*;
use proptest::prelude::*;

fn blank() -> GoalRecord {
    GoalRecord { display_name: "G".to_owned(), ..GoalRecord::blank(Id::parse("own").unwrap()) }
}

fn fields(record: &GoalRecord) -> Vec<String> {
    record.check().into_iter().map(|fault| fault.field).collect()
}

#[test]
fn a_goal_without_figures_weighs_as_the_preset_that_it_starts_from() {
    for preset in Preset::ALL {
        let record = GoalRecord { starts_from: Some(preset), ..blank() };
        assert_eq!((record.check(), record.resolve().unwrap().weighing), (vec![], preset.weighing()));
        let written = GoalRecord::from(&record.resolve().unwrap());
        assert_eq!((written.check(), written.resolve()), (vec![], record.resolve()));
    }
    assert_eq!(blank().resolve().unwrap().weighing, Preset::WatchLure.weighing());
}

#[test]
fn a_figure_that_is_given_wins_over_the_preset() {
    let record = GoalRecord {
        starts_from: Some(Preset::School),
        clutter_weight: Some(7.0),
        watch_footprint: Ends { worthless: Some(3.0), good: None },
        ..blank()
    };
    let (known, school) = (record.resolve().unwrap().weighing, Preset::School.weighing());
    assert_eq!(known.weights, Weights { clutter: 7.0, ..school.weights });
    assert_eq!(known.limits, Limits { watch_footprint: OneSided::line(3.0, 0.8), ..school.limits });
}

#[test]
fn limits_that_say_nothing_are_refused_all_at_once() {
    let ends = |worthless: f64, good: f64| Ends { worthless: Some(worthless), good: Some(good) };
    let record = GoalRecord {
        coverage_weight: Some(0.0),
        clutter_weight: Some(0.0),
        resolution_weight: Some(0.0),
        interference_weight: Some(0.0),
        coverage_radius: ends(2.0, 2.0),
        watch_footprint: ends(1.0, 6.0),
        dead_zone_height: ends(0.1, 0.1),
        lure_over_vegetation: ends(10.0, -5.0),
        headroom: ends(6.0, -6.0),
        single_fish: ends(0.9, 0.3),
        ..blank()
    };
    assert_eq!(
        fields(&record),
        [
            "coverage_weight",
            "coverage_radius_good_m",
            "watch_footprint_good_m",
            "dead_zone_height_good_m",
            "lure_over_vegetation_good_db",
            "headroom_good_db",
            "single_fish_probability_good",
        ]
    );
    let own = GoalRecord { headroom: Ends { worthless: None, good: Some(-6.0) }, ..blank() };
    let fault = own.check().remove(0);
    assert!(fault.message.contains("which is -6 as in starts_from"), "{}", fault.message);
    assert_eq!(fault.beside.as_deref(), Some("headroom_worthless_db"));
}

#[test]
fn figures_out_of_range_are_refused_and_not_compared() {
    let record = GoalRecord {
        coverage_weight: Some(-1.0),
        clutter_weight: Some(f64::NAN),
        headroom: Ends { worthless: Some(61.0), good: Some(0.0) },
        single_fish: Ends { worthless: Some(0.2), good: None },
        ..blank()
    };
    assert_eq!(
        fields(&record),
        ["coverage_weight", "clutter_weight", "headroom_worthless_db", "single_fish_probability_good"]
    );
    let school =
        GoalRecord { starts_from: Some(Preset::School), coverage_weight: None, clutter_weight: None, ..record };
    assert_eq!(fields(&school), ["headroom_worthless_db"]);
}

proptest! {
    #[test]
    fn what_passes_its_check_is_weighed_by_and_written_back(
        weights in prop::array::uniform4(0.0..=100.0_f64),
        ends in prop::array::uniform12(0.0..=1.0_f64),
        from in prop::sample::select(Preset::ALL.to_vec()),
    ) {
        let [a, b, c, d, e, f, g, h, i, j, k, l] = ends;
        let pair = |worthless, good| Ends { worthless: Some(worthless), good: Some(good) };
        let record = GoalRecord {
            starts_from: Some(from),
            coverage_weight: Some(weights[0]),
            clutter_weight: Some(weights[1]),
            resolution_weight: Some(weights[2]),
            interference_weight: Some(weights[3]),
            coverage_radius: pair(a, b),
            watch_footprint: pair(c, d),
            dead_zone_height: pair(e, f),
            lure_over_vegetation: pair(g, h),
            headroom: pair(i, j),
            single_fish: pair(k, l),
            ..blank()
        };
        let known = record.resolve().unwrap();
        prop_assert_eq!(known.check(), record.check());
        let right = [a < b, c > d, e > f, g < h, i < j, k < l].into_iter().filter(|right| *right).count();
        prop_assert_eq!(record.check().len(), 6 - right);
        prop_assert_eq!(GoalRecord::from(&known).resolve().unwrap(), known);
    }
}
