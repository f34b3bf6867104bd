//! Point 3: what confirmation leaves of neighbours follows how far their marks move between pings, without a jump. Ping trains are simulated against it
//! in `acoustics/tests/confirmation.rs`.

use acoustics::units::Seconds;
use domain::selection::RunInput;
use domain::{Confirmation, Fact};
use proptest::prelude::*;

use super::scene::{Scene, scenes};

fn clear(scene: &Scene, confirmation: Confirmation, jitter: f64, interval: f64) -> f64 {
    let change = |input: &mut RunInput| {
        let sensor = &mut input.sensors[0];
        sensor.confirmation = confirmation;
        sensor.ping_jitter = Fact::stated(jitter);
        sensor.ping_interval = Fact::stated(Seconds::new(interval));
    };
    scene.changed(change).gains.clear.unwrap().get()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn confirmation_helps_with_the_jitter_and_never_jumps(
        scene in scenes(), marks in 1u32..4, more in 0u32..3, jitter in 0.0003..0.2_f64, interval in 0.05..0.2_f64,
    ) {
        let scene = Scene { slope: 0.0, ..scene.shared() };
        let confirmation = Confirmation { marks, pings: marks + more };
        let at = |jitter: f64| clear(&scene, confirmation, jitter, interval);
        let (there, on) = (at(jitter), at(jitter * 1.05));
        // More of it moves the marks farther, which never confirms more of them; by a twentieth, no more than a stated part.
        prop_assert!(on >= there - 0.1, "{there} and {on} dB");
        prop_assert!(on <= there + 1.5, "{there} and {on} dB");
        // One mark more of as many pings never draws more.
        let fewer = clear(&scene, Confirmation { marks: marks - u32::from(marks > 1), ..confirmation }, jitter, interval);
        prop_assert!(there >= fewer - 0.1, "{there} and {fewer} dB");
    }
}
