//! The whole service over the wire: whatever is called with whatever message, each call ends with an answer or a documented refusal of few
//! bytes, and the service answers afterwards and keeps a sound database.

use std::sync::OnceLock;
use std::time::Duration;

use prost::bytes::Bytes;
use prost_reflect::DescriptorPool;
use tokio::runtime::Builder;
use tonic::{Code, Status};

use crate::kit::raw::call;
use crate::kit::service::Service;

/// Calls of one input; more teach nothing that fewer do not.
const MOST_CALLS: usize = 8;
/// Bytes that a refusal may take in its trailers.
const TRAILERS: usize = 7 * 1024;
/// No call of a small message on a small database takes so long.
const PATIENCE: Duration = Duration::from_secs(15);
/// How long a service may take to end.
const ENDING: Duration = Duration::from_secs(5);
const LIST: &str = "/lakebeam.v1.CatalogService/ListSpots";

/// The paths of all methods, in the order of the protocol.
static METHODS: OnceLock<Vec<String>> = OnceLock::new();

/// An input is a row of calls: a byte that says the method, two that say how long its message is, and the message.
pub(crate) fn target(data: &[u8]) {
    let methods = METHODS.get_or_init(methods);
    let calls = calls(data, methods);
    if calls.is_empty() {
        return;
    }
    let runtime = Builder::new_multi_thread().worker_threads(1).enable_all().build();
    assert!(runtime.is_ok(), "{:?}", runtime.err());
    if let Ok(runtime) = runtime {
        runtime.block_on(sound(&calls));
        // The service ends with its runtime; one that outlived each input would fill the memory with its threads.
        runtime.shutdown_timeout(ENDING);
    }
}

fn methods() -> Vec<String> {
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET);
    assert!(pool.is_ok(), "{:?}", pool.err());
    let services = pool.iter().flat_map(DescriptorPool::services);
    let methods = services.flat_map(|service| service.methods().collect::<Vec<_>>());
    methods.map(|method| format!("/{}/{}", method.parent_service().full_name(), method.name())).collect()
}

fn calls<'a>(mut rest: &[u8], methods: &'a [String]) -> Vec<(&'a str, Bytes)> {
    let mut calls = Vec::new();
    while let [method, high, low, after @ ..] = rest
        && calls.len() < MOST_CALLS
        && let Some(path) = methods.get(usize::from(*method) % methods.len())
    {
        let length = usize::from(u16::from_be_bytes([*high, *low])).min(after.len());
        let (message, next) = after.split_at(length);
        calls.push((path.as_str(), Bytes::copy_from_slice(message)));
        rest = next;
    }
    calls
}

async fn sound(calls: &[(&str, Bytes)]) {
    let service = Service::with_gear(&[14.0]).await;
    for (path, message) in calls {
        let ended = tokio::time::timeout(PATIENCE, call(&service.channel, path, None, message.clone())).await;
        assert!(ended.is_ok(), "{path} does not end");
        if let Ok(Err(status)) = ended {
            documented(path, &status);
        }
    }
    let listed = call(&service.channel, LIST, None, Bytes::new()).await;
    assert!(listed.is_ok(), "after {calls:?}: {listed:?}");
    let checked = service.store.check_integrity().await;
    assert!(checked.is_ok(), "after {calls:?}: {checked:?}");
}

fn documented(path: &str, status: &Status) {
    let code = status.code();
    assert!(!matches!(code, Code::Unknown | Code::Internal | Code::DataLoss | Code::Unavailable), "{path}: {status:?}");
    let mut trailers = tonic::metadata::MetadataMap::new().into_headers();
    assert!(status.add_header(&mut trailers).is_ok(), "{path}: {status:?}");
    let bytes: usize = trailers.iter().map(|(name, value)| name.as_str().len() + value.len()).sum();
    assert!(bytes < TRAILERS, "{path}: {bytes} bytes of trailers");
}
