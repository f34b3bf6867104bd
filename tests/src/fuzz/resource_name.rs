//! Resource names: what is accepted formats back to itself, and exactly the well-formed names are.

use api::edge::{OptionName, of, parse, parse_finding, parse_id, parse_option};
use domain::{Fault, Id};

const COLLECTIONS: [&str; 4] = ["sensors", "spots", "unitChecks", "runs"];

pub(crate) fn target(data: &[u8]) {
    let Some((which, rest)) = data.split_first() else { return };
    let Ok(name) = std::str::from_utf8(rest) else { return };
    let [collection, ..] = COLLECTIONS;
    let collection = COLLECTIONS.get(usize::from(which % 4)).copied().unwrap_or(collection);

    let sound = name.strip_prefix(collection).and_then(|id| id.strip_prefix('/')).is_some_and(is_id);
    same(parse("name", collection, name).map(|id| of(collection, &id)), name, sound);
    same(parse_id("name", name).map(|id| id.to_string()), name, is_id(name));

    let sound = match name.split('/').collect::<Vec<_>>().as_slice() {
        ["sensors", sensor] => is_id(sensor),
        ["sensors", sensor, "options", option] => is_id(sensor) && is_id(option),
        _ => false,
    };
    same(parse_option("name", name).map(|name| option_text(&name)), name, sound);

    let sound = match name.split('/').collect::<Vec<_>>().as_slice() {
        ["runs", run, "findings", finding] => {
            is_id(run) && finding.matches('.').count() == 2 && finding.split('.').all(is_id)
        }
        _ => false,
    };
    same(parse_finding("name", name).map(|name| name.to_string()), name, sound);
    assert_eq!(Id::parse(name).is_ok(), is_id(name), "{name}");
}

/// An id by the words of its documentation, read in another way than by its parser.
fn is_id(text: &str) -> bool {
    let bytes = text.as_bytes();
    let (Some(first), Some(last)) = (bytes.first(), bytes.last()) else { return false };
    let letters = bytes.iter().all(|byte| matches!(byte, b'a'..=b'z' | b'0'..=b'9' | b'-'));
    (1..=63).contains(&bytes.len()) && letters && first.is_ascii_lowercase() && *last != b'-'
}

fn option_text(name: &OptionName) -> String {
    match name {
        OptionName::All { sensor } => of("sensors", sensor),
        OptionName::One { sensor, option } => format!("{}/options/{option}", of("sensors", sensor)),
    }
}

/// Accepted exactly when it is sound, and then as it was given; refused with the field and a message of readable length.
fn same(read: Result<String, Fault>, name: &str, sound: bool) {
    assert_eq!(read.is_ok(), sound, "'{name}': {read:?}");
    match read {
        Ok(text) => assert_eq!(text, name),
        Err(fault) => {
            assert_eq!(fault.field, "name");
            let length = fault.message.chars().count();
            assert!((1..=500).contains(&length), "{length} characters: {}", fault.message);
        }
    }
}
