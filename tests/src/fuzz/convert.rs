//! Protocol to domain: an accepted message keeps what it says, its record comes back the same, and refusals name fields.

use api::edge::{Question, Record, faults, of, write_json_line};
use catalog::exchange::csv::CsvRecord;
use domain::{Fault, FaultReason, Id, SpotRecord};
use prost::Message as _;
use proto::v1;
use serde_json::Value;

use super::records::{Shown, of_kind};
use super::{csv, gpx};

/// Figures with fewer digits than others, as they lie at the end of what numbers can say: nothing in any unit.
const NOTHING: f64 = 1e-300;
/// Text that can be written in several ways; that it comes back as the same day or position is seen by the record.
const SEVERAL_WAYS: [&str; 4] = ["position", "day", "firstDay", "lastDay"];
/// What the service writes itself.
const MANAGED: [&str; 4] = ["name", "etag", "createTime", "updateTime"];

pub(crate) fn target(data: &[u8]) {
    let Some((kind, message)) = data.split_first() else { return };
    if kind & 8 == 0 {
        of_kind!(kind, record(message));
    } else if let Some(question) = question(*kind, message) {
        named(&faults(&question));
    }
}

fn question(kind: u8, message: &[u8]) -> Option<Question> {
    match kind & 7 {
        0 => v1::RunSpec::decode(message).ok().map(|spec| Question::Run(Box::new(spec))),
        1 => v1::RulesSpec::decode(message).ok().map(Question::Rules),
        2 => v1::FleetSpec::decode(message).ok().map(Question::Fleet),
        3 => v1::AssessmentSpec::decode(message).ok().map(Question::Assessment),
        _ => v1::RenderReportRequest::decode(message).ok().map(Question::Report),
    }
}

fn record<R: Record + CsvRecord + Shown>(message: &[u8]) {
    let Ok(message) = R::Message::decode(message) else { return };
    let Ok(id) = Id::parse("any") else { return };
    let record = match R::from_message(id.clone(), message.clone()) {
        Ok(record) => record,
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a reason");
            return named(&faults);
        }
    };
    assert_eq!(record.check(), [], "accepted against its own check: {record:?}");
    let back = record.to_message();
    assert_eq!(R::message_name(&back), of(R::COLLECTION, &id));
    kept(&json(&message), &json(&back), "");
    assert_eq!(R::from_message(id, back), Ok(record.clone()), "the record came back another one");
    // What a file cannot say stands in the documentation of `catalog::exchange`.
    if !changes_in_files(&json(&record.to_message())) {
        in_files(record);
    }
}

/// A record of the protocol goes through files unchanged, too.
fn in_files<R: CsvRecord + Shown>(record: R) {
    csv::round_trip(std::slice::from_ref(&record));
    if let Some(spot) = (&record as &dyn std::any::Any).downcast_ref::<SpotRecord>()
        && spot.latitude_deg.is_some()
    {
        let mut spot = spot.clone();
        gpx::on_the_meridian(&mut spot);
        gpx::round_trip(&[spot]);
    }
}

/// Whether a text begins or ends with a blank, or holds what XML cannot.
fn changes_in_files(value: &Value) -> bool {
    match value {
        Value::String(text) => text.trim() != text || text.contains(['\u{fffe}', '\u{ffff}']),
        Value::Array(items) => items.iter().any(changes_in_files),
        Value::Object(fields) => fields.values().any(changes_in_files),
        _ => false,
    }
}

/// Every fault names its field and says something; only the count of those left out, which comes last, is of no field.
fn named(faults: &[Fault]) {
    for (index, fault) in faults.iter().enumerate() {
        let counts = matches!(fault.reason, FaultReason::More(_)) && index + 1 == faults.len();
        assert!(fault.field.is_empty() == counts && !fault.message.is_empty(), "{fault:?}");
        let length = fault.message.chars().count();
        assert!(length <= 2_000, "{length} characters: {fault:?}");
    }
}

fn json<M: prost::Message + prost::Name>(message: &M) -> Value {
    let mut line = Vec::new();
    let written = write_json_line(message, &mut line);
    assert!(written.is_ok(), "cannot be written as JSON: {written:?}");
    let value = serde_json::from_slice(&line);
    assert!(value.is_ok(), "{} is no JSON: {value:?}", String::from_utf8_lossy(&line));
    value.unwrap_or_default()
}

/// Everything that was given stands in what came back; figures may differ by what two changes of the unit round.
fn kept(given: &Value, back: &Value, path: &str) {
    match (given, back) {
        (Value::Object(given), Value::Object(back)) => {
            let skipped = |key: &str| SEVERAL_WAYS.contains(&key) || (path.is_empty() && MANAGED.contains(&key));
            for (key, value) in given.iter().filter(|(key, _)| !skipped(key)) {
                let path = format!("{path}.{key}");
                // What is zero may be left out; figures too small for another unit become zero.
                let zero = Value::from(0.0);
                let nothing = value.as_f64().filter(|figure| figure.abs() < NOTHING).map(|_| &zero);
                let there = back.get(key).or(nothing);
                assert!(there.is_some(), "{path} is lost: {value}");
                kept(value, there.unwrap_or(&Value::Null), &path);
            }
        }
        (Value::Array(given), Value::Array(back)) => {
            assert_eq!(given.len(), back.len(), "{path} has another length");
            for (index, (given, back)) in given.iter().zip(back).enumerate() {
                kept(given, back, &format!("{path}[{index}]"));
            }
        }
        (Value::Number(given), Value::Number(back)) => {
            let (a, b) = (given.as_f64().unwrap_or(f64::NAN), back.as_f64().unwrap_or(f64::NAN));
            assert!((a - b).abs() <= (4.0 * f64::EPSILON * a.abs()).max(NOTHING), "{path} was {given} and is {back}");
        }
        _ => assert_eq!(given, back, "{path} changed"),
    }
}
