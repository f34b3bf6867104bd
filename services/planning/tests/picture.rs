//! Pictures are drawn from the finding's own figures, to scale.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

mod common;

use acoustics::units::{Angle, Beamwidth, FullAngle, Metres, WidthLevel};
use common::*;
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, PatternKind, Relief, ReliefKind};
use planning::picture::{GainName, Picture, SectionPoint, draw};
use planning::selection::{Evaluation, Perturbation, Prepared};

fn drawn(prepared: &Prepared, spot: usize, option: usize) -> (Picture, Evaluation) {
    (draw(prepared, spot, option).unwrap(), prepared.figures(spot, option, &Perturbation::NONE).unwrap())
}

/// Greatest distance from the axis of a polygon at a depth, by the crossings of its edges.
fn half_width_at(polygon: &[SectionPoint], z: f64) -> f64 {
    let mut widest = 0.0_f64;
    for pair in polygon.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if (a.z.get() - z) * (b.z.get() - z) <= 0.0 && a.z != b.z {
            let share = (z - a.z.get()) / (b.z.get() - a.z.get());
            widest = widest.max((a.x.get() + share * (b.x.get() - a.x.get())).abs());
        }
    }
    widest
}

#[test]
fn the_working_outline_is_as_wide_as_the_watch_footprint_at_the_lure() {
    let prepared =
        Prepared::new(&run(vec![spot("a", 9.0, BottomClass::MediumSand)], three_widths()), &Cancel::never()).unwrap();
    for option in 0..3 {
        let (picture, figures) = drawn(&prepared, 0, option);
        let working = picture.side.outlines.iter().find(|outline| outline.name == GainName::Working).unwrap();
        let drawn = 2.0 * half_width_at(&working.main_lobe, picture.side.lure.z.get());
        let footprint = figures.criteria().watch_footprint.get();
        assert!((drawn / footprint - 1.0).abs() < 0.02, "{drawn} against {footprint}");
        assert!(picture.radii.last().unwrap().search >= picture.radii.last().unwrap().working);
    }
}

#[test]
fn higher_gains_draw_wider_outlines_and_come_first() {
    let prepared =
        Prepared::new(&run(vec![spot("a", 9.0, BottomClass::SoftMud)], three_widths()), &Cancel::never()).unwrap();
    let (picture, _) = drawn(&prepared, 0, 1);
    let widths: Vec<f64> = picture.side.outlines.iter().map(|outline| half_width_at(&outline.main_lobe, 7.0)).collect();
    assert!(widths.len() >= 2 && widths.windows(2).all(|pair| pair[0] > pair[1]), "{widths:?}");
}

#[test]
fn nothing_is_drawn_under_the_bottom() {
    let mut steep = spot("steep", 8.0, BottomClass::MediumSand);
    steep.slope = Angle::from_degrees(20.0);
    steep.relief = vec![
        Relief { kind: ReliefKind::Boulder, height: Metres::new(1.0), offset: Metres::new(0.6) },
        Relief { kind: ReliefKind::Log, height: Metres::new(0.5), offset: Metres::new(1.0) },
    ];
    steep.canopy = Some(Canopy { height: Metres::new(1.0), density: CanopyDensity::Sparse, volume_strength: None });
    let prepared = Prepared::new(&run(vec![steep], three_widths()), &Cancel::never()).unwrap();
    for option in 0..3 {
        let (picture, figures) = drawn(&prepared, 0, option);
        let bottom = |x: f64| 8.0 - x * libm::tan(20.0_f64.to_radians());
        for outline in &picture.side.outlines {
            for p in outline.main_lobe.iter().chain(outline.side_lobes.iter().flatten()) {
                assert!(p.z.get() <= bottom(p.x.get()) + 1.0e-6, "{p:?}");
            }
        }
        // The shadow reaches from the bottom up to the finding's height, straight under the hole.
        let top = picture.side.shadow.iter().filter(|p| p.x.get().abs() < 0.05).map(|p| p.z.get()).fold(9.0, f64::min);
        assert!((8.0 - top - figures.criteria().dead_zone_height.get()).abs() < 0.01, "{top}");
        assert_eq!((picture.side.relief.len(), picture.side.canopy.is_some()), (2, true));
        for shape in &picture.side.relief {
            assert!(shape.iter().all(|p| p.x.get().abs() <= picture.side.half_width.get()));
        }
    }
}

#[test]
fn the_plan_shows_the_floor_the_holes_and_the_judged_one() {
    let mut input = run(vec![spot("a", 6.0, BottomClass::MediumSand)], three_widths());
    input.shelter = Some(shelter(4.0, 2.4, 5));
    let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
    let (picture, figures) = drawn(&prepared, 0, 0);
    assert_eq!((picture.plan.holes.len(), picture.plan.floor.as_ref().map(Vec::len)), (5, Some(4)));
    let own = picture.plan.holes[picture.plan.own];
    let radius = figures.criteria().watch_footprint.get() / 2.0;
    for p in &picture.plan.watch_footprint {
        let r = libm::hypot(p.x.get() - own.x.get(), p.y.get() - own.y.get());
        assert!((r - radius).abs() < 1.0e-9);
    }
    let (low, high) = picture.plan.extent;
    for p in picture.plan.coverage.iter().chain(&picture.plan.holes) {
        assert!(low.x <= p.x && p.x <= high.x && low.y <= p.y && p.y <= high.y);
    }
}

#[test]
fn a_beam_that_is_not_round_has_a_footprint_that_is_not_round() {
    let width = |degrees| Fact::stated(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 });
    let mut sensor = piston("oblong", 12.0);
    sensor.options[0].pattern = PatternKind::Rectangular { along: width(20.0), across: width(8.0) };
    let prepared =
        Prepared::new(&run(vec![spot("a", 8.0, BottomClass::MediumSand)], vec![sensor]), &Cancel::never()).unwrap();
    let (picture, figures) = drawn(&prepared, 0, 0);
    let radii: Vec<f64> = picture.plan.watch_footprint.iter().map(|p| libm::hypot(p.x.get(), p.y.get())).collect();
    let (least, most) = radii.iter().fold((f64::INFINITY, 0.0_f64), |(a, b), r| (a.min(*r), b.max(*r)));
    assert!(most > 1.8 * least, "{least} to {most}");
    // Its area is that of the finding's figure.
    let square = radii.iter().map(|r| r * r).sum::<f64>() / 72.0;
    assert!((libm::sqrt(square) * 2.0 - figures.criteria().watch_footprint.get()).abs() < 1.0e-9);
}

#[test]
fn a_picture_does_not_depend_on_what_else_is_in_the_run() {
    let spots: Vec<_> = [(4.0, BottomClass::Gravel), (9.0, BottomClass::Silt), (16.0, BottomClass::SoftMud)]
        .iter()
        .enumerate()
        .map(|(place, (depth, bottom))| spot(&format!("s{place}"), *depth, *bottom))
        .collect();
    let mut input = run(spots, three_widths());
    input.shelter = Some(shelter(4.0, 2.4, 5));
    input.settings.draws = 64;
    let whole = Prepared::new(&input, &Cancel::never()).unwrap();
    let mut alone = input.clone();
    alone.spots = vec![input.spots[1].clone()];
    alone.options = vec![input.options[2]];
    let alone = Prepared::new(&alone, &Cancel::never()).unwrap();
    assert_eq!(draw(&whole, 1, 2), draw(&alone, 0, 0));
}
