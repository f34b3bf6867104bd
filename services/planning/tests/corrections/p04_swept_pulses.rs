//! A swept pulse is worth what the plain pulse of its cell is, towards lure, bottom and neighbours alike.

use crate::common::{piston, run, shelter, spot};
use acoustics::units::{Hertz, Seconds, SourceLevel};
use domain::{BottomClass, Cancel, Fact, Sensor, Source};
use planning::selection::Prepared;
use proptest::prelude::*;

fn sends(name: &str, degrees: f64, micros: f64, sweep_khz: Option<f64>, band_khz: f64) -> Sensor {
    let mut sensor = piston(name, degrees);
    let option = &mut sensor.options[0];
    option.source = Source::Stated(Fact::stated(SourceLevel::new(207.0)));
    option.pulse_length = Fact::stated(Seconds::from_micros(micros));
    option.sweep_bandwidth = sweep_khz.map(|khz| Fact::stated(Hertz::from_khz(khz)));
    option.receiver_bandwidth = Fact::stated(Hertz::from_khz(band_khz));
    sensor
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn a_sweep_has_the_gains_of_the_plain_pulse_of_its_cell(
        degrees in 8.0..24.0_f64, depth in 3.0..15.0_f64, khz in 20.0..60.0_f64, times in 2.0..40.0_f64,
    ) {
        // By definition of compression: the sweep's matched filter leaves a pulse of 1/B.
        let micros = 1.0e3 / khz;
        let swept = sends("swept", degrees, times * micros, Some(khz), khz);
        let plain = sends("plain", degrees, micros, None, khz);
        let mut input = run(vec![spot("a", depth, BottomClass::Silt)], vec![swept, plain]);
        input.shelter = Some(shelter(4.2, 2.4, 5));
        let prepared = Prepared::new(&input, &Cancel::never()).unwrap();
        let findings = prepared.evaluate(0..1, &Cancel::never()).unwrap();
        let (swept, plain) = (&findings[0], &findings[1]);
        for (a, b) in [
            (swept.gains.clear.unwrap(), plain.gains.clear.unwrap()),
            (swept.gains.bottom, plain.gains.bottom),
            (swept.gains.lure, plain.gains.lure),
        ] {
            prop_assert!((a - b).get().abs() < 0.2, "{:?} against {:?}", swept.gains, plain.gains);
        }
    }
}
