//! The command line.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

mod access;
mod advise;
mod derive;
mod goal;
mod kind;
mod name;
mod report;

pub(crate) use access::{AddToken, Audit, Credentials, Limits, Role, Tls, Token, TokenStep};
pub(crate) use advise::{Advise, Choice};
pub(crate) use derive::{
    Adopt, Assess, Derived, Draft, Fit, HandOut, Layout, ListDerived, Plan, Printed, Rules, Seats, Survey, SurveyStep,
    TakeBack,
};
pub(crate) use goal::{Goal, Preset};
pub(crate) use kind::Kind;
pub(crate) use name::Name;
pub(crate) use report::{
    CheckTemplate, LengthUnit, Look, Paper, PreviewTemplate, Report, Sheets, Template, TemplateStep,
};

/// Which sonar beam suits which spot under the ice, for batches of spots.
///
/// Every command but `serve` is a client of the service. Without --server it starts the same service for itself over a database file.
///
/// Exit codes: 0 done; 1 the service refused; 2 the command line or a file is at fault; 3 the service cannot be reached or started;
/// 4 done in part (rows refused, run cancelled or failed).
#[derive(Debug, Parser)]
#[command(name = "lakebeam", version, max_term_width = 110)]
pub(crate) struct Cli {
    #[command(flatten)]
    pub(crate) global: Global,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What every command understands.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "The service")]
pub(crate) struct Global {
    /// Address of a running service, such as http://127.0.0.1:50071.
    #[arg(long, global = true, env = "LAKEBEAM_SERVER", value_name = "URL")]
    pub(crate) server: Option<String>,
    /// Database file of the service that is started without --server.
    #[arg(long, global = true, env = "LAKEBEAM_DATABASE", value_name = "FILE", default_value = "lakebeam.db")]
    pub(crate) database: PathBuf,
    #[command(flatten)]
    pub(crate) own: OwnTemplates,
    /// Print JSON (the protobuf JSON mapping; one object a line for lists) instead of text.
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(flatten)]
    pub(crate) credentials: Credentials,
}

/// Report templates of one's own, for `serve` and for the service that is started without --server.
#[derive(Debug, Clone, Args)]
pub(crate) struct OwnTemplates {
    /// Folder of your own report templates, read when the service starts.
    #[arg(long, global = true, env = "LAKEBEAM_TEMPLATES", value_name = "DIR")]
    pub(crate) templates: Option<PathBuf>,
    /// Longest time that a template of that folder may take.
    #[arg(
        long,
        global = true,
        env = "LAKEBEAM_TEMPLATE_SECONDS",
        value_name = "N",
        default_value_t = 60,
        hide_short_help = true
    )]
    pub(crate) template_seconds: u64,
    /// Most memory that a template of that folder may take, MiB.
    #[arg(
        long,
        global = true,
        env = "LAKEBEAM_TEMPLATE_MEMORY_MIB",
        value_name = "N",
        default_value_t = 1024,
        hide_short_help = true
    )]
    pub(crate) template_memory_mib: u64,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Run the gRPC service.
    Serve(Serve),
    /// Import sensors, spots, shelters, targets, goals, units, bookings, checks or surveys from files.
    Import(Import),
    /// Export records to a file or to standard output.
    Export(Export),
    /// Print the columns of a CSV file with their units, as a template.
    Columns(Columns),
    /// List records of a kind.
    List(List),
    /// Show one record, run, finding or report by its name.
    Show(Name),
    /// Remove a record, a run, a report or a derived document by its name.
    Delete(Delete),
    /// Remove old runs, reports and derived documents. Needs the role admin.
    Prune(Prune),
    /// Say which one sensor suits a customer's places, within a budget, and how it is set.
    Advise(Advise),
    /// Score beams at spots, store the findings, and print who is best where.
    Run(Run),
    /// List runs, newest first.
    Runs,
    /// Follow a run until it ends.
    Watch(Name),
    /// Stop a run; what is done stays.
    Cancel(Name),
    /// Print the findings of a run.
    Findings(Findings),
    /// Print every figure behind one finding.
    Explain(Explain),
    /// Say what may be done in shared shelters: spacing, highest gain, how many, what may be mixed.
    Rules(Rules),
    /// Lay out the holes of a shelter, as far apart as its floor allows.
    Layout(Layout),
    Seats(Seats),
    /// Say which units to buy and which to give to whom.
    Plan(Plan),
    /// Give a booking the units that the plan names, or others; they are on loan until the day after its last one.
    HandOut(HandOut),
    /// Take units back, ready or to be repaired.
    TakeBack(TakeBack),
    /// Tell sound units from weak ones by their checks.
    Assess(Assess),
    /// Find out the true shape of a beam through a line of holes.
    Survey(Survey),
    /// List rules, plans, assessments or fits, newest first.
    Derived(ListDerived),
    /// Render a report on a run, or on rules, plans, assessments, fits and survey drafts, as PDF.
    Report(Report),
    /// Write a customer sheet for every spot of a run, one PDF each.
    Sheets(Sheets),
    /// List rendered reports.
    Reports,
    /// List report templates, check one, print it with its sample, or show what data it gets.
    Template(Template),
    /// Print the JSON Schema of files for `run --file`.
    JobSchema,
    /// Copy the database while it is in use. Needs --database, not --server.
    Backup(Backup),
    /// Put a backup in the place of the database; no service may have it open. Needs --database, not --server.
    Restore(Restore),
    /// Ask whether a service runs and takes calls; exit code 0 if so, 3 if not.
    Health(Health),
    /// Print who changed what, newest first. Needs the role admin.
    Audit(Audit),
    /// Say who may call a service, and what they may do. Needs --database, not --server.
    Token(Token),
    /// Import the invented demo catalog, run it, and write the reports.
    Demo(Demo),
    /// Print completions for a shell.
    Completions(Completions),
    /// Write manual pages to a folder.
    Man(Man),
}

