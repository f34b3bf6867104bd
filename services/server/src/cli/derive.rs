//! Verbs that derive something from the catalog: rules, layouts, plans, assessments, surveys.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::report::Look;

/// A PDF that a verb also writes.
#[derive(Debug, Args)]
pub(crate) struct Printed {
    /// Also write it as a PDF to this file.
    #[arg(long, value_name = "FILE.pdf")]
    pub(crate) report: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) look: Look,
}

/// Derive shelter rules.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam rules --shelters rental-hut-five --lure tungsten-jig-5 --bands 2-6,6-12 --bottoms silt,medium-sand\n  \
lakebeam rules --options plain-narrow,two-face --lure tungsten-jig-5 --bands 10-20ft,20-40ft --bottoms silt --report rules.pdf\n  \
lakebeam rules --shelters rental-hut-five --lure tungsten-jig-5 --bands 2-6 --bottoms silt --next-shelter 3m --unlisted"
)]
pub(crate) struct Rules {
    /// Shelters, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) shelters: Vec<String>,
    /// Sensors or single options that may be brought, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) options: Vec<String>,
    /// The lure that must show, such as targets/tungsten-jig-5.
    #[arg(long, value_name = "NAME")]
    pub(crate) lure: String,
    /// Bands of depth, separated by commas: 2-6 in metres, 8ft-15ft in feet.
    #[arg(long, value_delimiter = ',', required = true, value_name = "BANDS")]
    pub(crate) bands: Vec<String>,
    /// Bottoms that may lie under a shelter, separated by commas, such as silt,soft-mud.
    #[arg(long, value_delimiter = ',', required = true, value_name = "CLASSES")]
    pub(crate) bottoms: Vec<String>,
    /// Clear distance from the walls of a shelter to those of others like it on all sides: 3m or 10ft. Stands alone if left out.
    #[arg(long, value_name = "LENGTH", value_parser = crate::commands::length::flag)]
    pub(crate) next_shelter: Option<f64>,
    /// Also give rules for units that are not listed, by width of the beam and frequency.
    #[arg(long)]
    pub(crate) unlisted: bool,
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// Lay out the holes of a shelter.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam layout rental-hut-five --people 4\n  lakebeam layout --floor 12x8ft --people 4"
)]
pub(crate) struct Layout {
    /// A stored shelter; left out with --floor.
    #[arg(required_unless_present = "floor")]
    pub(crate) shelter: Option<String>,
    /// Floor: LENGTHxWIDTH, or a single diameter of a round one; 3x2.4 in metres, 12x8ft in feet.
    #[arg(long, value_name = "SIZE", conflicts_with = "shelter", requires = "people")]
    pub(crate) floor: Option<String>,
    /// How many fish, instead of the shelter's own party.
    #[arg(long, value_name = "N")]
    pub(crate) people: Option<u32>,
}

/// Say who takes which hole of a shelter with which unit, and how far each gain may go up.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam seats rental-hut-five --lure tungsten-jig-5 --depth 8ft-15ft --bottoms silt --bring Ann=plain-narrow --bring Bo=two-face\n  \
lakebeam seats rental-hut-five --lure tungsten-jig-5 --depth 2-6 --bottoms hard,mud --people people.csv --output seats.csv"
)]
pub(crate) struct Seats {
    /// The shelter.
    #[arg(value_name = "SHELTER")]
    pub(crate) shelter: String,
    /// Somebody and what they bring: NAME=UNIT, or NAME=UNIT+UNIT for a choice, the dearest first; once for each person.
    #[arg(long, value_name = "NAME=UNITS", required_unless_present = "people")]
    pub(crate) bring: Vec<String>,
    /// The same as a CSV file with the columns name and units.
    #[arg(long, value_name = "FILE")]
    pub(crate) people: Option<PathBuf>,
    /// The lure that must show, such as targets/tungsten-jig-5.
    #[arg(long, value_name = "NAME")]
    pub(crate) lure: String,
    /// Depths under the shelter, 2-6 in metres or 8ft-15ft in feet; a single depth is one.
    #[arg(long, value_name = "BAND")]
    pub(crate) depth: String,
    /// Bottoms that may lie under it, separated by commas, such as silt,soft-mud.
    #[arg(long, value_delimiter = ',', required = true, value_name = "CLASSES")]
    pub(crate) bottoms: Vec<String>,
    /// All have the same option, so that nobody has what another has not.
    #[arg(long)]
    pub(crate) same_for_all: bool,
    /// Also write the seats as a CSV file.
    #[arg(long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

/// Plan a fleet.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam plan --budget 2500USD --report plan.pdf\n  lakebeam plan --bookings club-week,family-saturday --options two-face\n  lakebeam plan --keep latest --from today --report changes.pdf"
)]
pub(crate) struct Plan {
    /// Bookings, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) bookings: Vec<String>,
    /// Sensors or single options that may be used, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) options: Vec<String>,
    /// What may be spent, with its currency, such as 2500USD; no limit if left out.
    #[arg(long, value_name = "AMOUNT")]
    pub(crate) budget: Option<String>,
    /// Share of the cost within which the search may stop, 0 to 0.5; 0.01 if left out.
    #[arg(long, value_name = "SHARE")]
    pub(crate) gap: Option<f64>,
    /// First day that is planned, such as 2027-01-12 or today: what is over is left out, what is out stays out; every day if left out.
    #[arg(long, value_name = "DAY")]
    pub(crate) from: Option<String>,
    /// Plan to keep, or latest: what it promised stays, and as little changes as can be; what does is printed.
    #[arg(long, value_name = "PLAN")]
    pub(crate) keep: Option<String>,
    /// Bookings of that plan whose customers were not told yet, separated by commas; they may lose what they were to get.
    #[arg(long, value_delimiter = ',', value_name = "NAMES", requires = "keep")]
    pub(crate) untold: Vec<String>,
    /// What it is worth to spare one booking a change, such as 50USD; no money outweighs a change if left out.
    #[arg(long, value_name = "AMOUNT", requires = "keep")]
    pub(crate) change_worth: Option<String>,
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// Give units to a booking.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam hand-out club-week\n  lakebeam hand-out club-week --units middle-1,middle-2"
)]
pub(crate) struct HandOut {
    /// The booking.
    #[arg(value_name = "BOOKING")]
    pub(crate) booking: String,
    /// Units, separated by commas; those that the plan names if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) units: Vec<String>,
    /// Plan that names the units.
    #[arg(long, default_value = "latest", value_name = "PLAN", conflicts_with = "units")]
    pub(crate) plan: String,
}

