//! Point 9: the ice is a sheet of the spot's thickness; what it sends back down, neighbours hear.

use acoustics::ice::sheet_loss;
use acoustics::units::{Hertz, Metres};
use domain::selection::RunInput;
use proptest::prelude::*;

use super::scene::scenes;

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn ice_that_sends_more_back_leaves_less_gain(scene in scenes(), ice in 0.05..1.2_f64) {
        let scene = scene.shared();
        let at = |ice: Option<f64>| {
            let change = |input: &mut RunInput| input.spots[0].ice_thickness = ice.map(Metres::new);
            scene.changed(change).gains.clear.unwrap().get()
        };
        let loss =
            |ice: f64| sheet_loss(Metres::new(ice), Hertz::from_khz(200.0), Hertz::from_khz(10.0)).unwrap().get();
        let (usual, there) = (at(None), at(Some(ice)));
        let (more, least) = (loss(ice) - loss(0.4), (loss(ice) - loss(0.4)).abs());
        prop_assert!((there - usual) * more >= -0.02, "{there} and {usual} dB, {more} dB more lost");
        // The first bounce does not touch the ice; the third does twice.
        prop_assert!((there - usual).abs() <= 2.0 * least + 0.02, "{there} and {usual} dB, {more} dB more lost");
    }
}
