//! What the demo writes with: the reports, and who hands them over.

use std::path::PathBuf;

use super::super::report::{self, Wanted};
use crate::cli::{LengthUnit, Look, Paper};
use crate::connect::Connection;
use crate::exit::Outcome;
use crate::output::shown::say;

/// One report of the demo.
pub(super) struct Paged {
    pub(super) file: &'static str,
    pub(super) template: &'static str,
    pub(super) title: &'static str,
    pub(super) organisation: &'static str,
    pub(super) unit: LengthUnit,
    pub(super) paper: Paper,
    pub(super) spots: &'static [&'static str],
    /// Whether every figure behind the best options stands at the end.
    pub(super) appendix: bool,
}

/// The shop of the demo, and its logo.
pub(super) const SHOP: &str = "Lantern Bay Tackle (invented)";
const LOGO: &[u8] = include_bytes!("../../../../../demo-catalog/lantern-bay-tackle.svg");

/// The logo of an organisation; empty where it has none.
fn logo_of(organisation: &str) -> &'static [u8] {
    if organisation == SHOP { LOGO } else { &[] }
}

/// The lure and the fish of the demo.
pub(super) const LURE: &str = "targets/tungsten-jig-5";
pub(super) const FISH: &str = "targets/perch-25";

/// What the demo writes, and whether it talks.
pub(super) struct Stage<'a> {
    pub(super) connection: &'a Connection,
    pub(super) out: &'a std::path::Path,
    pub(super) as_json: bool,
    pub(super) written: Vec<(PathBuf, &'static str)>,
}

impl Stage<'_> {
    pub(super) fn say(&self, text: &str) {
        if !self.as_json {
            say!("{text}");
        }
    }

    /// Writes a report on a source.
    pub(super) async fn write(&mut self, source: &str, paged: &Paged) -> Outcome {
        let look = Look {
            length_unit: Some(paged.unit),
            language: None,
            appendix: paged.appendix,
            paper: Some(paged.paper),
            title: paged.title.to_owned(),
            organisation: paged.organisation.to_owned(),
            contact: String::new(),
            logo: None,
        };
        let spots: Vec<_> = paged.spots.iter().map(|s| format!("spots/{s}")).collect();
        let output = self.out.join(paged.file);
        let wanted = Wanted {
            source,
            template: paged.template,
            spots: &spots,
            look: &look,
            output: &output,
            logo: logo_of(paged.organisation),
        };
        report::write(self.connection, &wanted, self.as_json).await?;
        self.written.push((output, paged.title));
        Ok(())
    }
}