/// Run the service.
#[derive(Debug, Args)]
pub(crate) struct Serve {
    /// Address to listen on; anything beyond loopback needs transport security and tokens.
    #[arg(long, default_value = "127.0.0.1:50071", value_name = "ADDRESS")]
    pub(crate) listen: SocketAddr,
    /// What to log, such as info or lakebeam=debug.
    #[arg(long, env = "LAKEBEAM_LOG", default_value = "info", value_name = "FILTER")]
    pub(crate) log: String,
    /// Form of the log.
    #[arg(long, value_enum, default_value_t = LogFormat::Human)]
    pub(crate) log_format: LogFormat,
    /// Collector that gets spans and metrics of requests and runs (OTLP over gRPC), such as http://127.0.0.1:4317.
    #[arg(long, env = "LAKEBEAM_OTLP", value_name = "URL")]
    pub(crate) otlp: Option<String>,
    /// Name by which a proxy in front of a loopback address is reached; pages of that host may call the service. May be given again.
    #[arg(long, value_name = "NAME")]
    pub(crate) public_host: Vec<String>,
    #[command(flatten)]
    pub(crate) tls: Tls,
    #[command(flatten)]
    pub(crate) limits: Limits,
}

/// Form of the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LogFormat {
    /// Lines for people.
    Human,
    /// One JSON object a line.
    Json,
}

/// File formats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// Comma, semicolon or tab separated.
    Csv,
    /// One JSON object a line.
    JsonLines,
    /// GPX 1.1 waypoints; of spots only.
    Gpx,
    /// GeoJSON; of spots, export only.
    GeoJson,
    /// Spreadsheet; of an import the first sheet.
    Xlsx,
}

impl Format {
    /// The form that the ending of a file name tells of.
    pub(crate) fn of_ending(file: &std::path::Path) -> Option<Self> {
        match file.extension()?.to_string_lossy().to_lowercase().as_str() {
            "csv" | "tsv" | "txt" => Some(Self::Csv),
            "jsonl" | "ndjson" | "json" => Some(Self::JsonLines),
            "gpx" => Some(Self::Gpx),
            "geojson" => Some(Self::GeoJson),
            "xlsx" => Some(Self::Xlsx),
            _ => None,
        }
    }
}

