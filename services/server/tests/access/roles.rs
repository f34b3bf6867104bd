//! Every method, called by everybody: nobody, a reader, a writer, an administrator. Methods come from the descriptor set.

use api::{Need, least_role};
use catalog::Role;
use prost::bytes::Bytes;
use prost_reflect::DescriptorPool;
use tests::kit::raw::{call, connect};
use tonic::Code;
use tonic_types::StatusExt as _;

use crate::support::Server;
use crate::token;

/// Methods around ours.
const STANDARD: [&str; 4] = [
    "/grpc.health.v1.Health/Check",
    "/grpc.health.v1.Health/Watch",
    "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
    "/grpc.reflection.v1alpha.ServerReflection/ServerReflectionInfo",
];

fn methods() -> Vec<String> {
    let pool = DescriptorPool::decode(proto::FILE_DESCRIPTOR_SET).unwrap();
    let ours = pool.services().flat_map(|service| service.methods().collect::<Vec<_>>());
    ours.map(|method| format!("/{}/{}", method.parent_service().full_name(), method.name()))
        .chain(STANDARD.map(str::to_owned))
        .collect()
}

#[tokio::test]
async fn every_method_asks_for_its_role_and_for_no_more() {
    let dir = tempfile::tempdir().unwrap();
    let mut callers = vec![(None, None)];
    for role in Role::ALL {
        let token = token(dir.path(), &format!("the-{}", role.name()), role.name());
        callers.push((Some(role), Some(format!("Bearer {token}"))));
    }
    let server = Server::start(dir.path(), &[]);
    let channel = connect(&server.url()).await;
    let mut cases = 0;
    for path in methods() {
        let need = least_role(&path).unwrap_or_else(|| panic!("{path} has no role"));
        for (role, token) in &callers {
            let status = call(&channel, &path, token.as_deref(), Bytes::new()).await.err();
            let code = status.as_ref().map_or(Code::Ok, tonic::Status::code);
            let expected = match (need, role) {
                (Need::Nothing, _) => None,
                (Need::Role(_), None) => Some((Code::Unauthenticated, "NO_TOKEN")),
                (Need::Role(needed), Some(role)) if *role < needed => Some((Code::PermissionDenied, "ROLE_TOO_LOW")),
                _ => None,
            };
            cases += 1;
            let Some((refusal, reason)) = expected else {
                assert!(
                    !matches!(code, Code::Unauthenticated | Code::PermissionDenied),
                    "{path}, {role:?}: {status:?}"
                );
                continue;
            };
            let status = status.unwrap_or_else(|| panic!("{path} answered {role:?}"));
            let details = status.get_error_details();
            let info = details.error_info().unwrap();
            assert_eq!((code, info.reason.as_str()), (refusal, reason), "{path}, {role:?}");
            if let (Need::Role(needed), Some(_)) = (need, role) {
                assert_eq!(info.metadata["needed"], needed.name(), "{path}");
                assert!(
                    status.message().contains(&format!("needs the role {}", needed.name())),
                    "{}",
                    status.message()
                );
            }
            assert_eq!(
                status.metadata().get(api::REQUEST_ID).unwrap().to_str().unwrap(),
                details.request_info().unwrap().request_id,
                "{path}: the id in the headers and the one in the error"
            );
        }
    }
    println!("{cases} calls");
    assert!(cases > 4 * 70, "only {cases} cases were made");
}

#[tokio::test]
async fn a_method_that_is_not_in_the_table_is_refused_to_everybody() {
    let dir = tempfile::tempdir().unwrap();
    let admin = format!("Bearer {}", token(dir.path(), "warden", "admin"));
    let server = Server::start(dir.path(), &[]);
    let channel = connect(&server.url()).await;
    for path in ["/lakebeam.v1.CatalogService/Nothing", "/grpc.channelz.v1.Channelz/GetServers"] {
        let status = call(&channel, path, Some(&admin), Bytes::new()).await.unwrap_err();
        assert_eq!(status.code(), Code::Unimplemented, "{path}");
        assert_eq!(status.get_error_details().error_info().unwrap().reason, "NO_METHOD");
        // Whoever is nobody does not even learn which methods there are.
        assert_eq!(call(&channel, path, None, Bytes::new()).await.unwrap_err().code(), Code::Unauthenticated, "{path}");
    }
}
