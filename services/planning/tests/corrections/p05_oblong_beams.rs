//! Point 5: an oblong beam is neither its wide side all round nor its narrow one, towards neighbours, lure and fish alike.

use proptest::prelude::*;

use super::scene::{Scene, oblong, scenes, sends};
use acoustics::units::Metres;

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn an_oblong_beam_is_heard_less_than_its_wide_side_all_round_and_more_than_its_narrow_one(
        scene in scenes(), narrow in 7.0..15.0_f64, times in 1.5..3.5_f64,
    ) {
        let scene = Scene { slope: 0.0, ..scene.shared() };
        let clear = |along, across| scene.with(sends(oblong(along, across)), |_| ()).gains.clear.unwrap().get();
        let (both, own, neither) = (clear(narrow * times, narrow * times), clear(narrow, narrow * times), clear(narrow, narrow));
        // Side lobes of one may stand in the nulls of the other.
        prop_assert!(own >= both - 1.0, "{own} dB against {both} dB with the wide side all round");
        prop_assert!(own <= neither + 1.0, "{own} dB against {neither} dB with the narrow side all round");
        prop_assert!((own - clear(narrow * times, narrow)).abs() <= 0.2, "which side is called first does not matter");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn lure_bottom_and_coverage_of_an_oblong_beam_lie_between_its_two_sides(
        scene in scenes(), narrow in 6.0..15.0_f64, times in 1.5..3.5_f64, offset in 0.0..0.6_f64,
    ) {
        let scene = scene.bare();
        let at = |pattern| scene.with(sends(pattern), |input| input.settings.lure_offset = Some(Metres::new(offset)));
        let (own, turned) = (at(oblong(narrow, narrow * times)), at(oblong(narrow * times, narrow)));
        let (thin, broad) = (at(oblong(narrow, narrow)), at(oblong(narrow * times, narrow * times)));
        // Which side is called first does not matter.
        for (a, b) in [
            (own.gains.lure.get(), turned.gains.lure.get()),
            (own.gains.bottom.get(), turned.gains.bottom.get()),
            (own.criteria.coverage_radius.get(), turned.criteria.coverage_radius.get()),
            (own.criteria.watch_footprint.get(), turned.criteria.watch_footprint.get()),
        ] {
            prop_assert!((a - b).abs() <= 0.01 * (1.0 + a.abs()), "{a} and {b}");
        }
        // How it is turned is not known: the lure counts as on the narrow side, and never as on less.
        prop_assert!(own.gains.lure.get() >= broad.gains.lure.get() - 0.05);
        let needed = own.gains.bottom.get();
        prop_assert!(needed <= thin.gains.bottom.get() + 0.3 && needed >= broad.gains.bottom.get() - 0.3);
    }
}
