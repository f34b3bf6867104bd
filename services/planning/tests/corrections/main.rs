//! What the independent check of the model found, each of its sixteen points held by properties over random cases: a file a point.
//!
//! | point | | and, of the physics under it, |
//! | --- | --- | --- |
//! | 1 | losing the lure never pays | |
//! | 2 | all that is visible counts | `tests/reference/second.py` |
//! | 3 | confirmation by m of n pings | `acoustics/tests/confirmation.rs` (simulated ping trains) |
//! | 4 | swept pulses | |
//! | 5 | oblong beams | `tests/reference/scatter.py` |
//! | 6 | slope | `tests/reference/scatter.py`, `second.py` |
//! | 7 | target strength | `acoustics/tests/targets.rs`, `second.py` |
//! | 8 | bottom | `tests/reference/bottom.py` |
//! | 9 | ice | `acoustics/tests/ice.rs` |
//! | 10 | relief and plants | |
//! | 11 | below worthless is still worse | `domain/src/desirability.rs` |
//! | 12 | continuity | |
//! | 13 | lean | `tests/reference/scatter.py` |
//! | 14 | ring-down and near field | |
//! | 15 | sound speed under pressure | IAPWS-95 in `tests/reference/values.json` |
//! | 16 | the smaller ones | |
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "a test")]

#[path = "../common/mod.rs"]
mod common;

mod fluctuating_marks;
mod p01_losing_the_lure;
mod p02_all_that_is_visible;
mod p03_confirmation;
mod p04_swept_pulses;
mod p05_oblong_beams;
mod p06_slope;
mod p07_target_strength;
mod p08_bottom;
mod p09_ice;
mod p10_relief_and_plants;
mod p11_below_worthless;
mod p12_continuity;
mod p13_lean;
mod p14_ring_down_and_near_field;
mod p15_sound_speed;
mod p16_smaller_ones;
mod scene;
mod steep_skirts;

#[test]
fn every_point_has_its_property() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/corrections");
    let files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    for point in 1..=16 {
        let begin = format!("p{point:02}_");
        let own = files.iter().find(|file| file.file_name().unwrap().to_str().unwrap().starts_with(&begin));
        let text = std::fs::read_to_string(own.unwrap_or_else(|| panic!("{begin} is missing"))).unwrap();
        assert!(text.contains("proptest!") && text.contains("prop_assert!"), "{own:?} holds no property");
    }
}
