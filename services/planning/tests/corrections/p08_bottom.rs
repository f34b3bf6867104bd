//! Point 8: the softer the bottom, the more gain it needs and the shallower a beam serves; gas is not known and is drawn.

use acoustics::units::{Level, TargetStrength};
use domain::{BottomClass, Fact, TargetShape};
use proptest::prelude::*;

use super::scene::{Scene, scenes};
use crate::common::{id, piston, run, spot};
use domain::selection::Finding;
use domain::{Cancel, Spot};
use planning::selection::Prepared;

/// From ooze to fine sand, the softest first: what is harder differs by roughness more than by hardness.
const SOFT: [BottomClass; 5] =
    [BottomClass::OrganicOoze, BottomClass::SoftMud, BottomClass::Clay, BottomClass::Silt, BottomClass::FineSand];

/// The depth down to which a beam serves, by a sweep of depths; none where it serves nowhere.
fn limit(width: f64, threshold: f64, bottom: BottomClass) -> Option<f64> {
    let depths: Vec<f64> = (0..60).map(|step| 2.0 * libm::pow(30.0, f64::from(step) / 59.0)).collect();
    let spots = depths.iter().enumerate().map(|(i, d)| Spot { id: id(&format!("s{i}")), ..spot("s", *d, bottom) });
    let mut input = run(spots.collect(), vec![piston("p", width)]);
    input.sensors[0].threshold = Fact::stated(Level::new(threshold));
    let found = Prepared::new(&input, &Cancel::never()).unwrap().evaluate(0..depths.len(), &Cancel::never()).unwrap();
    found.iter().zip(depths).rfind(|(f, _)| f.failures.is_empty()).map(|(_, depth)| depth)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_softer_the_more_gain_and_the_shallower(scene in scenes(), threshold in 150.0..175.0_f64) {
        let at = |bottom| Scene { bottom, ..scene.clone() }.judged().gains.bottom.get();
        let gains: Vec<f64> = SOFT.iter().map(|bottom| at(*bottom)).collect();
        prop_assert!(gains.windows(2).all(|pair| pair[0] >= pair[1] - 0.05), "{gains:?}");
        let limits: Vec<f64> = SOFT.iter().map(|bottom| limit(scene.width, threshold, *bottom).unwrap_or(0.0)).collect();
        prop_assert!(limits.windows(2).all(|pair| pair[0] <= pair[1]), "{limits:?}");
        // From end to end it shows: by more than the steps of the sweep.
        prop_assert!(gains[0] >= gains[4] + 3.0 || gains[0] == 0.0, "{gains:?}");
    }

    #[test]
    fn what_is_not_known_of_mud_is_drawn(scene in scenes()) {
        let scene = Scene { threshold: 172.0, ..scene.bare() };
        let drawn = |bottom| Scene { bottom, ..scene.clone() }.changed(|input| {
            input.settings.draws = 400;
            // So loud a lure that the bottom alone asks for gain.
            input.lure.shape = TargetShape::Known(Fact::stated(TargetStrength::new(0.0)));
        });
        let (mud, sand) = (drawn(BottomClass::SoftMud), drawn(BottomClass::MediumSand));
        let spread = |f: &Finding| {
            let band = f.uncertainty.as_ref().unwrap().working_gain_db;
            band.high - band.low
        };
        // With gas in one of five, mud may echo like rock.
        let bottom_leads = |f: &Finding| f.gains.bottom.get() > f.gains.lure.get() + 6.0;
        prop_assume!(bottom_leads(&sand) && mud.gains.bottom < mud.gains.max);
        prop_assert!(spread(&mud) > spread(&sand) + 2.0, "{} and {}", spread(&mud), spread(&sand));
    }
}
