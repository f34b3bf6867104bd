//! Goals of the user's own: what is weighed by is what was given, and presets weigh as they did.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

mod common;

use common::*;
use domain::desirability::overall;
use domain::goal::{Weighing, Weights};
use domain::selection::{ExplainStep, Finding, RunInput};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, CustomGoal, Goal, Preset};
use planning::explain;
use planning::selection::{Prepared, Scratch};

use acoustics::units::Metres;

fn own(title: &str, weighing: Weighing) -> Goal {
    let goal = CustomGoal { id: id("own"), display_name: title.to_owned(), notes: NOTES.to_owned(), weighing };
    assert_eq!(goal.check(), []);
    Goal::Custom(Box::new(goal))
}

/// Weeds of several heights and beams of several widths, shared by three, with draws.
fn input(goal: Goal) -> RunInput {
    let spots = [(4.0, 0.6), (7.0, 1.5), (12.0, 0.0)].map(|(depth, weeds)| {
        let mut spot = spot(&format!("m{depth}"), depth, BottomClass::FineSand);
        let plants = Canopy { height: Metres::new(weeds), density: CanopyDensity::Dense, volume_strength: None };
        spot.canopy = (weeds > 0.0).then_some(plants);
        spot
    });
    let mut input = run(spots.to_vec(), [7.0, 10.0, 14.0, 19.0, 26.0].map(|d| piston(&format!("d{d}"), d)).to_vec());
    input.shelter = Some(shelter(4.2, 2.4, 3));
    input.settings.draws = 48;
    input.settings.goal = goal;
    input
}

fn findings(input: &RunInput) -> Vec<Finding> {
    let prepared = Prepared::new(input, &Cancel::never()).unwrap();
    let mut found = Vec::new();
    for spot in 0..input.spots.len() {
        prepared.evaluate_spot(spot, &mut Scratch::new(), &mut found, &Cancel::never()).unwrap();
    }
    found
}

#[test]
fn a_goal_with_the_figures_of_a_preset_finds_what_the_preset_finds_bit_for_bit() {
    for preset in Preset::ALL {
        let (of_preset, of_own) =
            (findings(&input(Goal::Preset(preset))), findings(&input(own("Mine", preset.weighing()))));
        assert!(of_preset.iter().any(|finding| finding.score > 0.0));
        assert_eq!(of_preset, of_own, "{preset:?}");
        let bits = |found: &[Finding]| found.iter().map(|finding| finding.score.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&of_preset), bits(&of_own), "{preset:?}");
    }
}

#[test]
fn a_goal_that_weighs_only_clutter_ranks_by_clutter() {
    let usual = Preset::WatchLure.weighing();
    let weights = Weights { coverage: 0.0, clutter: 2.5, resolution: 0.0, interference: 0.0 };
    let (plain, only) =
        (findings(&input(Goal::WATCH_LURE)), findings(&input(own("Clutter", Weighing { weights, ..usual }))));
    let mut moved = 0;
    for (plain, only) in plain.chunks(5).zip(only.chunks(5)) {
        let mut by_rank: Vec<(u32, f64)> = Vec::new();
        for (plain, only) in plain.iter().zip(only) {
            assert_eq!((plain.desirability, plain.failures.len()), (only.desirability, only.failures.len()));
            let d = plain.desirability;
            let all = overall(&[d.coverage, d.clutter, d.resolution, d.interference], &usual.weights.as_array());
            // What the nearness of a failure leaves of a score does not depend on the goal.
            let expected = if plain.score > 0.0 { plain.score / all * d.clutter } else { 0.0 };
            assert!((only.score - expected).abs() < 1e-12, "{} beside {expected}", only.score);
            by_rank.push((only.rank, expected));
            moved += u32::from(plain.rank != only.rank);
        }
        by_rank.sort_by_key(|(rank, _)| *rank);
        assert!(by_rank.windows(2).all(|pair| pair[0].1 >= pair[1].1 - 1e-12), "{by_rank:?}");
    }
    assert!(moved > 0, "no rank moved, so that nothing was seen");
}

#[test]
fn an_explanation_names_the_goal_and_prints_its_weights_and_limits() {
    let mut weighing = Preset::WeedEdge.weighing();
    weighing.weights.clutter = 6.25;
    weighing.limits.dead_zone_height.worthless = 0.73;
    let prepared = Prepared::new(&input(own("Perch over weeds", weighing)), &Cancel::never()).unwrap();
    let root = explain(&prepared, 0, 2).unwrap();
    assert!(root.text.iter().any(|sentence| sentence.text().contains("Perch over weeds")), "{:?}", root.text);
    let (mut weights, mut limits) = (Vec::new(), Vec::new());
    walk(&root, &mut |step| {
        if step.name == "clutter_desirability_weight" {
            weights.push((step.value, step.source.map(|source| source.text())));
        }
        limits.extend(step.text.iter().map(|sentence| sentence.text()).filter(|text| text.contains("at 0.73 m,")));
    });
    assert_eq!(weights, [(Some(6.25), Some("goal of the user's own".to_owned()))]);
    assert_eq!(limits, ["Worth nothing at 0.73 m, ideal at 0.1 m."]);
}

fn walk(step: &ExplainStep, visit: &mut impl FnMut(&ExplainStep)) {
    visit(step);
    for input in &step.inputs {
        walk(input, visit);
    }
}
