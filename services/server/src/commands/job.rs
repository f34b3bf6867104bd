//! Batches as files, and their schema.

use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::Deserialize;

use crate::cli::{LengthUnit, Paper};
use crate::exit::{CliError, Outcome};
use crate::output::shown::say;

/// A batch for `lakebeam run --file`, as TOML. Every key is a flag of `lakebeam run`; flags given as well win over it.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub(super) struct Job {
    /// Spots by name; all if left out.
    pub(super) spots: Vec<String>,
    /// Spots by a filter, such as: depth_m > 6
    pub(super) spot_filter: Option<String>,
    /// Sensors or single options by name; all if left out.
    pub(super) options: Vec<String>,
    /// Shelter that is shared; left out when fishing alone.
    pub(super) shelter: Option<String>,
    /// The lure, such as jig-5.
    pub(super) lure: Option<String>,
    /// The fish, such as perch-20.
    pub(super) fish: Option<String>,
    /// What is wanted of the beam: search, watch-lure, school, weed-edge, or a stored goal such as goals/perch-school; watch-lure if left out.
    #[schemars(regex(pattern = r"^(goals/)?[a-z][a-z0-9-]{0,62}$"))]
    pub(super) goal: Option<String>,
    /// Most that may be spent on a sensor, such as 300USD; no limit if left out.
    pub(super) budget: Option<String>,
    /// Sensors that the customer owns.
    pub(super) own: Vec<String>,
    /// What the sensor is for, with shares of the time, such as search:0.4 or goals/perch-school:0.6.
    pub(super) uses: Vec<String>,
    /// Days a season at each spot, in the order of the spots; all alike if left out.
    pub(super) weights: Vec<f64>,
    /// What the others in the shelter have: same, unknown, or names of sensors; the same if left out.
    pub(super) neighbours: Vec<String>,
    /// Draws for the uncertainty; 0 leaves it out.
    pub(super) draws: Option<u32>,
    /// Seed of the draws.
    pub(super) seed: Option<u64>,
    /// Share of the display that may be interference marks.
    pub(super) interference_tolerance: Option<f64>,
    /// Gain over the least at which the lure shows, dB.
    pub(super) lure_margin_db: Option<f64>,
    /// How far a mark stands over the threshold to be strong, dB.
    pub(super) strong_mark_db: Option<f64>,
    /// Distance of the lure from the transducer, m.
    pub(super) lure_offset_m: Option<f64>,
    /// How far the transducer leans from the vertical, degrees; upright if left out.
    pub(super) lean_deg: Option<f64>,
    /// Where its face looks, degrees: 0 towards the lure, 180 away from it, which is taken if left out.
    pub(super) lean_direction_deg: Option<f64>,
    /// File of a comparison report to be written.
    pub(super) report: Option<PathBuf>,
    /// Unit of length in the report; metres if left out.
    #[schemars(with = "Option<LengthUnit>")]
    pub(super) length_unit: Option<String>,
    /// Paper of the report; A4 if left out.
    #[schemars(with = "Option<Paper>")]
    pub(super) paper: Option<String>,
    /// Language of the report, such as de; English if left out.
    pub(super) language: Option<String>,
    /// Whether the report ends with every figure behind the best option at each spot; no if left out.
    pub(super) appendix: Option<bool>,
    /// Heading of the report, up to 120 characters.
    pub(super) title: Option<String>,
    /// Name of the shop, outfitter or organizer, up to 120 characters.
    pub(super) organisation: Option<String>,
    /// A line to reach them, up to 200 characters.
    pub(super) contact: Option<String>,
    /// File of their logo: PNG, JPEG or SVG, up to 1 MiB.
    pub(super) logo: Option<PathBuf>,
}

pub(super) fn read(file: &Path) -> Result<Job, CliError> {
    let text = std::fs::read_to_string(file)
        .map_err(|e| CliError::Usage(format!("{} cannot be read: {e}", file.display())))?;
    toml::from_str(&text).map_err(|e| CliError::Usage(format!("{}: {e}", file.display())))
}

/// Prints the schema of job files.
pub(super) fn schema() -> Outcome {
    say!("{:#}", schemars::schema_for!(Job).to_value());
    Ok(())
}
