//! Doors to the pure parts of this edge: what callers write becomes records, and records become what callers read. No server is needed
//! for it.
//!
//! Made for tests from outside, such as the fuzz targets in `tests/src/fuzz`; within a service everything here is called by the handlers.

pub use crate::json::write as write_json_line;
pub use crate::json_lines::read as read_json_lines;
pub use crate::names::{FindingName, OptionName, of, parse, parse_finding, parse_id, parse_option};
pub use crate::paging::Listing;
pub use crate::resource::{Record, Stamp};

use domain::Fault;
use proto::v1;

use crate::convert::{assessment, fleet_plan, report, rules, run};

/// What a caller asks to be derived from records.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// A run.
    Run(Box<v1::RunSpec>),
    /// Rules of a shelter.
    Rules(v1::RulesSpec),
    /// A plan of a fleet.
    Fleet(v1::FleetSpec),
    /// An assessment of a unit.
    Assessment(v1::AssessmentSpec),
    /// A report.
    Report(v1::RenderReportRequest),
}

/// Every fault of form of a question; what it names is not looked up.
#[must_use]
pub fn faults(question: &Question) -> Vec<Fault> {
    match question {
        Question::Run(spec) => run::spec(spec).err(),
        Question::Rules(spec) => rules::spec(spec).err(),
        Question::Fleet(spec) => fleet_plan::spec(spec).err(),
        Question::Assessment(spec) => assessment::spec(spec).err(),
        Question::Report(request) => report::from(request).err(),
    }
    .unwrap_or_default()
}
