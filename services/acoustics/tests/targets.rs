//! Means over the aspects of a body against their geometric limits, and what gas does to mud.
#![allow(missing_docs, clippy::disallowed_methods, clippy::unwrap_used)]

use acoustics::bottom::{BottomClass, GASSY_REFLECTION_LOSS, Gas, gas_rise, wood_reflection};
use acoustics::target::{FishClass, fitted_elsewhere, mean_disc};
use acoustics::units::{Hertz, Metres, MetresPerSecond};

#[test]
fn a_large_disc_over_all_aspects_is_its_geometric_limit() {
    // Support: the mean of σ of a large convex body over all aspects is its surface over 16π, as of a sphere (4πa²/16π = a²/4); the two faces of
    // a disc make a²/8. The same from ∫ (A/λ)² (2 J₁(β)/β)² sin θ dθ with ∫ J₁²(x)/x dx = ½.
    for millimetres in [40.0, 60.0] {
        let ts = mean_disc(Metres::new(1e-3 * millimetres), Hertz::from_khz(300.0), MetresPerSecond::new(1412.0))
            .unwrap()
            .get();
        let limit = 10.0 * ((0.5e-3 * millimetres).powi(2) / 8.0).log10();
        assert!((ts - limit).abs() < 0.5, "{ts} against {limit} dB");
    }
}

#[test]
fn gas_makes_mud_reflect_and_scatter_like_rock() {
    let gassy = -20.0 * wood_reflection(0.9, (2000.0, 3.6e10), 0.001, 2.0e5).abs().log10();
    assert!((gassy - GASSY_REFLECTION_LOSS.get()).abs() < 0.1, "{gassy}");
    for class in BottomClass::ALL {
        for khz in [50.0, 200.0, 800.0] {
            let rise = |gas| gas_rise(class, gas, Hertz::from_khz(khz)).unwrap().get();
            assert!(rise(Gas::No) == 0.0);
            assert_eq!(rise(Gas::Yes) > 5.0, class.may_hold_gas(), "{class:?} at {khz} kHz: {}", rise(Gas::Yes));
        }
    }
}

#[test]
fn a_regression_of_fish_is_wider_away_from_its_frequencies() {
    let at = |khz: f64| fitted_elsewhere(FishClass::ClosedSwimBladder, Hertz::from_khz(khz));
    assert!(at(38.0) == 0.0 && at(83.0) > 1.0 && at(200.0) > at(83.0) && at(15.0) > 0.0);
}
