//! What a report is asked.

use domain::{Fault, FaultReason, Id, looks_empty};
use proto::{COLLECTIONS, Kept as _, v1};

use super::Reading;
use crate::names;
use crate::render::{LengthUnit, Paper, ReportSettings};

/// Collection of runs.
pub(crate) const RUNS: &str = "runs";

/// Most spots of one report.
pub(crate) const MAX_SPOTS: usize = 300;
/// Longest title and organisation, in characters.
const MAX_LINE: usize = 120;
/// Longest contact, in characters.
const MAX_CONTACT: usize = 200;

/// Largest logo; what kind of picture it is, is for the renderer to tell.
const MAX_LOGO_BYTES: usize = 1024 * 1024;

/// Longest tag of a language (RFC 5646, section 4.4.1).
const MAX_TAG: usize = 35;
/// The language where none is named.
const DEFAULT_LANGUAGE: &str = "en";

/// What a report is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Source {
    pub(crate) collection: &'static str,
    pub(crate) id: Id,
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}/{}", self.collection, self.id)
    }
}

/// A request whose names are read and whose texts are sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ReportRequest {
    pub(crate) source: Source,
    /// None: the usual one.
    pub(crate) template: Option<Id>,
    /// Empty for all spots of the run, or all shelters of the rules.
    pub(crate) parts: Vec<Id>,
    pub(crate) settings: ReportSettings,
}

/// Reads a request.
pub(crate) fn from(message: &v1::RenderReportRequest) -> Result<ReportRequest, Vec<Fault>> {
    let mut reading = Reading::default();
    let source = source(&mut reading, &message.source);
    let named = Some(message.template.as_str()).filter(|name| !name.is_empty());
    let template = named.and_then(|name| one(&mut reading, "template", "templates", name));
    let kind = source.as_ref().map_or(RUNS, |source| source.collection);
    let parts = parts(&mut reading, kind, &message.spots);
    line(&mut reading, "title", &message.title, MAX_LINE);
    line(&mut reading, "organisation", &message.organisation, MAX_LINE);
    line(&mut reading, "contact", &message.contact, MAX_CONTACT);
    let settings = ReportSettings {
        length_unit: length_unit(&mut reading, message.length_unit),
        paper: paper(&mut reading, message.paper),
        language: language(&mut reading, &message.language_code),
        appendix: message.appendix,
        title: message.title.clone(),
        organisation: message.organisation.clone(),
        contact: message.contact.clone(),
        logo: message.logo.clone(),
    };
    logo(&mut reading, message.logo.len());
    match source {
        Some(source) => reading.finish(ReportRequest { source, template, parts, settings }, |_| Vec::new()),
        None => reading.finish((), |()| Vec::new()).and(Err(Vec::new())),
    }
}

fn one(reading: &mut Reading, field: &str, collection: &'static str, name: &str) -> Option<Id> {
    names::parse(field, collection, name).map_err(|fault| reading.add(fault)).ok()
}

fn source(reading: &mut Reading, name: &str) -> Option<Source> {
    let collection = name.split('/').next().unwrap_or_default();
    let known = std::iter::once(RUNS).chain(documents()).find(|known| *known == collection);
    let Some(collection) = known.or_else(|| name.is_empty().then_some(RUNS)) else {
        let given: String = name.chars().take(120).collect();
        let text = format!("source is '{given}'; accepted: {RUNS}/{{id}} or one of {}; name what is stored", forms());
        reading.refuse("source", FaultReason::BadForm, text);
        return None;
    };
    Some(Source { collection, id: one(reading, "source", collection, name)? })
}

/// What can be reported on besides runs.
fn documents() -> impl Iterator<Item = &'static str> {
    COLLECTIONS.iter().map(|(collection, _)| *collection)
}

fn forms() -> String {
    documents().map(|collection| format!("{collection}/{{id}}")).collect::<Vec<_>>().join(", ")
}

/// The parts of the source that are wanted: spots of a run, shelters of rules.
fn parts(reading: &mut Reading, source: &str, given: &[String]) -> Vec<Id> {
    if given.len() > MAX_SPOTS {
        let text = format!("spots has {} entries; accepted: up to {MAX_SPOTS}; make several reports", given.len());
        reading.refuse("spots", FaultReason::OutOfRange, text);
        return Vec::new();
    }
    let collection = match source {
        RUNS => "spots",
        v1::ShelterRules::COLLECTION => "shelters",
        _ if given.is_empty() => return Vec::new(),
        _ => {
            let text = format!("spots is given, but {source} have no parts; accepted: nothing; leave it out");
            reading.refuse("spots", FaultReason::Contradiction, text);
            return Vec::new();
        }
    };
    super::run::each(reading, "spots", given, |field, name| names::parse(field, collection, name))
}

fn logo(reading: &mut Reading, bytes: usize) {
    if bytes > MAX_LOGO_BYTES {
        let text = format!("logo has {bytes} bytes; accepted: up to {MAX_LOGO_BYTES}; make the picture smaller");
        reading.refuse("logo", FaultReason::TooLong, text);
    }
}

