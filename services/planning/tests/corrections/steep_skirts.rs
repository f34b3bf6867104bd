//! A steep-skirted wide beam of several elements beside a plain one of like width, from 5 to 25 ft: what sets them apart, and what does not.
//!
//! At the width as stated the two are one beam. A shaded aperture has lower side lobes and steeper skirts, so that a gain turned up shows less of the water
//! with it. Alone over level ground that is all there is: it covers less, a mark at the lure is as wide, and it should not be first. What skirts are for is
//! what comes from the side. With neighbours they mostly leave 2 to 20 dB more gain, and from some 14 ft on, where plain ones begin to hear one another before they
//! show enough, the shaded one should be first, and is.

use domain::Goal;
use domain::selection::Finding;
use domain::{BottomClass, Fact, PatternKind};
use proptest::prelude::*;
use proptest::strategy::ValueTree as _;
use proptest::test_runner::TestRunner;

use super::scene::{Scene, sends, width};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Db, HalfAngle};

fn both(scene: &Scene, degrees: f64, lobe: f64, goal: Goal) -> (Finding, Finding) {
    let shaded = PatternKind::ShadedCircular { beamwidth: width(degrees), peak_side_lobe: Fact::stated(Db::new(lobe)) };
    let plain = PatternKind::CircularPiston { beamwidth: width(degrees) };
    let at = |pattern| scene.with(sends(pattern), |input| input.settings.goal = goal.clone());
    (at(shaded), at(plain))
}

fn bare(depth: f64, bottom: BottomClass, people: u32) -> Scene {
    Scene { depth, bottom, slope: 0.0, width: 0.0, boulder: None, plants: None, threshold: 150.0, people }
}

fn grounds() -> impl Strategy<Value = BottomClass> {
    prop::sample::select(BottomClass::ALL.to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn alone_on_level_ground_steep_skirts_cover_less_and_are_not_first(
        depth in 1.5..7.6_f64, bottom in grounds(), degrees in 15.0..30.0_f64, lobe in -35.0..-28.0_f64,
    ) {
        let (shaded, plain) = both(&bare(depth, bottom, 1), degrees, lobe, Goal::WATCH_LURE);
        // Down to its first null a plain lobe is the thinner one: by so much a shaded one may cover more where gain stays low.
        let (s, p) = (shaded.criteria.coverage_radius.get(), plain.criteria.coverage_radius.get());
        prop_assert!(s <= 1.15 * p, "{s} and {p} m");
        prop_assert!(shaded.score <= plain.score + 0.04, "{} and {}", shaded.score, plain.score);
        // Still less for who looks for fish.
        let (shaded, plain) = both(&bare(depth, bottom, 1), degrees, lobe, Goal::SEARCH);
        prop_assert!(shaded.score <= plain.score + 0.04, "{} and {}", shaded.score, plain.score);
    }
}

/// Figures of a pattern as the scenes have it, floor included.
fn compiled(aperture: &Aperture) -> Pattern {
    Pattern::new(aperture, Db::new(-40.0)).unwrap()
}

/// Full width at −3 dB, degrees, of the plain beam that reaches its first null at an angle.
fn plain_width_with_null_at(angle: HalfAngle) -> f64 {
    // Patterns scale with the sine: 10° serves as any width would.
    let plain = compiled(&Aperture::CircularPiston { beamwidth: width(10.0).value });
    let null = plain.null_to_null().unwrap().half();
    let sine = plain.along().reference_sine() * libm::sin(angle.get()) / libm::sin(null.get());
    2.0 * libm::asin(sine).to_degrees()
}

/// What steep skirts save of clear gain with two neighbours, in random cases: against the plain beam of the same width at −3 dB, and against the plain one
/// of the same width at the first null.
///
/// A shaded lobe falls more slowly down to its null than a plain one of the same width at −3 dB. Where the clear gain is decided at
/// those angles (wide lobes at 5 to 7 m, mostly over soft bottoms), it is the one that shows for longer, by up to 7 dB. Beside a plain one whose lobe is as wide where
/// it ends, the shaded one is the weaker everywhere: inside, because it is narrower, and outside, because its side lobes are 11 dB lower and more.
#[test]
fn in_company_steep_skirts_cost_less_than_a_plain_lobe_as_wide_at_its_null_and_mostly_save_several_decibels() {
    let cases = (1.5..7.6_f64, grounds(), 15.0..30.0_f64, -35.0..-28.0_f64);
    let mut runner = TestRunner::default();
    let mut saved: Vec<f64> = (0..120)
        .map(|_| {
            let (depth, bottom, degrees, lobe) = cases.new_tree(&mut runner).unwrap().current();
            let beamwidth = width(degrees).value;
            let shaded = compiled(&Aperture::ShadedCircular { beamwidth, peak_side_lobe: Db::new(lobe) });
            let null = shaded.null_to_null().unwrap().half();
            let as_wide = plain_width_with_null_at(null);
            let wider = compiled(&Aperture::CircularPiston { beamwidth: width(as_wide).value });
            for share in (1..100).map(|percent| f64::from(percent) / 100.0) {
                let angle = HalfAngle::new(share * null.get());
                assert!(shaded.level(angle) <= wider.level(angle) + Db::new(0.05), "{degrees}°, {lobe} dB at {share}");
            }
            let scene = bare(depth, bottom, 3);
            let (steep, plain) = both(&scene, degrees, lobe, Goal::WATCH_LURE);
            let (_, wider) = both(&scene, as_wide, lobe, Goal::WATCH_LURE);
            let clear = |f: &Finding| f.gains.clear.unwrap().get();
            let (steep, plain, wider) = (clear(&steep), clear(&plain), clear(&wider));
            assert!(steep >= wider, "{depth} m, {bottom:?}, {degrees}°, {lobe} dB: {steep}, but {wider} dB as wide");
            steep - plain
        })
        .collect();
    saved.sort_by(f64::total_cmp);
    println!("saved: {:.1} dB at least, {:.1} in the middle, {:.1} at most", saved[0], saved[60], saved[119]);
    // In 1,400 cases: 6.5 dB in the middle, 2 at the lower quartile, −1 in one of twenty, −7 at least. The middle of 120 strays by 0.6 dB.
    assert!(saved[60] >= 4.0, "{:.1} dB in the middle", saved[60]);
}

#[test]
fn alone_the_plain_one_is_first_from_5_to_25_feet_and_in_company_the_shaded_one_from_16_on() {
    for feet in [5.0, 8.0, 12.0, 16.0, 20.0, 25.0] {
        let at = |people| both(&bare(0.3048 * feet, BottomClass::Silt, people), 19.0, -30.0, Goal::WATCH_LURE);
        let (shaded, plain) = at(1);
        println!("{feet} ft: alone {:.2} shaded, {:.2} plain", shaded.score, plain.score);
        assert!(shaded.score < plain.score);
        let (shaded, plain) = at(3);
        let left = |f: &Finding| f.criteria.headroom.unwrap().get();
        println!(
            "{feet} ft: three {:.2} ({:.0} dB), {:.2} ({:.0} dB)",
            shaded.score,
            left(&shaded),
            plain.score,
            left(&plain)
        );
        assert!(left(&shaded) >= left(&plain) + 4.0);
        assert!(feet < 16.0 || shaded.score > plain.score + 0.03);
    }
}
