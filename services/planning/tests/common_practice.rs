//! What people who fish through ice know from practice, held against the model with three generic pistons of 9°, 12° and 19° at 200 kHz.
//!
//! Every check in this file: common practice, no published source.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test")]

mod common;

use acoustics::units::{Angle, Db, Metres};
use common::sweep::{FOOT, PARTIES, sweep};
use common::{piston, run, shelter, spot, three_pistons};
use domain::selection::{Failure, Finding, Notice, RunInput};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, PatternKind, Relief, ReliefKind, Spot};
use planning::selection::Prepared;

fn findings(input: &RunInput) -> Vec<Finding> {
    Prepared::new(input, &Cancel::never()).unwrap().evaluate(0..input.spots.len(), &Cancel::never()).unwrap()
}

/// The beamwidth that ranks first at each spot.
/// Widths of the three pistons, degrees.
const BEAMS: [u32; 3] = [9, 12, 19];

fn best(spots: Vec<Spot>) -> Vec<u32> {
    let found = findings(&run(spots, three_pistons()));
    found.chunks(3).map(|spot| BEAMS[spot.iter().find(|f| f.rank == 1).unwrap().option]).collect()
}

/// The depths in feet at which the best beam changes from 19° to 12° and from 12° to 9°.
fn crossings(bottom: BottomClass) -> (f64, f64) {
    let feet: Vec<f64> = (8..=80).map(f64::from).collect();
    let best = best(
        feet.iter()
            .map(|ft| spot("s", ft * FOOT, bottom))
            .enumerate()
            .map(|(i, s)| Spot { id: common::id(&format!("s{i}")), ..s })
            .collect(),
    );
    let first = |beam: u32| feet[best.iter().position(|b| *b == beam).unwrap()];
    assert!(best.windows(2).all(|w| w[1] <= w[0]), "a deeper spot never wants a wider beam: {best:?}");
    (first(12), first(9))
}

#[test]
fn nineteen_degrees_serve_the_shallows_twelve_the_middle_nine_the_deep() {
    let (to_middle, to_narrow) = crossings(BottomClass::Silt);
    println!("firm: 19° to {to_middle} ft, 12° to {to_narrow} ft");
    assert!((20.0..=30.0).contains(&to_middle), "19° gives way at {to_middle} ft");
    assert!((38.0..=50.0).contains(&to_narrow), "12° gives way at {to_narrow} ft");
}

#[test]
fn the_softer_the_bottom_the_shallower_the_change() {
    let (firm, soft) = (crossings(BottomClass::Silt), crossings(BottomClass::OrganicOoze));
    println!("firm {firm:?} ft, soft {soft:?} ft");
    assert!(soft.0 < firm.0 && soft.1 < firm.1);
}

#[test]
fn from_6_to_70_feet_deeper_never_wants_a_wider_beam_and_weeds_want_a_narrower_one() {
    let strips = sweep(&three_pistons());
    let width = |best: Option<usize>| best.map(|beam| BEAMS[beam]);
    let mut behind = [(0.0, String::new()), (0.0, String::new())];
    for strip in &strips {
        let name = format!("{}, {}, {} anglers", strip.bottom, strip.cover, strip.party);
        let widths: Vec<u32> = strip.best.iter().filter_map(|best| width(*best)).collect();
        // Deeper never wants a wider beam. Where the first rank goes back to one all the same, the narrower is as good: the two are equals there.
        let mut narrowest = usize::MAX;
        for (foot, (best, scores)) in strip.best.iter().zip(&strip.scores).enumerate() {
            let Some(best) = *best else { continue };
            narrowest = narrowest.min(best);
            let lost = scores[best] - scores[narrowest];
            if lost > behind[usize::from(strip.party > 1)].0 {
                behind[usize::from(strip.party > 1)] = (lost, format!("{name}, {} ft", foot + 6));
            }
        }
        // All three serve somewhere in open water, but where company rules one out.
        if strip.cover == "open" && strip.party == 1 {
            assert!(BEAMS.iter().all(|beam| widths.contains(beam)), "{name}: {widths:?}");
        }
    }
    println!("a wider beam again, by so much of the score: alone {:?}, with neighbours {:?}", behind[0], behind[1]);
    // As good as the best is what is within 0.02; with neighbours side lobes come and go with depth.
    assert!(behind[0].0 <= 0.02, "{behind:?}");
    assert!(behind[1].0 <= 0.05, "{behind:?}");
    for pair in strips.chunks(2 * PARTIES.len()) {
        let (open, weeds) = pair.split_at(PARTIES.len());
        for (open, weeds) in open.iter().zip(weeds) {
            let wider =
                open.best.iter().zip(&weeds.best).filter(|(o, w)| width(**w) > width(**o) && o.is_some()).count();
            assert_eq!(wider, 0, "{}, {} anglers: weeds want a wider beam somewhere", open.bottom, open.party);
        }
    }
}

