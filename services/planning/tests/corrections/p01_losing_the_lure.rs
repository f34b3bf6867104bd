//! Losing the lure never pays: the lure's place in the beam against scores and ranks.

use crate::common::{piston, run, shelter, spot};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Angle, Beamwidth, Db, FullAngle, HalfAngle, Metres, WidthLevel};
use domain::Goal;
use domain::desirability::TAIL;
use domain::selection::{Failure, Finding, Notice};
use domain::{BottomClass, Cancel, Canopy, CanopyDensity, Fact, PatternKind, Spot};
use planning::selection::Prepared;
use proptest::prelude::*;

/// Widths of the options of the table, degrees.
const WIDTHS: [f64; 6] = [6.0, 8.0, 11.0, 15.0, 19.0, 26.0];
/// Two-way loss towards the lure from which it is lost, dB: what the reserve of the model allows.
const LOST: f64 = 15.0;

/// Two-way loss of a piston towards the lure of a spot, dB.
fn loss(width: f64, spot: &Spot) -> f64 {
    let beamwidth = Beamwidth { full: FullAngle::from_degrees(width), at: WidthLevel::Minus3 };
    let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0)).unwrap();
    let angle = libm::atan2(spot.hole_radius.get(), spot.depth.get() - spot.lure_height.get());
    -2.0 * pattern.level(HalfAngle::new(angle)).get()
}

#[test]
fn in_the_shallows_the_first_rank_never_goes_to_an_option_that_has_lost_the_lure() {
    // A hand's breadth to a wide hole, or a transducer that hangs at one rim and the lure at the other.
    let radii = [0.1, 0.2, 0.3];
    let spots: Vec<Spot> = (0_u32..90)
        .map(|i| {
            let depth = 0.7 + 2.9 * f64::from(i / 3) / 29.0;
            let hole_radius = Metres::new(radii[i as usize % 3]);
            Spot { id: crate::common::id(&format!("s{i}")), hole_radius, ..spot("s", depth, BottomClass::Silt) }
        })
        .collect();
    let sensors = WIDTHS.iter().enumerate().map(|(i, width)| piston(&format!("p{i}"), *width)).collect();
    let mut input = run(spots, sensors);
    for goal in Goal::PRESETS {
        input.settings.goal = goal.clone();
        let found = Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..90, &Cancel::never()).unwrap();
        let mut lost = Vec::new();
        for best in found.iter().filter(|f| f.rank == 1 && f.failures.is_empty()) {
            let loss = loss(WIDTHS[best.option], &input.spots[best.spot]);
            if loss > LOST {
                lost.push((input.spots[best.spot].depth.get(), WIDTHS[best.option], loss, best.score));
            }
        }
        println!("{goal:?}: {} of 90 first ranks go to an option that has lost the lure", lost.len());
        assert!(lost.is_empty(), "{goal:?}: {lost:?}");
    }
}

/// One spot and one option; everything that the properties vary.
#[derive(Debug, Clone)]
struct Scene {
    depth: f64,
    bottom: BottomClass,
    slope: f64,
    width: f64,
    shading: Option<f64>,
    people: u32,
    weeds: bool,
    goal: Goal,
}

fn scenes() -> impl Strategy<Value = Scene> {
    let beam = (4.0..45.0_f64, prop::option::of(20.0..40.0_f64));
    let place = (0.7..30.0_f64, prop::sample::select(BottomClass::ALL.to_vec()), prop_oneof![Just(0.0), 0.0..30.0_f64]);
    (place, beam, 1_u32..4, any::<bool>(), prop::sample::select(Goal::PRESETS.to_vec())).prop_map(
        |((depth, bottom, slope), (width, shading), people, weeds, goal)| Scene {
            depth,
            bottom,
            slope,
            width,
            shading,
            people,
            weeds,
            goal,
        },
    )
}

fn judged(scene: &Scene, offset: f64) -> Finding {
    let mut place = Spot { slope: Angle::from_degrees(scene.slope), ..spot("s", scene.depth, scene.bottom) };
    if scene.weeds {
        let height = Metres::new(0.3 * scene.depth);
        place.canopy = Some(Canopy { height, density: CanopyDensity::Sparse, volume_strength: None });
    }
    let mut sensor = piston("p", scene.width);
    if let (PatternKind::CircularPiston { beamwidth }, Some(lobe)) = (sensor.options[0].pattern.clone(), scene.shading)
    {
        sensor.options[0].pattern =
            PatternKind::ShadedCircular { beamwidth, peak_side_lobe: Fact::stated(Db::new(-lobe)) };
    }
    let mut input = run(vec![place], vec![sensor]);
    input.shelter = (scene.people > 1).then(|| shelter(5.0, 3.0, scene.people));
    input.settings.goal = scene.goal.clone();
    input.settings.lure_offset = Some(Metres::new(offset));
    Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..1, &Cancel::never()).unwrap().remove(0)
}