fn line(reading: &mut Reading, field: &str, text: &str, most: usize) {
    let given = text.chars().count();
    if given > most {
        let message = format!("{field} has {given} characters; accepted: up to {most}; shorten it");
        reading.refuse(field, FaultReason::TooLong, message);
    }
    if !text.is_empty() && looks_empty(text) {
        let message = format!("{field} holds nothing that shows; accepted: text, or nothing at all; leave it out");
        reading.refuse(field, FaultReason::BadForm, message);
        return;
    }
    if text.chars().any(char::is_control) {
        let message = format!("{field} holds a control character; accepted: one line of printable text; remove it");
        reading.refuse(field, FaultReason::BadForm, message);
    }
}

/// What a template is to be tried with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SampleRequest {
    pub(crate) template: Id,
    pub(crate) language: String,
    pub(crate) paper: Option<Paper>,
}

/// Reads a request to check or to preview a template.
pub(crate) fn sample(name: &str, language_code: &str, paper_number: i32) -> Result<SampleRequest, Vec<Fault>> {
    let mut reading = Reading::default();
    let template = one(&mut reading, "name", "templates", name);
    let language = language(&mut reading, language_code);
    let paper = paper(&mut reading, paper_number);
    let paper = (paper_number != v1::Paper::Unspecified as i32).then_some(paper);
    match template {
        Some(template) => reading.finish(SampleRequest { template, language, paper }, |_| Vec::new()),
        None => reading.finish((), |()| Vec::new()).and(Err(Vec::new())),
    }
}

/// A language tag; which ones there are is known to the renderer.
fn language(reading: &mut Reading, tag: &str) -> String {
    let fits = tag.len() <= MAX_TAG && tag.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
    if !fits {
        let given: String = tag.chars().take(MAX_TAG).filter(|c| !c.is_control()).collect();
        let text = format!(
            "language_code is '{given}'; accepted: a tag such as en or de; ListTemplates names those there are"
        );
        reading.refuse("language_code", FaultReason::BadForm, text);
    }
    if tag.is_empty() { DEFAULT_LANGUAGE.to_owned() } else { tag.to_owned() }
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
    fn left_out_settings_are_metres_on_a4_in_english() {
        let settings = from(&request()).unwrap().settings;
        assert_eq!((settings.length_unit, settings.paper), (LengthUnit::Metres, Paper::A4));
        assert_eq!(settings.language, "en");
    }

    #[test]
    fn documents_are_sources_too_and_only_rules_have_parts() {
        let of = |source: &str, spots: &[&str]| {
            from(&v1::RenderReportRequest {
                source: source.to_owned(),
                spots: spots.iter().map(|name| (*name).to_owned()).collect(),
                ..request()
            })
        };
        for collection in documents() {
            let read = of(&format!("{collection}/a"), &[]).unwrap();
            assert_eq!(read.source.to_string(), format!("{collection}/a"));
        }
        assert_eq!(of("shelterRules/a", &["shelters/hut"]).unwrap().parts.len(), 1);
        assert_eq!(of("fleetPlans/a", &["spots/a"]).unwrap_err()[0].field, "spots");
        assert!(of("sensors/a", &[]).unwrap_err()[0].message.contains("beamFits/{id}"));
    }

    #[test]
    fn a_title_that_shows_nothing_is_called_that() {
        for title in ["  ", "\u{200b}", "\u{2800}\u{3164}"] {
            let faults = from(&v1::RenderReportRequest { title: title.to_owned(), ..request() }).unwrap_err();
            assert_eq!((faults.len(), faults[0].field.as_str()), (1, "title"), "{title:?}");
            assert!(faults[0].message.contains("holds nothing that shows"), "{}", faults[0].message);
        }
        assert!(from(&v1::RenderReportRequest { title: String::new(), ..request() }).is_ok());
    }

    #[test]
    fn every_fault_of_a_request_comes_back_at_once() {
        let message = v1::RenderReportRequest {
            source: "spots/a".to_owned(),
            template: "templates/A b".to_owned(),
            length_unit: 7,
            paper: -1,
            spots: vec!["spots/a".to_owned(), "spots/a".to_owned(), "b".to_owned()],
            title: "x".repeat(121),
            organisation: "a\nb".to_owned(),
            contact: "y".repeat(201),
            language_code: "d e".to_owned(),
            appendix: false,
            logo: vec![0; MAX_LOGO_BYTES + 1],
        };
        let mut fields: Vec<_> = from(&message).unwrap_err().into_iter().map(|fault| fault.field).collect();
        fields.sort();
        assert_eq!(
            fields,
            [
                "contact",
                "language_code",
                "length_unit",
                "logo",
                "organisation",
                "paper",
                "source",
                "spots[1]",
                "spots[2]",
                "template",
                "title"
            ]
        );
        let many = (0..=MAX_SPOTS).map(|n| format!("spots/s{n}")).collect();
        let faults = from(&v1::RenderReportRequest { spots: many, ..request() }).unwrap_err();
        assert_eq!(faults[0].field, "spots");
    }
}
