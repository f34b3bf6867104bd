//! The descriptor set at run time: dynamic messages for field masks, JSON lines and the check of required fields.

use std::collections::{BTreeMap, HashSet};
use std::sync::LazyLock;

use domain::{Fault, FaultList, FaultReason};
use prost::encoding::{DecodeContext, WireType, decode_key, decode_varint, skip_field};
use prost::{DecodeError, Message, Name};
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

/// Whether a service has a method.
pub(crate) fn has_method(service: &str, method: &str) -> bool {
    let found = schema().ok().and_then(|schema| schema.pool.get_service_by_name(service));
    found.is_some_and(|service| service.methods().any(|known| known.name() == method))
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
#[cfg(test)]
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

/// Every field annotated REQUIRED that is left out, with its path; or the fault of holding too many entries.
pub(crate) fn missing<M: Message + Name>(message: &M, depth: Depth) -> Result<Vec<Fault>, Error> {
    missing_in(&message.encode_to_vec(), &descriptor::<M>()?, depth)
}

/// The same for a message as it is encoded. The bytes are looked at where they lie: a message of two bytes takes a hundred times
/// as much once it is decoded, and a caller may send two millions of them.
pub(crate) fn missing_in(bytes: &[u8], descriptor: &MessageDescriptor, depth: Depth) -> Result<Vec<Fault>, Error> {
    let mut walk = Walk { required: &schema()?.required, depth, faults: FaultList::default(), entries: 0 };
    match walk.message(bytes, descriptor, "") {
        Ok(()) => Ok(walk.faults.into_vec()),
        Err(Stop::TooMany(fault)) => Ok(vec![fault]),
        Err(Stop::Broken(error)) => Err(Error::internal(error)),
    }
}

/// Most entries of one list, and of all lists of one message together. Every list has a closer limit of its own, which its record's
/// check tells of; these keep the way there short.
const MOST_ENTRIES: usize = 10_000;
const MOST_NAMES: usize = 100_000;
const MOST_IN_ALL: usize = 100_000;

/// Why a walk over a message ends early.
enum Stop {
    TooMany(Fault),
    Broken(String),
}

impl From<DecodeError> for Stop {
    fn from(error: DecodeError) -> Self {
        Self::Broken(error.to_string())
    }
}

/// A walk over an encoded message.
struct Walk<'a> {
    required: &'a HashSet<String>,
    depth: Depth,
    faults: FaultList,
    entries: usize,
}

impl Walk<'_> {
    fn message(&mut self, bytes: &[u8], descriptor: &MessageDescriptor, prefix: &str) -> Result<(), Stop> {
        let given = fields(bytes)?;
        for field in descriptor.fields() {
            let name = field.name();
            let path = || if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") };
            let Some(entries) = given.get(&field.number()) else {
                if self.required.contains(field.full_name()) {
                    let path = path();
                    let message = format!("{path} is left out; it is required; give it");
                    self.faults.push(Fault::new(path, FaultReason::Missing, message));
                }
                continue;
            };
            if field.is_list() || field.is_map() {
                self.count(&field, entries, path)?;
            }
            let Kind::Message(inner) = field.kind() else { continue };
            if self.depth == Depth::Own || field.is_map() {
                continue;
            }
            for (index, entry) in entries.iter().enumerate() {
                let at = if field.is_list() { format!("{}[{index}]", path()) } else { path() };
                self.message(entry, &inner, &at)?;
            }
        }
        Ok(())
    }

    /// Ends the walk at a list that is longer than any may be.
    fn count(&mut self, field: &FieldDescriptor, given: &[&[u8]], path: impl Fn() -> String) -> Result<(), Stop> {
        // Numbers lie side by side in one entry.
        let side_by_side = |bytes: usize| given.iter().map(|part| (part.len() / bytes).max(1)).sum();
        let count = match field.kind() {
            Kind::Message(_) | Kind::String | Kind::Bytes => given.len(),
            Kind::Double | Kind::Fixed64 | Kind::Sfixed64 => side_by_side(8),
            Kind::Float | Kind::Fixed32 | Kind::Sfixed32 => side_by_side(4),
            Kind::Int32 | Kind::Int64 | Kind::Uint32 | Kind::Uint64 | Kind::Sint32 | Kind::Sint64 => side_by_side(1),
            Kind::Bool | Kind::Enum(_) => side_by_side(1),
        };
        self.entries += count;
        let most = if field.kind() == Kind::String { MOST_NAMES } else { MOST_ENTRIES };
        if count <= most && self.entries <= MOST_IN_ALL {
            return Ok(());
        }
        let path = path();
        let message = format!(
            "{path} has {count} entries; accepted: up to {most} in a list, and {MOST_IN_ALL} in all lists of a message; send fewer"
        );
        Err(Stop::TooMany(Fault::new(path, FaultReason::OutOfRange, message)))
    }
}

/// What stands in a message at each field's number: the content of what has a length, nothing of what has none.
fn fields(mut bytes: &[u8]) -> Result<BTreeMap<u32, Vec<&[u8]>>, Stop> {
    use prost::bytes::Buf as _;
    let mut found: BTreeMap<u32, Vec<&[u8]>> = BTreeMap::new();
    while bytes.has_remaining() {
        let (number, wire) = decode_key(&mut bytes)?;
        let content = if wire == WireType::LengthDelimited {
            let length = usize::try_from(decode_varint(&mut bytes)?).unwrap_or(usize::MAX);
            let (content, rest) = bytes
                .split_at_checked(length)
                .ok_or_else(|| Stop::Broken("a field ends past its message".to_owned()))?;
            bytes = rest;
            content
        } else {
            skip_field(wire, number, &mut bytes, DecodeContext::default())?;
            &[]
        };
        found.entry(number).or_default().push(content);
    }
    Ok(found)
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
            ["sensor_id", "sensor.display_name", "sensor.options[0].option_id", "sensor.options[0].frequency_khz",]
        );
        assert_eq!(missing(&request, Depth::Own).unwrap().len(), 1);
    }

    #[test]
    fn a_list_that_is_far_too_long_is_refused_before_its_entries_are_looked_at() {
        let hut = |holes| v1::Shelter { holes: vec![v1::Hole::default(); holes], ..v1::Shelter::default() };
        let request = |holes| v1::CreateShelterRequest { shelter_id: "hut".to_owned(), shelter: Some(hut(holes)) };
        let faults = missing(&request(MOST_ENTRIES + 1), Depth::Whole).unwrap();
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!((faults[0].field.as_str(), faults[0].reason), ("shelter.holes", FaultReason::OutOfRange));
        assert_ne!(
            missing(&request(10), Depth::Whole).unwrap().first().map(|f| f.field.as_str()),
            Some("shelter.holes")
        );
        let classes = v1::RulesSpec { bottom_classes: vec![1; MOST_ENTRIES + 1], ..v1::RulesSpec::default() };
        let rules = v1::DeriveShelterRulesRequest { spec: Some(classes) };
        assert_eq!(missing(&rules, Depth::Whole).unwrap()[0].field, "spec.bottom_classes");
    }

    #[test]
    fn names_etags_and_times_are_managed() {
        let spot = descriptor::<v1::Spot>().unwrap();
        let managed: Vec<_> = spot.fields().filter(is_managed).map(|field| field.name().to_owned()).collect();
        assert_eq!(managed, ["name", "etag", "create_time", "update_time"]);
    }
}
