//! What a report is asked.

use planning::domain::{Fault, FaultReason, Id};
use proto::v1;

use super::Reading;
use crate::names;
use crate::render::{LengthUnit, Paper, ReportSettings};

/// Most spots of one report.
pub(crate) const MAX_SPOTS: usize = 300;
/// Longest title and organisation, in characters.
const MAX_LINE: usize = 120;
/// Longest contact, in characters.
const MAX_CONTACT: usize = 200;

/// A request whose names are read and whose texts are sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ReportRequest {
    pub(crate) run: Id,
    pub(crate) template: Id,
    /// Empty for all spots of the run.
    pub(crate) spots: Vec<Id>,
    pub(crate) settings: ReportSettings,
}

/// Reads a request.
pub(crate) fn from(message: &v1::RenderReportRequest) -> Result<ReportRequest, Vec<Fault>> {
    let mut reading = Reading::default();
    let run = one(&mut reading, "source", "runs", &message.source);
    let template = one(&mut reading, "template", "templates", &message.template);
    let spots = spots(&mut reading, &message.spots);
    line(&mut reading, "title", &message.title, MAX_LINE);
    line(&mut reading, "organisation", &message.organisation, MAX_LINE);
    line(&mut reading, "contact", &message.contact, MAX_CONTACT);
    let settings = ReportSettings {
        length_unit: length_unit(&mut reading, message.length_unit),
        paper: paper(&mut reading, message.paper),
        title: message.title.clone(),
        organisation: message.organisation.clone(),
        contact: message.contact.clone(),
    };
    match (run, template) {
        (Some(run), Some(template)) => reading.finish(ReportRequest { run, template, spots, settings }, |_| Vec::new()),
        _ => reading.finish((), |()| Vec::new()).and(Err(Vec::new())),
    }
}

fn one(reading: &mut Reading, field: &str, collection: &'static str, name: &str) -> Option<Id> {
    names::parse(field, collection, name).map_err(|fault| reading.add(fault)).ok()
}

fn spots(reading: &mut Reading, given: &[String]) -> Vec<Id> {
    if given.len() > MAX_SPOTS {
        let text = format!("spots has {} entries; accepted: up to {MAX_SPOTS}; make several reports", given.len());
        reading.refuse("spots", FaultReason::OutOfRange, text);
        return Vec::new();
    }
    super::run::each(reading, "spots", given, |field, name| names::parse(field, "spots", name))
}

fn line(reading: &mut Reading, field: &str, text: &str, most: usize) {
    let given = text.chars().count();
    if given > most {
        let message = format!("{field} has {given} characters; accepted: up to {most}; shorten it");
        reading.refuse(field, FaultReason::TooLong, message);
    }
    if text.chars().any(char::is_control) {
        let message = format!("{field} holds a control character; accepted: one line of printable text; remove it");
        reading.refuse(field, FaultReason::BadForm, message);
    }
}

fn length_unit(reading: &mut Reading, number: i32) -> LengthUnit {
    let read = |unit| {
        Some(match unit {
            v1::LengthUnit::Unspecified | v1::LengthUnit::Metres => LengthUnit::Metres,
            v1::LengthUnit::Feet => LengthUnit::Feet,
        })
    };
    reading.choice("length_unit", number, read, v1::LengthUnit::as_str_name).unwrap_or(LengthUnit::Metres)
}

fn paper(reading: &mut Reading, number: i32) -> Paper {
    let read = |paper| {
        Some(match paper {
            v1::Paper::Unspecified | v1::Paper::A4 => Paper::A4,
            v1::Paper::UsLetter => Paper::UsLetter,
        })
    };
    reading.choice("paper", number, read, v1::Paper::as_str_name).unwrap_or(Paper::A4)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request() -> v1::RenderReportRequest {
        v1::RenderReportRequest {
            source: "runs/r1".to_owned(),
            template: "templates/comparison".to_owned(),
            ..v1::RenderReportRequest::default()
        }
    }

    #[test]
    fn left_out_settings_are_metres_on_a4() {
        let settings = from(&request()).unwrap().settings;
        assert_eq!((settings.length_unit, settings.paper), (LengthUnit::Metres, Paper::A4));
    }

    #[test]
    fn every_fault_of_a_request_comes_back_at_once() {
        let message = v1::RenderReportRequest {
            source: "spots/a".to_owned(),
            template: String::new(),
            length_unit: 7,
            paper: -1,
            spots: vec!["spots/a".to_owned(), "spots/a".to_owned(), "b".to_owned()],
            title: "x".repeat(121),
            organisation: "a\nb".to_owned(),
            contact: "y".repeat(201),
        };
        let mut fields: Vec<_> = from(&message).unwrap_err().into_iter().map(|fault| fault.field).collect();
        fields.sort();
        assert_eq!(
            fields,
            ["contact", "length_unit", "organisation", "paper", "source", "spots[1]", "spots[2]", "template", "title"]
        );
        let many = (0..=MAX_SPOTS).map(|n| format!("spots/s{n}")).collect();
        let faults = from(&v1::RenderReportRequest { spots: many, ..request() }).unwrap_err();
        assert_eq!(faults[0].field, "spots");
    }
}