fn weedy(lure_height: f64) -> Spot {
    Spot {
        canopy: Some(Canopy { height: Metres::new(1.2), density: CanopyDensity::Dense, volume_strength: None }),
        lure_height: Metres::new(lure_height),
        ..spot("weeds", 4.0, BottomClass::SoftMud)
    }
}

#[test]
fn in_dense_weeds_the_narrower_beam_wins() {
    let mut input = run(vec![weedy(0.6)], three_pistons());
    input.settings.goal = domain::Goal::WEED_EDGE;
    let found = findings(&input);
    let ratio = |i: usize| found[i].criteria.lure_over_vegetation.unwrap().get();
    assert!(ratio(0) > ratio(1) && ratio(1) > ratio(2), "lure over plants falls with the beam's width");
    assert_eq!(found[0].rank, 1);
    assert!(matches!(
        found[2].notices.as_slice(),
        [Notice::LureDrownsInCover { .. }, ..] | [_, Notice::LureDrownsInCover { .. }]
    ));
}

#[test]
fn above_the_weeds_they_do_not_matter() {
    let found = findings(&run(vec![weedy(1.6)], three_pistons()));
    assert!(found.iter().all(|f| f.criteria.lure_over_vegetation.is_none()));
}

#[test]
fn on_a_drop_off_the_lure_is_hidden_until_it_is_above_what_the_beam_shows_uphill() {
    let slope = |lure: f64| Spot {
        slope: Angle::from_degrees(25.0),
        lure_height: Metres::new(lure),
        ..spot("drop", 10.0, BottomClass::Silt)
    };
    let low = findings(&run(vec![slope(0.3)], three_pistons()));
    let shadow = |i: usize| low[i].criteria.dead_zone_height.get();
    assert!(shadow(0) < shadow(1) && shadow(1) < shadow(2), "a wider beam hides more on a slope");
    let hidden = |f: &Finding| f.notices.iter().any(|n| matches!(n, Notice::LureInDeadZone { .. }));
    assert!(low.iter().all(hidden), "just over the bottom every beam hides it");
    let high = findings(&run(vec![slope(shadow(2) + 0.1)], three_pistons()));
    assert!(!high.iter().any(hidden), "above the highest thing in the beam it shows in all");
    let flat = findings(&run(vec![spot("flat", 10.0, BottomClass::Silt)], three_pistons()));
    assert!((0..3).all(|i| flat[i].criteria.dead_zone_height.get() < shadow(i)));
    // On a gentle slope every beam shows the nearest bottom loud enough to hide a lure, and they hide alike; never the narrower more.
    for degrees in [5.0, 10.0, 15.0, 20.0] {
        let gentle = Spot { slope: Angle::from_degrees(degrees), ..spot("gentle", 10.0, BottomClass::Silt) };
        let found = findings(&run(vec![gentle], three_pistons()));
        let hidden: Vec<f64> = found.iter().map(|f| f.criteria.dead_zone_height.get()).collect();
        assert!(hidden.windows(2).all(|w| w[0] <= w[1]), "{degrees}°: {hidden:?}");
    }
}

