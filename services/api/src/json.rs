//! Records as JSON lines, in the protobuf JSON mapping: one object a line, unknown fields refused, each fault with its path.

use domain::{Fault, FaultReason};
use prost::{Message, Name};
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor};
use serde::de::DeserializeSeed as _;
use serde_json::Value;

use crate::error::Error;
use crate::reflect::{Depth, descriptor, missing_in, to_dynamic};

/// Longest key and value of a file that a fault says back, and longest words of the reader about them, characters.
const MOST_KEY: usize = 60;
const MOST_PROBLEM: usize = 200;

/// A message read from a line, and the required fields that it leaves out.
#[derive(Debug)]
pub(crate) struct Read<M> {
    pub(crate) message: M,
    pub(crate) missing: Vec<Fault>,
}

/// Reads one line. The inner result holds the line's faults, the outer one a fault of the service.
pub(crate) fn read<M: Message + Name + Default>(line: &str) -> Result<Result<Read<M>, Vec<Fault>>, Error> {
    let descriptor = descriptor::<M>()?;
    let mut deserializer = serde_json::Deserializer::from_str(line);
    let parsed = descriptor.clone().deserialize(&mut deserializer).and_then(|message| {
        deserializer.end()?;
        Ok(message)
    });
    match parsed {
        Ok(message) => {
            let bytes = message.encode_to_vec();
            let missing = missing_in(&bytes, &descriptor, Depth::Whole)?;
            Ok(Ok(Read { missing, message: M::decode(bytes.as_slice()).map_err(Error::internal)? }))
        }
        Err(error) => Ok(Err(faults(line, &descriptor, &error))),
    }
}

/// Writes a message as one line, its line end included.
///
/// # Errors
/// The service itself failed.
pub fn write<M: Message + Name>(message: &M, into: &mut Vec<u8>) -> Result<(), Error> {
    serde_json::to_writer(&mut *into, &to_dynamic(message)?).map_err(Error::internal)?;
    into.push(b'\n');
    Ok(())
}

/// A path of fields as it stands in a JSON file: `options[0].frequency_khz` becomes `options[0].frequencyKhz`.
pub(crate) fn path(field: &str) -> String {
    let mut text = String::with_capacity(field.len());
    let mut rises = false;
    for c in field.chars() {
        match c {
            '_' => rises = true,
            _ if rises => {
                text.push(c.to_ascii_uppercase());
                rises = false;
            }
            _ => text.push(c),
        }
    }
    text
}

fn faults(line: &str, descriptor: &MessageDescriptor, error: &serde_json::Error) -> Vec<Fault> {
    let Ok(value) = serde_json::from_str::<Value>(line) else {
        let problem = cut(&error.to_string(), MOST_PROBLEM);
        let message = format!("not JSON: {problem}; accepted: one JSON object a line; correct it");
        return vec![Fault::new("", FaultReason::BadForm, message)];
    };
    let mut found = Vec::new();
    object(descriptor, &value, "", &mut found);
    if found.is_empty() {
        // Each field reads well by itself: they clash, such as two of a oneof, or one field by both of its names.
        found.push(Fault::new(
            "",
            FaultReason::Contradiction,
            format!("{}; correct it", cut(&error.to_string(), MOST_PROBLEM)),
        ));
    }
    found
}

fn object(descriptor: &MessageDescriptor, value: &Value, at: &str, found: &mut Vec<Fault>) {
    let Some(object) = value.as_object() else {
        found.push(Fault::new(at, FaultReason::BadForm, format!("{} is given; accepted: a JSON object", kind(value))));
        return;
    };
    for (key, value) in object {
        let shown = cut(key, MOST_KEY);
        let path = if at.is_empty() { shown } else { format!("{at}.{shown}") };
        match descriptor.get_field_by_json_name(key).or_else(|| descriptor.get_field_by_name(key)) {
            Some(field) => of_field(&field, key, value, &path, found),
            None => {
                let known: Vec<_> = descriptor.fields().map(|field| field.json_name().to_owned()).collect();
                let message = format!("no such field; accepted: {}; correct or drop it", known.join(", "));
                found.push(Fault::new(path, FaultReason::Unknown, message));
            }
        }
    }
}

