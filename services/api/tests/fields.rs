//! The comments of the protocol say the same ranges, units and defaults as the tables of the records.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

use std::collections::HashMap;

use domain::field::{Field, Record};
use domain::record::{option, sensor, shelter, spot};
use domain::{
    BeamSurvey, Booking, GoalRecord, OptionRecord, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit,
    UnitCheck, survey,
};
use prost::Message as _;
use prost_types::{DescriptorProto, FileDescriptorSet};

/// Comments by message and field, such as `Spot` and `depth_m`.
type Comments = HashMap<(String, String), String>;

fn comments() -> (Comments, HashMap<(String, String), String>) {
    let set = FileDescriptorSet::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let (mut said, mut types) = (Comments::new(), HashMap::new());
    for file in &set.file {
        let locations = file.source_code_info.iter().flat_map(|info| &info.location);
        let by_path: HashMap<&[i32], &str> = locations.map(|at| (at.path.as_slice(), at.leading_comments())).collect();
        for (message_at, message) in (0..).zip(&file.message_type) {
            let DescriptorProto { name, field, .. } = message;
            for (field_at, field) in (0..).zip(field) {
                // Numbers 4 and 2 are `message_type` and `field` in descriptor.proto.
                let comment = by_path.get([4, message_at, 2, field_at].as_slice()).copied().unwrap_or_default();
                let key = (name.clone().unwrap(), field.name().to_owned());
                let inner = field.type_name().rsplit('.').next().unwrap_or_default().to_owned();
                types.insert(key.clone(), inner);
                // Thousands are set apart for people.
                let plain: Vec<char> = comment.chars().collect();
                let digit = |at: usize| plain.get(at).is_some_and(char::is_ascii_digit);
                let joined =
                    (0..plain.len()).filter(|at| !(plain[*at] == ',' && *at > 0 && digit(at - 1) && digit(at + 1)));
                said.insert(key, joined.map(|at| plain[at]).collect());
            }
        }
    }
    (said, types)
}

/// Adds what the comments of a message say otherwise than a table.
fn compare<R>(message: &str, fields: &[Field<R>], wrong: &mut Vec<String>) -> usize {
    let (said, types) = comments();
    let mut compared = 0;
    for field in fields {
        let mut at = message.to_owned();
        let mut segments: Vec<&str> = field.path.split('.').collect();
        let last = segments.pop().unwrap();
        for segment in segments {
            at = types.get(&(at.clone(), segment.to_owned())).cloned().unwrap_or_default();
        }
        let Some(comment) = said.get(&(at.clone(), last.to_owned())) else {
            // An id stands in `name`, a price in whole units and billionths, and an option behind its sensor.
            if !matches!(field.path, "id" | "price" | "sensor" | "shape") {
                wrong.push(format!("{at} has no field {last}"));
            }
            continue;
        };
        let Some(accepted) = field.range() else { continue };
        // A position is text in the protocol.
        if field.path == "position" {
            continue;
        }
        compared += 1;
        let range = domain::field::Accepted { unit: "", ..accepted }.to_string();
        for part in [range.as_str(), accepted.unit] {
            if !comment.contains(part) {
                wrong.push(format!("{at}.{last} lacks '{part}': {comment}"));
            }
        }
        if field.left_out.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            && !comment.contains(&format!("Left out: {}", field.left_out))
        {
            wrong.push(format!("{at}.{last} is left out for {}: {comment}", field.left_out));
        }
    }
    compared
}

#[test]
fn comments_of_the_protocol_say_what_the_tables_say() {
    let mut wrong = Vec::new();
    let compared = [
        compare("Spot", SpotRecord::FIELDS, &mut wrong),
        compare("Relief", spot::RELIEF_FIELDS, &mut wrong),
        compare("Sensor", SensorRecord::FIELDS, &mut wrong),
        compare("BeamOption", OptionRecord::FIELDS, &mut wrong),
        compare("PatternPoint", option::POINT_FIELDS, &mut wrong),
        compare("DialPoint", sensor::DIAL_FIELDS, &mut wrong),
        compare("Target", TargetRecord::FIELDS, &mut wrong),
        compare("Shelter", ShelterRecord::FIELDS, &mut wrong),
        compare("Hole", shelter::HOLE_FIELDS, &mut wrong),
        compare("Unit", Unit::FIELDS, &mut wrong),
        compare("UnitCheck", UnitCheck::FIELDS, &mut wrong),
        compare("Booking", Booking::FIELDS, &mut wrong),
        compare("CustomGoal", GoalRecord::FIELDS, &mut wrong),
        compare("BeamSurvey", BeamSurvey::FIELDS, &mut wrong),
        compare("SurveyReading", survey::READING_FIELDS, &mut wrong),
    ];
    assert!(compared.iter().sum::<usize>() > 50, "{compared:?}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
