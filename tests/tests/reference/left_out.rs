//! Rows of the reference values that are not compared, each with its reason.

use super::Row;

/// Why a row is not compared: by the beginning of its id.
const REASONS: &[(&str, &str)] = &[
    ("c_bollengier", "another equation of state, tuned for high pressure: 0.9 m/s off at one atmosphere"),
    ("c_mackenzie_trap", "a formula for sea water, out of its range: a trap"),
    ("alpha_classical", "shear viscosity alone, a third of the whole: background"),
    ("alpha_trap", "the branch for warm water used in cold: a trap"),
    ("ice_V", "a property of bulk ice: an input of the reflection"),
    ("ice_rho", "a property of bulk ice: an input of the reflection"),
    ("ice_cbulk", "a property of bulk ice that is easily taken for its speed: a trap"),
    ("ice_crit", "a critical angle: the bounces of the model are near the vertical"),
    ("ice_second_arrival", "one arrival of a train; the sheet is held as a whole, by the property test of the ice"),
    ("R_ice_half", "oblique incidence: the bounces of the model are near the vertical"),
    ("R_seaice", "sea ice, which grows a soft layer that lake ice has not"),
    ("lloyd", "the mirror image of the direct path, which the model leaves out and says so"),
    ("piston_null", "a place of the pattern that is no figure of ours; levels are compared"),
    ("piston_sl", "a place of the pattern that is no figure of ours; levels are compared"),
    ("psi_const", "the limit of a very large piston, a cross-check of the handbook"),
    ("null1", "the first null: no figure of ours is taken from it"),
    ("bw10_ka3", "beyond the widest edge that a pattern reports, 80° to a side"),
    ("taper", "another shading of the aperture than ours: background"),
    ("pedestal", "another shading of the aperture than ours: background"),
    ("nf_", "the field near the transducer: figures there are flagged and not modelled"),
    ("DT_", "detection in noise: the model has thresholds, and noise decides no lure in shallow water"),
    ("budget", "a chain of levels whose links are compared one by one"),
    ("coup", "a chain of levels whose links are compared one by one"),
    ("B90_env", "the envelope of the side lobes, an input of the rows of the direct path"),
    ("TS_rigid", "a body without elasticity: background"),
    ("TS_bubble", "a bubble: background"),
    ("TS_soft", "a body without elasticity: background"),
    ("TS_spheroid", "a swim bladder as a spheroid: fish are taken from regressions"),
    ("TS_KAspheroid", "a swim bladder as a spheroid: fish are taken from regressions"),
    ("TSfish_smelt_ventral", "fish from below: the model looks down"),
    ("dz_flat_d10_h20", "a wide edge, where the compared form leaves out a cosine on the pulse"),
    ("dz_boulder", "a boulder as a body: held by ray casting in crate planning"),
    ("dz_eq", "the mean over the beam, a figure of surveys by ship"),
    ("Sb_TM200_rough_rock", "a class that is no class of ours"),
    ("Sb_openBST_rough_rock", "a class that is no class of ours"),
    ("RL_TM200_rough_rock", "a class that is no class of ours"),
    ("RL_", "a class or a column that is no figure of ours"),
    ("Sb_TR9407_", "hard ground by the older handbook, which does not support the table: see below"),
    ("drift", "how far a mark moves between pings: a part of the confirmation, which is held to ping trains"),
    ("des_tgt", "a two-sided desirability: ours are one-sided"),
    ("smaa", "rank acceptability: compared in `services/planning/tests/uncertainty.rs`"),
    ("noise_lake_ice", "sound of lakes under 12 kHz: under thermal noise at the frequencies here"),
];

/// Why a row is not compared; none where it is, or where no reason is given.
pub(crate) fn of(row: &Row) -> Option<&'static str> {
    REASONS.iter().find(|(start, _)| row.id.starts_with(start)).map(|(_, reason)| *reason)
}