/// Import records.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam import sensors.csv spots.csv\n  lakebeam import survey.csv --kind spots --skip-bad-rows\n  \
lakebeam import receiver.gpx --default depth_ft=24 --default bottom_class=silt"
)]
pub(crate) struct Import {
    /// Files to import.
    #[arg(required_unless_present = "starter", value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// Import the lures and fish that come with the program; those that are stored already stay as they are.
    #[arg(long, conflicts_with_all = ["files", "kind", "format", "defaults"])]
    pub(crate) starter: bool,
    /// What the files hold; guessed from the file name if left out.
    #[arg(long, value_enum)]
    pub(crate) kind: Option<Kind>,
    /// Form of the files; guessed from the ending if left out.
    #[arg(long, value_enum)]
    pub(crate) format: Option<Format>,
    /// Store the good rows and list the bad ones; otherwise one bad row refuses the file.
    #[arg(long)]
    pub(crate) skip_bad_rows: bool,
    /// Overwrite records whose id exists.
    #[arg(long)]
    pub(crate) replace: bool,
    /// Check everything and store nothing.
    #[arg(long)]
    pub(crate) check_only: bool,
    /// Value for a column that the file lacks, such as bottom_class=silt; may be repeated.
    #[arg(long = "default", value_name = "COLUMN=VALUE")]
    pub(crate) defaults: Vec<String>,
}

/// Export records.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam export sensors --output sensors.csv\n  lakebeam export spots --output spots.gpx\n  \
lakebeam export spots --run runs/r7k2m --output best.geojson"
)]
pub(crate) struct Export {
    #[arg(value_enum)]
    pub(crate) kind: Kind,
    /// Form of the file; guessed from the ending if left out, else csv.
    #[arg(long, value_enum)]
    pub(crate) format: Option<Format>,
    /// Which records, such as: depth_m > 6 AND lake = "Tarn Vesper"
    #[arg(long, default_value = "", value_name = "EXPRESSION")]
    pub(crate) filter: String,
    /// Run whose best option stands beside each spot; GeoJSON only.
    #[arg(long, default_value = "", value_name = "NAME")]
    pub(crate) run: String,
    /// File to write; standard output if left out.
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

/// Print the columns of a CSV file.
#[derive(Debug, Args)]
pub(crate) struct Columns {
    #[arg(value_enum)]
    pub(crate) kind: Option<Kind>,
    /// A file to fill in: the names of the columns, and a row as an example.
    #[arg(long, requires = "kind")]
    pub(crate) csv: bool,
}

/// List records.
#[derive(Debug, Clone, Args)]
pub(crate) struct List {
    #[arg(value_enum)]
    pub(crate) kind: Kind,
    /// Which records, such as: depth_m > 6
    #[arg(long, default_value = "", value_name = "EXPRESSION")]
    pub(crate) filter: String,
    /// Only spots with this label.
    #[arg(long, conflicts_with = "filter")]
    pub(crate) label: Option<String>,
}

/// Remove a record, a run, a report or a derived document by its name.
#[derive(Debug, Args)]
pub(crate) struct Delete {
    /// Such as spots/north-bar or runs/r7k2m.
    #[arg(required_unless_present = "label")]
    pub(crate) name: Option<String>,
    /// Remove all spots with this label instead, such as those of one customer.
    #[arg(long, conflicts_with = "name")]
    pub(crate) label: Option<String>,
    /// Remove it even where others refer to it; they keep a name of what is gone.
    #[arg(long)]
    pub(crate) force: bool,
}

/// Remove old runs, reports and derived documents. Needs the role admin.
#[derive(Debug, Args)]
pub(crate) struct Prune {
    /// Remove what is older than this many days; records stay, and what newer reports were made of.
    #[arg(long, value_name = "DAYS")]
    pub(crate) older_than_days: u32,
    /// Only these: runs, reports, shelterRules, fleetPlans, unitAssessments, beamFits, beamSurveyDrafts.
    #[arg(long, value_name = "COLLECTIONS", value_delimiter = ',')]
    pub(crate) only: Vec<String>,
    /// Say what would be removed, and remove nothing.
    #[arg(long)]
    pub(crate) dry_run: bool,
}

/// Score beams at spots.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam run --lure targets/jig-5 --fish targets/perch-20 --goal watch-lure --report beams.pdf\n  \
lakebeam run --file job.toml"
)]
pub(crate) struct Run {
    /// Everything below as a TOML file; flags given as well win over it.
    #[arg(long, value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
    /// Spots, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) spots: Vec<String>,
    /// Spots by a filter, such as: depth_m > 6
    #[arg(long, value_name = "EXPRESSION")]
    pub(crate) spot_filter: Option<String>,
    /// Spots with this label, such as those of one customer.
    #[arg(long, conflicts_with_all = ["spots", "spot_filter"])]
    pub(crate) label: Option<String>,
    /// Sensors or single options, separated by commas; all if left out.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) options: Vec<String>,
    /// Shelter that is shared; left out when fishing alone.
    #[arg(long, value_name = "NAME")]
    pub(crate) shelter: Option<String>,
    /// The lure, such as targets/jig-5.
    #[arg(long, value_name = "NAME")]
    pub(crate) lure: Option<String>,
    /// The fish, such as targets/perch-20.
    #[arg(long, value_name = "NAME")]
    pub(crate) fish: Option<String>,
    /// What is wanted of the beam: search, watch-lure, school, weed-edge, or a stored goal such as goals/perch-school; watch-lure if left out.
    #[arg(long, value_name = "GOAL", value_parser = Goal::parse)]
    pub(crate) goal: Option<Goal>,
    #[command(flatten)]
    pub(crate) choice: Choice,
    /// How far the transducer leans from the vertical; upright if left out.
    #[arg(long, value_name = "DEGREES")]
    pub(crate) lean: Option<f64>,
    /// Where its face looks: 0 towards the lure, 180 away from it, which is taken if left out.
    #[arg(long, value_name = "DEGREES")]
    pub(crate) lean_direction: Option<f64>,
    /// Draws for the uncertainty; 0 leaves it out.
    #[arg(long, value_name = "N")]
    pub(crate) draws: Option<u32>,
    /// Seed of the draws.
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Also render a comparison report to this file.
    #[arg(long, value_name = "FILE.pdf")]
    pub(crate) report: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) look: Look,
}

