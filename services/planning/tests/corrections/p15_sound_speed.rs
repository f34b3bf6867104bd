//! Point 15: sound speed takes the depth into account. The rise under pressure is IAPWS-95's, compared in `tests/tests/reference`.

use acoustics::units::Celsius;
use domain::selection::ExplainStep;
use domain::{BottomClass, Cancel};
use planning::explain;
use planning::selection::Prepared;
use proptest::prelude::*;

use crate::common::{piston, run, spot};

fn speed(step: &ExplainStep) -> Option<f64> {
    if step.name == "sound_speed_m_s" { step.value } else { step.inputs.iter().find_map(speed) }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_mean_speed_rises_with_the_depth_by_half_of_what_its_foot_does(depth in 1.0..100.0_f64, more in 1.0..100.0_f64, warm in 0.5..4.0_f64) {
        let at = |depth: f64| {
            let mut place = spot("s", depth, BottomClass::Rock);
            place.bottom_temperature = Celsius::new(warm);
            let prepared = Prepared::new(&run(vec![place], vec![piston("p", 20.0)]), &Cancel::never()).unwrap();
            speed(&explain(&prepared, 0, 0).unwrap()).unwrap()
        };
        let (near, far) = (at(depth), at(depth + more));
        // 1.606 m/s per MPa at 4 °C and 9.81 kPa a metre (IAPWS-95); the mean is in the middle of the column.
        let expected = 0.5 * more * 1.606e-6 * 9.81e3;
        prop_assert!((far - near - expected).abs() <= 0.05 * expected + 0.001, "{near} and {far} m/s");
        // At 18 m it is 0.02 %.
        prop_assert!(more < 36.0 || (far - near) / near > 0.000_15);
    }
}