#[test]
fn beside_a_boulder_the_lure_is_hidden_until_it_is_above_the_boulder() {
    let beside = Spot {
        relief: vec![Relief { kind: ReliefKind::Boulder, height: Metres::new(0.8), offset: Metres::new(0.5) }],
        ..spot("boulder", 8.0, BottomClass::Gravel)
    };
    let with = findings(&run(vec![beside], three_pistons()));
    let without = findings(&run(vec![spot("plain", 8.0, BottomClass::Gravel)], three_pistons()));
    let wide = &with[2].criteria.dead_zone_height;
    assert!(wide.get() > 0.75, "the boulder's top is what the beam shows first: {}", wide.get());
    assert!(without[2].criteria.dead_zone_height.get() < 0.6);
}

#[test]
fn in_company_gain_is_kept_low_and_the_more_the_lower() {
    let headroom = |people: u32, bottom: BottomClass| {
        let mut input = run(vec![spot("flat", 6.0, bottom)], vec![piston("wide", 19.0)]);
        input.shelter = Some(shelter(4.0, 2.4, people));
        let found = findings(&input);
        (found[0].gains.clear.unwrap().get(), found[0].gains.max.get())
    };
    let (two, max) = headroom(2, BottomClass::MediumSand);
    let (six, _) = headroom(6, BottomClass::MediumSand);
    assert!(two < max, "company sets a limit under the end of the dial");
    assert!(six < two, "more neighbours, less gain");
    let alone = findings(&run(vec![spot("flat", 6.0, BottomClass::MediumSand)], vec![piston("wide", 19.0)]));
    assert!(alone[0].gains.clear.is_none());
}

#[test]
fn a_sound_unit_shows_the_lure_below_twelve_o_clock() {
    // The dial of the fixture runs evenly from 7:00 (0 dB) over 12:00 (35 dB) to 5:00. Down to 30 ft, each depth with the beam that suits it.
    let depths = [3.0, 6.0, 9.0];
    let spots = depths.iter().enumerate();
    let spots = spots.map(|(i, d)| Spot { id: common::id(&format!("s{i}")), ..spot("s", *d, BottomClass::Silt) });
    let found = findings(&run(spots.collect(), three_pistons()));
    for best in found.iter().filter(|f| f.rank == 1) {
        let gain = best.gains.lure.get();
        assert!(gain < 35.0, "at {} m the lure needs {gain} dB", depths[best.spot]);
    }
}

#[test]
fn turning_up_widens_a_plain_element_and_hardly_a_shaded_one() {
    // The same width at −3 dB, watched 24 dB over the gain that just shows a fish on the axis.
    let shaded = {
        let mut sensor = piston("shaded", 12.0);
        if let PatternKind::CircularPiston { beamwidth } = sensor.options[0].pattern.clone() {
            sensor.options[0].pattern =
                PatternKind::ShadedCircular { beamwidth, peak_side_lobe: Fact::stated(Db::new(-35.0)) };
        }
        sensor
    };
    let lobes = |sensor| {
        let prepared =
            Prepared::new(&run(vec![spot("flat", 8.0, BottomClass::Silt)], vec![sensor]), &Cancel::never()).unwrap();
        let picture = planning::picture::draw(&prepared, 0, 0).unwrap();
        picture.side.outlines.iter().map(|o| o.side_lobes.len()).sum::<usize>()
    };
    assert!(lobes(piston("plain", 12.0)) > lobes(shaded), "side lobes of the plain element show at high gain");
}

#[test]
fn in_a_hole_of_the_shallows_a_steep_narrow_beam_loses_the_lure_at_the_rim() {
    let found =
        findings(&run(vec![spot("edge", 0.8, BottomClass::Silt)], vec![piston("steep", 6.0), piston("wide", 19.0)]));
    let lost = |f: &Finding| f.failures.iter().any(|x| matches!(x, Failure::LureOutsideBeam { .. }));
    assert!(lost(&found[0]) && found[1].failures.is_empty(), "{:?}", found[1].failures);
    // A little before, it is said that the lure is about to go.
    let near = findings(&run(vec![spot("edge", 1.9, BottomClass::Silt)], vec![piston("steep", 6.0)]));
    assert!(
        near[0].notices.iter().any(|n| matches!(n, Notice::LureNearLobeEdge { .. })),
        "{:?} {:?}",
        near[0].notices,
        near[0].failures
    );
}
