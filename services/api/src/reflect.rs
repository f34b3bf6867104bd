//! The descriptor set at run time: dynamic messages for field masks, JSON lines and the check of required fields.

use std::collections::HashSet;
use std::sync::LazyLock;

use domain::{Fault, FaultList, FaultReason};
use prost::{Message, Name};
use prost_reflect::{DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};

use crate::error::Error;

/// `REQUIRED` of google.api.FieldBehavior.
const REQUIRED: i32 = 2;
/// `OUTPUT_ONLY` of google.api.FieldBehavior.
const OUTPUT_ONLY: i32 = 3;
/// `IDENTIFIER` of google.api.FieldBehavior.
const IDENTIFIER: i32 = 8;

/// The descriptors, decoded once, and which of their fields carry which behaviour.
struct Schema {
    pool: DescriptorPool,
    required: HashSet<String>,
    managed: HashSet<String>,
}

/// A cache of the constant descriptor set; a set that does not decode is met by the first test of this crate.
static SCHEMA: LazyLock<Result<Schema, String>> = LazyLock::new(Schema::load);

impl Schema {
    fn load() -> Result<Self, String> {
        let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).map_err(|error| error.to_string())?;
        let behaviour = pool
            .get_extension_by_name("google.api.field_behavior")
            .ok_or("the descriptor set lacks google.api.field_behavior")?;
        let (mut required, mut managed) = (HashSet::new(), HashSet::new());
        for field in pool.all_messages().flat_map(|message| message.fields().collect::<Vec<_>>()) {
            let options = field.options();
            let values = options.get_extension(&behaviour);
            let has = |wanted| values.as_list().is_some_and(|list| list.contains(&Value::EnumNumber(wanted)));
            if has(REQUIRED) {
                required.insert(field.full_name().to_owned());
            }
            // etags are set by the store, whatever a caller writes into them.
            if has(OUTPUT_ONLY) || has(IDENTIFIER) || field.name() == "etag" {
                managed.insert(field.full_name().to_owned());
            }
        }
        Ok(Self { pool, required, managed })
    }
}

fn schema() -> Result<&'static Schema, Error> {
    SCHEMA.as_ref().map_err(Error::internal)
}

/// The descriptor of a message type.
pub(crate) fn descriptor<M: Name>() -> Result<MessageDescriptor, Error> {
    let name = M::full_name();
    schema()?.pool.get_message_by_name(&name).ok_or_else(|| Error::internal(format!("no descriptor of {name}")))
}

/// A message as its dynamic twin.
pub(crate) fn to_dynamic<M: Message + Name>(message: &M) -> Result<DynamicMessage, Error> {
    let bytes = message.encode_to_vec();
    DynamicMessage::decode(descriptor::<M>()?, bytes.as_slice()).map_err(Error::internal)
}

/// The generated message of a dynamic one.
pub(crate) fn from_dynamic<M: Message + Default>(message: &DynamicMessage) -> Result<M, Error> {
    message.transcode_to().map_err(Error::internal)
}

/// Whether the service alone writes this field: its name, its etag and its times.
pub(crate) fn is_managed(field: &FieldDescriptor) -> bool {
    SCHEMA.as_ref().is_ok_and(|schema| schema.managed.contains(field.full_name()))
}

/// How deep the check of required fields goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Depth {
    /// The message and every message in it.
    Whole,
    /// The message's own fields: for updates, where only the merged record has to be whole.
    Own,
}

/// Every field annotated REQUIRED that is left out, with its path.
pub(crate) fn missing<M: Message + Name>(message: &M, depth: Depth) -> Result<Vec<Fault>, Error> {
    let mut faults = FaultList::default();
    collect_missing(&to_dynamic(message)?, "", depth, &schema()?.required, &mut faults);
    Ok(faults.into_vec())
}

/// The same for a dynamic message.
pub(crate) fn missing_in(message: &DynamicMessage) -> Result<Vec<Fault>, Error> {
    let mut faults = FaultList::default();
    collect_missing(message, "", Depth::Whole, &schema()?.required, &mut faults);
    Ok(faults.into_vec())
}

fn collect_missing(
    message: &DynamicMessage,
    prefix: &str,
    depth: Depth,
    required: &HashSet<String>,
    faults: &mut FaultList,
) {
    use prost_reflect::ReflectMessage as _;
    for field in message.descriptor().fields() {
        let path = if prefix.is_empty() { field.name().to_owned() } else { format!("{prefix}.{}", field.name()) };
        if !message.has_field(&field) {
            if required.contains(field.full_name()) {
                faults.push(Fault::new(
                    &path,
                    FaultReason::Missing,
                    format!("{path} is left out; it is required; give it"),
                ));
            }
            continue;
        }
        if depth == Depth::Own || !matches!(field.kind(), Kind::Message(_)) {
            continue;
        }
        match message.get_field(&field).as_ref() {
            Value::Message(inner) => collect_missing(inner, &path, depth, required, faults),
            Value::List(list) => {
                for (index, inner) in list.iter().enumerate() {
                    if let Value::Message(inner) = inner {
                        collect_missing(inner, &format!("{path}[{index}]"), depth, required, faults);
                    }
                }
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proto::v1;

    #[test]
    fn every_required_field_is_named_with_its_path() {
        let request = v1::CreateSensorRequest {
            sensor_id: String::new(),
            sensor: Some(v1::Sensor { options: vec![v1::BeamOption::default()], ..v1::Sensor::default() }),
        };
        let paths: Vec<_> = missing(&request, Depth::Whole).unwrap().into_iter().map(|fault| fault.field).collect();
        assert_eq!(
            paths,
            [
                "sensor_id",
                "sensor.display_name",
                "sensor.options[0].option_id",
                "sensor.options[0].frequency_khz",
                "sensor.options[0].shape",
                "sensor.options[0].pulse_length_us",
                "sensor.threshold_db",
                "sensor.max_gain_db",
                "sensor.dial",
            ]
        );
        assert_eq!(missing(&request, Depth::Own).unwrap().len(), 1);
    }

    #[test]
    fn names_etags_and_times_are_managed() {
        let spot = descriptor::<v1::Spot>().unwrap();
        let managed: Vec<_> = spot.fields().filter(is_managed).map(|field| field.name().to_owned()).collect();
        assert_eq!(managed, ["name", "etag", "create_time", "update_time"]);
    }
}
