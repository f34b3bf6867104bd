//! A steep-skirted wide beam of several elements beside a plain one of like width, from 5 to 25 ft: what sets them apart, and what does not.
//!
//! At the width as stated the two are one beam. A shaded aperture has lower side lobes and steeper skirts, so that a gain turned up shows less of the water
//! with it. Alone over level ground that is all there is: it covers less, a mark at the lure is as wide, and it should not be first. What skirts are for is
//! what comes from the side. With neighbours they leave 5 to 20 dB more gain, and from some 14 ft on, where plain ones begin to hear one another before they
//! show enough, the shaded one should be first, and is.

use domain::selection::{Finding, Goal};
use domain::{BottomClass, Fact, PatternKind};
use proptest::prelude::*;

use super::scene::{Scene, sends, width};
use acoustics::units::Db;

fn both(scene: &Scene, degrees: f64, lobe: f64, goal: Goal) -> (Finding, Finding) {
    let shaded = PatternKind::ShadedCircular { beamwidth: width(degrees), peak_side_lobe: Fact::stated(Db::new(lobe)) };
    let plain = PatternKind::CircularPiston { beamwidth: width(degrees) };
    let at = |pattern| scene.with(sends(pattern), |input| input.settings.goal = goal);
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
        let (shaded, plain) = both(&bare(depth, bottom, 1), degrees, lobe, Goal::WatchLure);
        // Down to its first null a plain lobe is the thinner one: by so much a shaded one may cover more where gain stays low.
        let (s, p) = (shaded.criteria.coverage_radius.get(), plain.criteria.coverage_radius.get());
        prop_assert!(s <= 1.15 * p, "{s} and {p} m");
        prop_assert!(shaded.score <= plain.score + 0.04, "{} and {}", shaded.score, plain.score);
        // Still less for who looks for fish.
        let (shaded, plain) = both(&bare(depth, bottom, 1), degrees, lobe, Goal::Search);
        prop_assert!(shaded.score <= plain.score + 0.04, "{} and {}", shaded.score, plain.score);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn in_company_steep_skirts_never_cost_what_they_save(depth in 1.5..7.6_f64, bottom in grounds(), degrees in 15.0..30.0_f64, lobe in -35.0..-28.0_f64) {
        let (shaded, plain) = both(&bare(depth, bottom, 3), degrees, lobe, Goal::WatchLure);
        let clear = |f: &Finding| f.gains.clear.unwrap().get();
        // Where wide lobes themselves overlap, the plain one, thinner down to its first null, may hear a little less.
        prop_assert!(clear(&shaded) >= clear(&plain) - 2.5, "{} and {} dB", clear(&shaded), clear(&plain));
    }
}

#[test]
fn alone_the_plain_one_is_first_from_5_to_25_feet_and_in_company_the_shaded_one_from_16_on() {
    for feet in [5.0, 8.0, 12.0, 16.0, 20.0, 25.0] {
        let at = |people| both(&bare(0.3048 * feet, BottomClass::Silt, people), 19.0, -30.0, Goal::WatchLure);
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