/// By how much the second finding may pass the first although its lure is nearer to being lost. Here two corrections pull apart: a criterion
/// in its tail must go on telling bad from worse (point 11), a narrower beam that loses the lure must not gain (point 1). On slopes over 15°
/// narrowing by a per cent can shorten a dead zone that is hopeless already by more than the lure loses: in 6 of some 10,000 random cases, five of them
/// with scores under 0.03 and one from 0.20 to 0.21. The tail is kept, and what it lets a score rise by is all that it may rise by; so with the
/// last 3 dB of a dial.
fn tails_and_room(wide: &Finding, narrow: &Finding, goal: &Goal) -> f64 {
    let figures = |f: &Finding| {
        [f.desirability.coverage, f.desirability.clutter, f.desirability.resolution, f.desirability.interference]
    };
    let weights = goal.weighing().weights.as_array();
    let total: f64 = weights.iter().sum();
    let tails = figures(wide).into_iter().zip(figures(narrow)).zip(weights).filter(|((before, _), _)| *before < TAIL);
    let tails: f64 = tails.map(|((b, a), weight)| libm::pow((a / b).max(1.0), weight / total)).product();
    let room = |f: &Finding| ((f.gains.max.get() - f.gains.working.get()) / 3.0).clamp(0.01, 1.0);
    tails * (room(narrow) / room(wide)).max(1.0)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn moving_the_lure_off_the_axis_never_raises_a_score(scene in scenes(), offset in 0.0..2.0_f64, more in 0.01..1.0_f64) {
        let (near, far) = (judged(&scene, offset), judged(&scene, offset + more));
        prop_assert!(far.score <= near.score * (1.0 + 1.0e-9), "{} m: {}, {} m: {}", offset, near.score, offset + more, far.score);
        prop_assert!(far.criteria.coverage_radius <= near.criteria.coverage_radius);
        prop_assert!(near.gains.search.get() >= near.gains.working.get().min(near.gains.max.get()));
    }

    #[test]
    fn narrowing_a_beam_beyond_the_notice_never_raises_a_score_but_by_tails(
        scene in scenes(), part in 0.1..1.0_f64, narrower in 0.9..0.999_f64,
    ) {
        // Alone: neighbours of a narrower beam do hear less of one another, which may outweigh what the lure loses by some thousandths.
        let scene = Scene { people: 1, ..scene };
        // The lure between the edge of the beam as stated and twice as far out.
        let edge = libm::tan(0.5 * scene.width.to_radians());
        let depth = scene.depth - spot("s", scene.depth, scene.bottom).lure_height.get();
        let offset = (depth * edge * (1.0 + part)).min(5.0);
        let wide = judged(&scene, offset);
        let noticed = wide.notices.iter().any(|n| matches!(n, Notice::LureNearLobeEdge { .. }));
        let lost = wide.failures.iter().any(|f| matches!(f, Failure::LureOutsideBeam { .. }));
        prop_assume!(noticed || lost);
        prop_assume!(wide.failures.iter().all(|f| matches!(f, Failure::LureOutsideBeam { .. })));
        let narrow = judged(&Scene { width: scene.width * narrower, ..scene.clone() }, offset);
        let rise = tails_and_room(&wide, &narrow, &scene.goal);
        prop_assert!(narrow.score <= wide.score * rise * (1.0 + 1.0e-9), "{} to {}, {}", wide.score, narrow.score, rise);
    }

    #[test]
    fn a_score_has_come_down_before_the_lure_is_lost(scene in scenes()) {
        let alone = Scene { people: 1, ..scene };
        let (mut low, mut high) = (0.0, 5.0);
        let lost = |f: &Finding| f.failures.iter().any(|f| matches!(f, Failure::LureOutsideBeam { .. }));
        prop_assume!(lost(&judged(&alone, high)) && judged(&alone, low).failures.is_empty());
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if lost(&judged(&alone, middle)) { high = middle } else { low = middle }
        }
        let last = judged(&alone, low);
        prop_assert!(last.score <= 0.0101, "{} at {} m", last.score, low);
        let noticed = last.notices.iter().any(|n| matches!(n, Notice::LureNearLobeEdge { .. }));
        prop_assert!(noticed || !last.failures.is_empty());
    }
}
