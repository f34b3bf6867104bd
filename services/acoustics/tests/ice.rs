//! A sheet of ice against the train of its echoes.
#![allow(missing_docs, clippy::disallowed_methods, clippy::unwrap_used)]

use acoustics::ice::{UNDERSIDE_REFLECTION, sheet_loss};
use acoustics::units::{Hertz, Metres};
use proptest::prelude::*;

proptest! {
    #[test]
    fn a_sheet_sends_back_what_its_echoes_carry(thickness in 0.15..1.5_f64, khz in 30.0..800.0_f64) {
        // Support: echoes one by one. The underside sends back r²; what passes, 1 − r², comes back after one, two, … turns inside the ice. A
        // pulse shorter than a turn keeps them apart, so that their energies add.
        let turn = 2.0 * thickness / 3824.0;
        let band = 8.0 / turn;
        prop_assume!(band < 0.5e3 * khz);
        // The loss that the sheet states, per metre and kilohertz.
        let kept = 10.0_f64.powf(-2.0 * thickness * 0.03 * khz / 10.0);
        let r2 = UNDERSIDE_REFLECTION * UNDERSIDE_REFLECTION;
        let mut energy = r2;
        let mut inside = (1.0 - r2) * kept;
        for _ in 0..200 {
            energy += inside * (1.0 - r2);
            inside *= r2 * kept;
        }
        let expected = -10.0 * energy.log10();
        let loss = sheet_loss(Metres::new(thickness), Hertz::from_khz(khz), Hertz::new(band)).unwrap().get();
        prop_assert!((loss - expected).abs() < 0.1, "{loss} against {expected} dB");
    }

    #[test]
    fn thin_ice_sends_back_more_than_its_underside(thickness in 0.15..3.0_f64, khz in 30.0..800.0_f64) {
        // A wide band: over a narrow one, or of thin ice, a sheet may be just so thick that it lets sound through.
        let band = Hertz::new(0.5e3 * khz);
        let loss = sheet_loss(Metres::new(thickness), Hertz::from_khz(khz), band).unwrap().get();
        prop_assert!((-1e-9..8.0).contains(&loss), "{loss} dB");
    }
}
