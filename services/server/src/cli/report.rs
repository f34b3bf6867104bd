//! Reports and their templates.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use schemars::JsonSchema;

use super::name::Name;

/// Unit of length in a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, JsonSchema)]
#[schemars(rename_all = "kebab-case")]
pub(crate) enum LengthUnit {
    Metres,
    Feet,
}

/// Paper of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum, JsonSchema)]
#[schemars(rename_all = "kebab-case")]
pub(crate) enum Paper {
    A4,
    UsLetter,
}

/// How a report looks.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct Look {
    /// Unit of length.
    #[arg(long, value_enum)]
    pub(crate) length_unit: Option<LengthUnit>,
    /// Paper.
    #[arg(long, value_enum)]
    pub(crate) paper: Option<Paper>,
    /// Language of the report, such as de; English if left out. `template list` names those there are.
    #[arg(long, value_name = "TAG")]
    pub(crate) language: Option<String>,
    /// Of a run, end with every figure behind the best option at each spot.
    #[arg(long)]
    pub(crate) appendix: bool,
    /// Heading.
    #[arg(long, default_value = "")]
    pub(crate) title: String,
    /// Name of the shop, outfitter or organizer.
    #[arg(long, default_value = "")]
    pub(crate) organisation: String,
    /// A line to reach them.
    #[arg(long, default_value = "")]
    pub(crate) contact: String,
    /// Their logo, at the head of every page: a PNG, JPEG or SVG file of up to 1 MiB.
    #[arg(long, value_name = "FILE")]
    pub(crate) logo: Option<PathBuf>,
}

/// Render a report.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam report runs/r7k2m --template customer-sheet --output sheet.pdf\n  lakebeam report shelterRules/e5b2 --spots rental-hut-five --output rules.pdf"
)]
pub(crate) struct Report {
    /// What to report on, such as runs/r7k2m or fleetPlans/l9d4x.
    pub(crate) source: String,
    /// Template, such as customer-sheet; the usual one for that source if left out.
    #[arg(long, value_name = "NAME")]
    pub(crate) template: Option<String>,
    /// Only these spots of a run, or these shelters of rules, separated by commas.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) spots: Vec<String>,
    /// File to write.
    #[arg(long, short, value_name = "FILE.pdf")]
    pub(crate) output: PathBuf,
    #[command(flatten)]
    pub(crate) look: Look,
}

/// Write a sheet for every spot of a run.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam sheets runs/r7k2m --output sheets\n  lakebeam sheets runs/r7k2m --output handouts --length-unit feet --organisation \"Vesper Tackle\""
)]
pub(crate) struct Sheets {
    /// The run, such as runs/r7k2m.
    pub(crate) run: String,
    /// Template, such as customer-sheet.
    #[arg(long, value_name = "NAME", default_value = "customer-sheet")]
    pub(crate) template: String,
    /// Only these spots, separated by commas.
    #[arg(long, value_delimiter = ',', value_name = "NAMES")]
    pub(crate) spots: Vec<String>,
    /// Folder to write to, one file a spot, named after it; made if it is not there.
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) output: PathBuf,
    /// How many are made at once; as many as this machine has cores if left out.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=64))]
    pub(crate) at_once: Option<u32>,
    #[command(flatten)]
    pub(crate) look: Look,
}

/// Templates.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  lakebeam template check shop-sheet --templates my-templates\n  lakebeam template preview fleet-plan --language de --output plan.pdf"
)]
pub(crate) struct Template {
    #[command(subcommand)]
    pub(crate) step: TemplateStep,
}

/// What can be done with templates.
#[derive(Debug, Subcommand)]
pub(crate) enum TemplateStep {
    /// List the templates and the languages there are.
    List,
    /// Compile a template with its sample and say what is wrong, with file, line and column.
    Check(CheckTemplate),
    /// Write a template with its sample as PDF.
    Preview(PreviewTemplate),
    /// Print the JSON Schema of the data that a template gets.
    Schema(Name),
}

/// Check a template.
#[derive(Debug, Args)]
pub(crate) struct CheckTemplate {
    /// The template, such as fleet-plan.
    pub(crate) name: String,
    /// Language of the template's own words, such as de; English if left out.
    #[arg(long, value_name = "TAG")]
    pub(crate) language: Option<String>,
}

/// Print a template with its sample.
#[derive(Debug, Args)]
pub(crate) struct PreviewTemplate {
    /// The template, such as fleet-plan.
    pub(crate) name: String,
    /// File to write.
    #[arg(long, short, value_name = "FILE.pdf")]
    pub(crate) output: PathBuf,
    /// Language of the template's own words, such as de; English if left out.
    #[arg(long, value_name = "TAG")]
    pub(crate) language: Option<String>,
    /// Paper; that of the sample if left out.
    #[arg(long, value_enum)]
    pub(crate) paper: Option<Paper>,
}