/// Take units back.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam take-back --booking club-week\n  lakebeam take-back middle-1 --repair --back 2027-01-20"
)]
pub(crate) struct TakeBack {
    /// Units; all that the booking holds if left out.
    #[arg(value_name = "UNIT", required_unless_present = "booking")]
    pub(crate) units: Vec<String>,
    /// Booking whose units come back.
    #[arg(long, value_name = "BOOKING", conflicts_with = "units")]
    pub(crate) booking: Option<String>,
    /// They go to be repaired.
    #[arg(long)]
    pub(crate) repair: bool,
    /// First day on which they can be given out again; not known if left out.
    #[arg(long, value_name = "DAY", requires = "repair")]
    pub(crate) back: Option<String>,
}

/// Assess units from their checks.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  lakebeam assess\n  lakebeam assess --units middle-1,middle-2 --report units.pdf")]
pub(crate) struct Assess {
    /// Units, separated by commas; all that have checks if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) units: Vec<String>,
    /// Standard deviation of one reading in dB, 0.2 to 10; 2 if left out.
    #[arg(long, value_name = "DB")]
    pub(crate) reading_error: Option<f64>,
    /// A unit that is worse than its cohort by more than this, in dB, is weak; 6 if left out.
    #[arg(long, value_name = "DB")]
    pub(crate) weak_limit: Option<f64>,
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// Survey a beam.
#[derive(Debug, Args)]
pub(crate) struct Survey {
    #[command(subcommand)]
    pub(crate) step: SurveyStep,
}

/// Steps of a survey.
#[derive(Debug, Subcommand)]
pub(crate) enum SurveyStep {
    /// Say where to drill, what to lower and what to note.
    Draft(Draft),
    /// Fit a beam to a stored survey.
    Fit(Fit),
    /// Make a fit the measured pattern of its option, which later runs then use.
    Adopt(Adopt),
}

/// Draft a survey.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  lakebeam survey draft sensors/two-face/options/wide --target check-ball-38 --depth 26ft --report sheet.pdf"
)]
pub(crate) struct Draft {
    /// The option, such as sensors/two-face/options/wide.
    pub(crate) option: String,
    /// The reference target, such as targets/check-ball-38.
    #[arg(long, value_name = "NAME")]
    pub(crate) target: String,
    /// Depth of the water: 8 for metres, 26ft for feet.
    #[arg(long, value_name = "LENGTH", alias = "depth-m", value_parser = crate::commands::length::flag)]
    pub(crate) depth: f64,
    /// Holes of the line, 3 to 40.
    #[arg(long, default_value_t = 12, value_name = "N")]
    pub(crate) holes: u32,
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// Fit a beam to a survey.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  lakebeam survey fit beamSurveys/two-face-wide-jan --report beam.pdf")]
pub(crate) struct Fit {
    /// The survey, such as beamSurveys/two-face-wide-jan.
    pub(crate) survey: String,
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// Adopt a fit.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  lakebeam survey adopt beamFits/f3k7m")]
pub(crate) struct Adopt {
    /// The fit, such as beamFits/f3k7m.
    pub(crate) fit: String,
}

/// What was derived and stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Derived {
    /// Shelter rules.
    Rules,
    /// Fleet plans.
    Plans,
    /// Assessments of units.
    Assessments,
    /// Beams fitted to surveys.
    Fits,
}

/// List what was derived.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  lakebeam derived plans")]
pub(crate) struct ListDerived {
    #[arg(value_enum)]
    pub(crate) kind: Derived,
}