fn of_field(field: &FieldDescriptor, key: &str, value: &Value, path: &str, found: &mut Vec<Fault>) {
    let Err(message) = alone(field, key, value) else { return };
    match (field.kind(), value) {
        (Kind::Message(inner), Value::Array(items)) if field.is_list() => {
            let before = found.len();
            for (index, item) in items.iter().enumerate() {
                object(&inner, item, &format!("{path}[{index}]"), found);
            }
            if found.len() == before {
                found.push(Fault::new(path, FaultReason::BadForm, message));
            }
        }
        (Kind::Message(inner), Value::Object(_)) if !field.is_list() && !field.is_map() => {
            let before = found.len();
            object(&inner, value, path, found);
            if found.len() == before {
                found.push(Fault::new(path, FaultReason::BadForm, message));
            }
        }
        _ => found.push(Fault::new(path, FaultReason::BadForm, message)),
    }
}

/// Reads a field as if it were the only one.
fn alone(field: &FieldDescriptor, key: &str, value: &Value) -> Result<DynamicMessage, String> {
    let mut object = serde_json::Map::new();
    object.insert(key.to_owned(), value.clone());
    field.parent_message().clone().deserialize(Value::Object(object)).map_err(|error| {
        let (given, problem) = (cut(&value.to_string(), MOST_KEY), cut(&error.to_string(), MOST_PROBLEM));
        format!("{given} is given; accepted: {}; {problem}", accepted(field))
    })
}

/// Text of a file that is said back to its giver, cut to a bearable length.
fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most { text.to_owned() } else { text.chars().take(most).chain(['…']).collect() }
}

fn accepted(field: &FieldDescriptor) -> String {
    let one = match field.kind() {
        Kind::Double | Kind::Float => "a number".to_owned(),
        Kind::Bool => "true or false".to_owned(),
        Kind::String | Kind::Bytes => "text in quotes".to_owned(),
        Kind::Message(_) => "a JSON object".to_owned(),
        Kind::Enum(values) => {
            let names: Vec<_> = values.values().skip(1).map(|value| value.name().to_owned()).collect();
            format!("one of {}", names.join(", "))
        }
        _ => "a whole number".to_owned(),
    };
    if field.is_list() { format!("a list, each entry {one}") } else { one }
}

fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proto::v1;

    fn fields(line: &str) -> Vec<String> {
        read::<v1::Sensor>(line).unwrap().unwrap_err().into_iter().map(|fault| fault.field).collect()
    }

    #[test]
    fn lines_read_with_both_spellings_of_a_field() {
        for line in [r#"{"displayName":"S","confirmPings":3}"#, r#"{"display_name":"S","confirm_pings":3}"#] {
            let read = read::<v1::Sensor>(line).unwrap().unwrap();
            assert_eq!((read.message.display_name.as_str(), read.message.confirm_pings), ("S", 3));
            let missing: Vec<_> = read.missing.iter().map(|fault| fault.field.as_str()).collect();
            assert_eq!(missing, ["options"]);
        }
    }

    #[test]
    fn every_fault_of_a_line_has_its_path() {
        let line = r#"{"displayName":5,"colour":"red","options":[{},{"shape":"ROUND","frequencyKhz":{"value":"x"}},7],
                       "dial":{"points":{}},"confirmPings":-1}"#;
        let mut found = fields(line);
        found.sort();
        assert_eq!(
            found,
            [
                "colour",
                "confirmPings",
                "dial.points",
                "displayName",
                "options[1].frequencyKhz.value",
                "options[1].shape",
                "options[2]",
            ]
        );
    }

    #[test]
    fn what_is_not_an_object_is_one_fault() {
        for line in ["", "{", "[]", "7", "{} {}", "{\"displayName\":\"\u{1}\"}"] {
            assert_eq!(fields(line), [""], "{line}");
        }
    }

    #[test]
    fn two_of_a_oneof_clash() {
        let line = r#"{"disc":{"diameterMm":5},"sphere":{"diameterMm":5}}"#;
        let faults = read::<v1::Target>(line).unwrap().unwrap_err();
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].reason, FaultReason::Contradiction);
    }

    #[test]
    fn written_lines_read_back() {
        let spot =
            v1::Spot { display_name: "Bar \"é\"\n".to_owned(), depth_m: 7.3, ph: Some(7.0), ..v1::Spot::default() };
        let mut line = Vec::new();
        write(&spot, &mut line).unwrap();
        let text = std::str::from_utf8(&line).unwrap();
        assert_eq!(text.matches('\n').count(), 1);
        assert_eq!(read::<v1::Spot>(text.trim_end()).unwrap().unwrap().message, spot);
    }

    #[test]
    fn paths_read_as_in_the_file() {
        assert_eq!(path("options[0].frequency_khz.value"), "options[0].frequencyKhz.value");
    }
}
