//! Which sensor to buy.

use std::path::PathBuf;

use clap::Args;

use super::report::Look;

/// What decides between sensors, beside places and figures.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct Choice {
    /// Most that may be spent, with its currency, such as 300USD; no limit if left out.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) budget: Option<String>,
    /// Sensors that the customer owns, separated by commas.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) own: Vec<String>,
    /// What the sensor is for, with shares of the time, such as search:0.4,watch-lure:0.6; a stored goal by its name, such as
    /// goals/perch-school:0.6.
    #[arg(long, value_delimiter = ',', value_name = "USE:SHARE")]
    pub(crate) uses: Vec<String>,
    /// Days a season at each place, in the order of the places, separated by commas; all alike if left out.
    #[arg(long, value_delimiter = ',', value_name = "DAYS")]
    pub(crate) weights: Vec<f64>,
    /// What the others in the shelter have: same, unknown, or the names of sensors, separated by commas. A run takes the same if left out; advise
    /// takes it as not known.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) neighbours: Vec<String>,
}

/// Say which one sensor suits a customer's places, and how it is set.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  lakebeam advise --depth 18ft --bottom mud --weeds 3ft --budget 300USD\n  \
lakebeam advise --spots landing,north-bar --weights 20,5 --shelter rental-hut-five --people 4 --report advice.pdf\n  \
lakebeam advise --depth 18ft,40ft --own plain-middle --uses search:0.4,watch-lure:0.6")]
pub(crate) struct Advise {
    /// Places by the names of stored spots, separated by commas.
    #[arg(long, value_delimiter = ',', value_name = "NAMES", required_unless_present_any = ["depth", "label"])]
    pub(crate) spots: Vec<String>,
    /// Places by the label of stored spots, such as those of one customer.
    #[arg(long, conflicts_with_all = ["spots", "depth"])]
    pub(crate) label: Option<String>,
    /// Places by their depth instead, such as 18ft, 5.5m, shallow, middle or deep, separated by commas.
    #[arg(long, value_delimiter = ',', value_name = "LENGTHS", conflicts_with = "spots")]
    pub(crate) depth: Vec<String>,
    /// Bottom there: hard, sand, mud, soft-mud, or a class such as gravel; not known if left out.
    #[arg(long, value_name = "WORD", requires = "depth")]
    pub(crate) bottom: Option<String>,
    /// Height of the weeds there, such as 3ft, or none; not known if left out.
    #[arg(long, value_name = "LENGTH", requires = "depth")]
    pub(crate) weeds: Option<String>,
    /// Sensors to choose from, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) options: Vec<String>,
    /// Shelter that is shared: a stored one, or its floor such as 8x8ft; left out when fishing alone.
    #[arg(long, value_name = "NAME")]
    pub(crate) shelter: Option<String>,
    /// People in the shelter; as stored if left out.
    #[arg(long, value_name = "N", requires = "shelter")]
    pub(crate) people: Option<u32>,
    /// The lure, stored or of the set that comes with the program, such as spoon; a small jig if left out.
    #[arg(long, value_name = "NAME")]
    pub(crate) lure: Option<String>,
    /// The fish, stored or of that set, such as walleye-45; a perch of 20 cm if left out.
    #[arg(long, value_name = "NAME")]
    pub(crate) fish: Option<String>,
    #[command(flatten)]
    pub(crate) choice: Choice,
    /// Mixes of what is not known that are tried; 0 leaves that out.
    #[arg(long, value_name = "N", default_value_t = 256)]
    pub(crate) draws: u32,
    /// Seed of the draws.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Also keep the question as a run, and write the customer's sheet to this file.
    #[arg(long, value_name = "FILE.pdf")]
    pub(crate) report: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) look: Look,
}
