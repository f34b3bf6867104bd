//! Every method, with messages that no method should take.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use prost::Message as _;
use prost::bytes::Bytes;
use prost_reflect::{DescriptorPool, DynamicMessage, Kind, MessageDescriptor, MethodDescriptor, Value};
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

use crate::support::Server;
use crate::token;
use tests::kit::raw::{call, connect};

/// Trailers that clients of every language take, bytes.
const TRAILERS: usize = 8 * 1024;
/// More entries than any list may have, of messages and of names.
const ENTRIES: usize = 10_001;
const NAMES: usize = 100_001;
/// How long a refusal may take in a build without optimisation, beside other tests.
const SOON: Duration = Duration::from_secs(30);

/// One kind of message that is refused, and what it is refused with; none for a method that it does not fit.
struct Attack {
    name: &'static str,
    message: fn(&MessageDescriptor) -> Option<Bytes>,
    refused_with: &'static [Code],
}

const ATTACKS: [Attack; 4] = [
    Attack { name: "no message", message: no_message, refused_with: &[Code::InvalidArgument] },
    Attack { name: "a list without end", message: endless_list, refused_with: &[Code::InvalidArgument] },
    Attack {
        name: "a message of 5 MiB",
        message: |_| Some(Bytes::from(vec![0x0a; 5 * 1024 * 1024])),
        refused_with: &[Code::OutOfRange, Code::ResourceExhausted, Code::InvalidArgument],
    },
    Attack {
        name: "texts without end",
        message: long_texts,
        refused_with: &[Code::InvalidArgument, Code::NotFound, Code::Ok],
    },
];

/// A tag of a wire type that there is not (7), which nothing decodes.
fn no_message(_: &MessageDescriptor) -> Option<Bytes> {
    Some(Bytes::from_static(&[0x0f, 0xff, 0xff]))
}

/// A message that fills the first list that it, or a message in it, has.
fn endless_list(message: &MessageDescriptor) -> Option<Bytes> {
    with_list(message, 4).map(|made| made.encode_to_vec().into())
}

fn with_list(message: &MessageDescriptor, depth: usize) -> Option<DynamicMessage> {
    let mut made = DynamicMessage::new(message.clone());
    for field in message.fields() {
        let Some(depth) = depth.checked_sub(1) else { break };
        if field.is_list() {
            made.set_field(
                &field,
                Value::List(vec![entry(&field.kind())?; if field.kind() == Kind::String { NAMES } else { ENTRIES }]),
            );
            return Some(made);
        }
        if let Kind::Message(inner) = field.kind()
            && !field.is_map()
            && let Some(inner) = with_list(&inner, depth)
        {
            made.set_field(&field, Value::Message(inner));
            return Some(made);
        }
    }
    None
}

fn entry(kind: &Kind) -> Option<Value> {
    match kind {
        Kind::Message(inner) => Some(Value::Message(DynamicMessage::new(inner.clone()))),
        Kind::String => Some(Value::String("x".to_owned())),
        Kind::Enum(_) => Some(Value::EnumNumber(1)),
        Kind::Double => Some(Value::F64(1.0)),
        _ => None,
    }
}

/// Every text of the message, in words of many bytes.
fn long_texts(message: &MessageDescriptor) -> Option<Bytes> {
    let mut made = DynamicMessage::new(message.clone());
    let mut texts = 0;
    for field in message.fields().filter(|field| field.kind() == Kind::String && !field.is_list()) {
        made.set_field(&field, Value::String("水%\u{7}".repeat(5_000)));
        texts += 1;
    }
    (texts > 0).then(|| made.encode_to_vec().into())
}

fn path(method: &MethodDescriptor) -> String {
    format!("/{}/{}", method.parent_service().full_name(), method.name())
}

/// What a status takes in the trailers.
fn trailers(status: &Status) -> usize {
    let mut headers = http::HeaderMap::new();
    status.add_header(&mut headers).unwrap();
    headers.iter().map(|(name, value)| name.as_str().len() + value.len()).sum()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_method_refuses_what_is_no_request_soon_and_in_few_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let admin = token(dir.path(), "warden", "admin");
    let server = Server::start(dir.path(), &[]);
    let channel = connect(&server.url()).await;
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let methods: Vec<_> = pool.services().flat_map(|service| service.methods().collect::<Vec<_>>()).collect();
    let mut exercised = BTreeSet::new();
    for method in &methods {
        let path = path(method);
        for attack in &ATTACKS {
            let Some(message) = (attack.message)(&method.input()) else { continue };
            let began = Instant::now();
            let outcome = call(&channel, &path, Some(&admin), message).await;
            let code = outcome.as_ref().map_or_else(Status::code, |()| Code::Ok);
            assert!(attack.refused_with.contains(&code), "{path}, {}: {outcome:?}", attack.name);
            assert!(began.elapsed() < SOON, "{path}, {}: {:?}", attack.name, began.elapsed());
            let Err(status) = outcome else { continue };
            assert!(trailers(&status) < TRAILERS, "{path}, {}: {} bytes", attack.name, trailers(&status));
            exercised.insert((path.clone(), attack.name));
        }
    }
    let missed: Vec<_> =
        methods.iter().map(path).filter(|path| !exercised.iter().any(|(known, _)| known == path)).collect();
    assert!(missed.is_empty(), "no attack was refused by {missed:?}");
    for attack in &ATTACKS {
        let fits = exercised.iter().filter(|(_, name)| *name == attack.name).count();
        println!("{}: {fits} methods", attack.name);
        assert!(fits > 0, "{} fits no method", attack.name);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn two_checks_of_seven_thousand_holes_silence_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let reader = token(dir.path(), "reader", "read");
    let server = Server::start(dir.path(), &[]);
    let holes = vec![proto::v1::Hole { x_m: 1.0, y_m: 1.0 }; 7_000];
    let shelter = proto::v1::Shelter {
        display_name: "Hut".to_owned(),
        floor_length_m: 4.0,
        floor_width_m: 3.0,
        holes,
        ..proto::v1::Shelter::default()
    };
    let message: Bytes = proto::v1::LayOutShelterRequest { shelter: Some(shelter) }.encode_to_vec().into();
    let calls: Vec<_> = (0..4)
        .map(|_| {
            let (url, reader, message) = (server.url(), reader.clone(), message.clone());
            tokio::spawn(async move {
                let channel = connect(&url).await;
                call(&channel, "/lakebeam.v1.RulesService/LayOutShelter", Some(&reader), message).await
            })
        })
        .collect();
    let channel = connect(&server.url()).await;
    let began = Instant::now();
    call(&channel, "/grpc.health.v1.Health/Check", None, Bytes::new()).await.unwrap();
    assert!(began.elapsed() < SOON, "{:?}", began.elapsed());
    for outcome in calls {
        let refused = outcome.await.unwrap().unwrap_err();
        assert_eq!(refused.code(), Code::InvalidArgument, "{refused:?}");
        let named = refused.get_error_details().bad_request().unwrap().field_violations[0].clone();
        assert_eq!(named.field, "shelter.holes");
    }
    assert!(began.elapsed() < SOON, "{:?}", began.elapsed());
}
