//! Makes the sample of a document's template: reads what `lakebeam show NAME` prints and writes the data that the template gets.
//!
//! ```sh
//! lakebeam show fleetPlans/l1 | cargo run -p reports --example sample -- fleetPlans > report-templates/fleet-plan/sample.json
//! ```
#![allow(clippy::print_stdout, reason = "a program for the terminal")]

use jiff::Timestamp;
use reports::{Document, LengthUnit, Paper, Renderer, Report, Settings, TemplateSource, typeset};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let collection = std::env::args().nth(1).unwrap_or_default();
    let json = std::io::read_to_string(std::io::stdin())?;
    let content = proto::Document::from_json(&collection, &json)?.ok_or("name a collection, such as fleetPlans")?;
    let document = Document {
        id: "sample".to_owned(),
        time: Timestamp::UNIX_EPOCH,
        fingerprint: "0000000000000000".to_owned(),
        only: Vec::new(),
        content,
        settings: Settings {
            length_unit: LengthUnit::Metres,
            paper: Paper::A4,
            language: "en".to_owned(),
            title: String::new(),
            organisation: "Invented shop".to_owned(),
            contact: String::new(),
            logo: None,
        },
    };
    let renderer = Renderer::new(&TemplateSource::BuiltIn, std::sync::Arc::new(typeset))?;
    println!("{}", serde_json::to_string_pretty(&renderer.data(&Report::Document(Box::new(document)))?)?);
    Ok(())
}
