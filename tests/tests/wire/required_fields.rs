//! For every method and every REQUIRED field of its request: left out, it is named in an INVALID_ARGUMENT. Cases come from the descriptor set.

use prost::Message as _;
use prost_reflect::{Cardinality, DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};

use tests::kit::raw::call;
use tests::kit::service::{Service, refused_fields};

const REQUIRED: i32 = 2;

fn is_required(field: &FieldDescriptor) -> bool {
    let Some(extension) = field.parent_pool().get_extension_by_name("google.api.field_behavior") else { return false };
    let options = field.options();
    let Value::List(behaviours) = options.get_extension(&extension).into_owned() else { return false };
    behaviours.iter().any(|b| matches!(b, Value::EnumNumber(REQUIRED)))
}

/// A message in which every required message is there but holds nothing else, and the paths of everything required that it lacks.
fn hollow(message: &MessageDescriptor, prefix: &str, missing: &mut Vec<String>) -> DynamicMessage {
    let mut made = DynamicMessage::new(message.clone());
    for field in message.fields().filter(is_required) {
        let path = format!("{prefix}{}", field.name());
        match (field.kind(), field.cardinality()) {
            // A figure with provenance is a leaf to the caller: it is named as a whole.
            (Kind::Message(inner), _) if inner.name() == "Fact" => missing.push(path),
            (Kind::Message(inner), Cardinality::Repeated) => {
                let element = hollow(&inner, &format!("{path}[0]."), missing);
                made.set_field(&field, Value::List(vec![Value::Message(element)]));
            }
            (Kind::Message(inner), _) => {
                let inner = hollow(&inner, &format!("{path}."), missing);
                made.set_field(&field, Value::Message(inner));
            }
            _ => missing.push(path),
        }
    }
    made
}

#[tokio::test]
async fn every_required_field_that_is_left_out_is_named() {
    let service = Service::start().await;
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let mut cases = 0;
    for method in
        pool.services().filter(|s| s.package_name() == "lakebeam.v1").flat_map(|s| s.methods().collect::<Vec<_>>())
    {
        if method.is_client_streaming() {
            // ImportRecords: its required fields stand in a part of a stream, and have a test of their own.
            continue;
        }
        let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
        let input = method.input();
        let top: Vec<String> = input.fields().filter(is_required).map(|f| f.name().to_owned()).collect();
        if top.is_empty() {
            continue;
        }
        let empty = DynamicMessage::new(input.clone());
        let status = call(&service.channel, &path, None, empty.encode_to_vec().into()).await.expect_err(&path);
        let named = refused_fields(&status);
        for field in &top {
            assert!(named.contains(field), "{path}: {field} is not named in {named:?}");
            cases += 1;
        }
        // An update may leave fields of its record out; everything else must be whole.
        if method.name().starts_with("Update") {
            continue;
        }
        let mut missing = Vec::new();
        let hollow = hollow(&input, "", &mut missing);
        if missing.is_empty() {
            // All that is required is a message without required fields, such as a point of time.
            continue;
        }
        let status = call(&service.channel, &path, None, hollow.encode_to_vec().into()).await.expect_err(&path);
        let named = refused_fields(&status);
        for field in &missing {
            assert!(named.contains(field), "{path}: {field} is not named in {named:?}");
            cases += 1;
        }
    }
    println!("{cases} required fields left out");
    assert!(cases > 60, "only {cases} cases were made");
}