/// Print findings.
#[derive(Debug, Args)]
pub(crate) struct Findings {
    /// The run, such as runs/r7k2m, r7k2m or latest.
    pub(crate) run: String,
    /// Only this spot.
    #[arg(long, default_value = "", value_name = "NAME")]
    pub(crate) spot: String,
    /// Only ranks up to this; 0 for all.
    #[arg(long, default_value_t = 0, value_name = "N")]
    pub(crate) max_rank: i32,
    /// Write them to a spreadsheet instead, with what they lean on.
    #[arg(long, short, value_name = "FILE.xlsx")]
    pub(crate) output: Option<PathBuf>,
}

/// Explain a finding.
#[derive(Debug, Args)]
pub(crate) struct Explain {
    /// The finding, such as runs/r7k2m/findings/north-bar.plain-narrow.main; or a run, with --spot.
    pub(crate) name: String,
    /// The spot, when a run is named.
    #[arg(long, value_name = "NAME")]
    pub(crate) spot: Option<String>,
    /// The option, when a run is named; the best at that spot if left out.
    #[arg(long, value_name = "NAME", requires = "spot")]
    pub(crate) option: Option<String>,
}

/// Backup.
#[derive(Debug, Args)]
pub(crate) struct Backup {
    /// New file to write; one that exists is never overwritten.
    #[arg(long, short, alias = "output", value_name = "FILE")]
    pub(crate) out: PathBuf,
}

/// Restore.
#[derive(Debug, Args)]
#[command(
    after_help = "The backup is checked first: whose it is, its schema, its integrity. It stays as it is.\n\nExample:\n  lakebeam --database lakebeam.db restore monday.db --replace"
)]
pub(crate) struct Restore {
    /// Backup to restore from.
    #[arg(value_name = "FILE")]
    pub(crate) backup: PathBuf,
    /// Take the place of a database that is there; it is kept beside the restored one.
    #[arg(long)]
    pub(crate) replace: bool,
}

/// Health.
#[derive(Debug, Args)]
#[command(after_help = "Without --server it asks http://127.0.0.1:50071.")]
pub(crate) struct Health {
    /// How long to wait for an answer, in seconds.
    #[arg(long, default_value_t = 5, value_name = "SECONDS")]
    pub(crate) timeout_s: u64,
}

/// The demo.
#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Folder for the reports and the demo's own database.
    #[arg(long, short, alias = "output", value_name = "DIR")]
    pub(crate) out: PathBuf,
}

/// Completions.
#[derive(Debug, Args)]
pub(crate) struct Completions {
    pub(crate) shell: clap_complete::Shell,
}

/// Manual pages.
#[derive(Debug, Args)]
pub(crate) struct Man {
    /// Folder to write to.
    pub(crate) dir: PathBuf,
}
