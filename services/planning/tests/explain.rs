//! An explanation holds the finding's own numbers, and every step says what it is.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

mod common;

use acoustics::units::{Angle, Metres};
use common::*;
use domain::Goal;
use domain::selection::{ExplainStep, Finding};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Relief, ReliefKind};
use planning::explain;
use planning::selection::{Prepared, Scratch};

/// Every value under a name, wherever it stands in the tree.
fn values(step: &ExplainStep, name: &str, found: &mut Vec<f64>) {
    if step.name == name {
        found.extend(step.value);
    }
    for input in &step.inputs {
        values(input, name, found);
    }
}

fn walk(step: &ExplainStep, visit: &mut impl FnMut(&ExplainStep)) {
    visit(step);
    for input in &step.inputs {
        walk(input, visit);
    }
}

/// A sloping, stony, weedy spot shared by five, so that every branch of the tree is there.
fn everything() -> Prepared {
    let mut hard = spot("hard", 6.0, BottomClass::SoftMud);
    hard.slope = Angle::from_degrees(12.0);
    hard.relief = vec![Relief { kind: ReliefKind::Boulder, height: Metres::new(1.0), offset: Metres::new(0.4) }];
    hard.canopy = Some(Canopy { height: Metres::new(0.8), density: CanopyDensity::Dense, volume_strength: None });
    let mut input = run(vec![hard, spot("easy", 9.0, BottomClass::MediumSand)], three_widths());
    input.shelter = Some(shelter(4.0, 2.4, 5));
    input.settings.goal = Goal::SCHOOL;
    Prepared::new(&input, &Cancel::never()).unwrap()
}

#[test]
fn the_tree_holds_the_findings_own_numbers() {
    let prepared = everything();
    let mut findings: Vec<Finding> = Vec::new();
    for spot in 0..prepared.spot_count() {
        prepared.evaluate_spot(spot, &mut Scratch::new(), &mut findings, &Cancel::never()).unwrap();
    }
    for finding in findings {
        let root = explain(&prepared, finding.spot, finding.option).unwrap();
        let (criteria, gains, d) = (finding.criteria, finding.gains, finding.desirability);
        let expected = [
            ("score", Some(finding.score)),
            ("coverage_radius_m", Some(criteria.coverage_radius.get())),
            ("coverage_area_m2", Some(criteria.coverage_area_m2)),
            ("watch_footprint_m", Some(criteria.watch_footprint.get())),
            ("range_cell_m", Some(criteria.range_cell.get())),
            ("single_fish_probability", Some(criteria.single_fish_probability)),
            ("dead_zone_height_m", Some(criteria.dead_zone_height.get())),
            ("lure_over_vegetation_db", criteria.lure_over_vegetation.map(|v| v.get())),
            ("headroom_db", criteria.headroom.map(|v| v.get())),
            ("interference_fraction", Some(criteria.interference_fraction)),
            ("lure_gain_db", Some(gains.lure.get())),
            ("bottom_gain_db", Some(gains.bottom.get())),
            ("working_gain_db", Some(gains.working.get())),
            ("clear_gain_db", gains.clear.map(|v| v.get())),
            ("search_gain_db", Some(gains.search.get())),
            ("max_gain_db", Some(gains.max.get())),
            ("coverage_desirability", Some(d.coverage)),
            ("clutter_desirability", Some(d.clutter)),
            ("resolution_desirability", Some(d.resolution)),
            ("interference_desirability", Some(d.interference)),
        ];
        for (name, value) in expected {
            let mut found = Vec::new();
            values(&root, name, &mut found);
            match value {
                // A figure may stand in several places; it is bit for bit the same in all of them.
                Some(value) => {
                    assert!(
                        !found.is_empty() && found.iter().all(|v| *v == value),
                        "{name}: {value} against {found:?}"
                    );
                }
                None => assert!(found.is_empty(), "{name} is explained but absent"),
            }
        }
    }
}

#[test]
fn every_step_has_a_title_and_every_figure_a_finite_value_and_a_source() {
    let prepared = everything();
    for spot in 0..prepared.spot_count() {
        for option in 0..prepared.option_count() {
            let root = explain(&prepared, spot, option).unwrap();
            walk(&root, &mut |step| {
                assert!(step.title.text() != *step.title.key && !step.name.is_empty(), "{step:?}");
                if let Some(value) = step.value {
                    assert!(value.is_finite(), "{}: {value}", step.name);
                }
            });
            // A figure is sourced where it is explained; where it is only named again, it has no inputs either.
            walk(&root, &mut |step| {
                if step.value.is_some() && !step.inputs.is_empty() && step.name != "cover_strength_db" {
                    assert!(step.source.is_some(), "{} has no source", step.name);
                }
            });
        }
    }
}

#[test]
fn the_sums_add_up() {
    let prepared = everything();
    let root = explain(&prepared, 0, 1).unwrap();
    let one = |name: &str| {
        let mut found = Vec::new();
        values(&root, name, &mut found);
        found[0]
    };
    // EL_lure = SL − 2 TL + TS + 2 B, from the printed figures alone.
    let lure = one("source_level_db") - one("lure_loss_db") + one("lure_strength_db") + 2.0 * one("lure_beam_db");
    assert!((lure - one("lure_echo_db")).abs() < 1.0e-9);
    let bottom = one("source_level_db") - one("bottom_loss_db")
        + one("bottom_strength_db")
        + 10.0 * libm::log10(one("bottom_area_m2"));
    assert!((bottom - one("bottom_echo_db")).abs() < 1.0e-9);
    assert!((one("clear_gain_db") - one("working_gain_db") - one("headroom_db")).abs() < 1.0e-9);
    // The score from its desirabilities and weights.
    let names =
        ["coverage_desirability", "clutter_desirability", "resolution_desirability", "interference_desirability"];
    let (mut logs, mut total) = (0.0, 0.0);
    for name in names {
        let weight = one(&format!("{name}_weight"));
        logs += weight * libm::log(one(name));
        total += weight;
    }
    assert!((one("reserve") * libm::exp(logs / total) - one("score")).abs() < 1.0e-12);
}

#[test]
fn an_unknown_index_is_an_error() {
    let prepared = everything();
    for (spot, option) in [(9, 0), (0, 9)] {
        let error = explain(&prepared, spot, option).unwrap_err().to_string();
        assert!(error.contains("9 is asked for; accepted: 0 to"), "{error}");
    }
}
