//! Tokens from the command line: made once, shown once, good at once, worthless at once.

use prost::bytes::Bytes;
use tests::kit::raw::{call, connect};
use tonic::Code;
use tonic_types::StatusExt as _;

use crate::support::Server;
use crate::{complained, said, token};

const LIST: &str = "/lakebeam.v1.CatalogService/ListSpots";

#[tokio::test]
async fn a_service_on_loopback_is_open_until_there_is_a_token() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let channel = connect(&server.url()).await;
    call(&channel, LIST, None, Bytes::new()).await.unwrap();
    let stranger = format!("Bearer {}", api::Secret::new([7; api::Secret::RANDOM_BYTES]).reveal());
    assert_eq!(call(&channel, LIST, Some(&stranger), Bytes::new()).await.unwrap_err().code(), Code::Unauthenticated);
    // The service notices with the next call.
    let till = format!("Bearer {}", token(dir.path(), "till", "read"));
    assert_eq!(call(&channel, LIST, None, Bytes::new()).await.unwrap_err().code(), Code::Unauthenticated);
    call(&channel, LIST, Some(&till), Bytes::new()).await.unwrap();
    // One more secret bit than the database knows of.
    let mut wrong = till.clone();
    let last = wrong.pop().unwrap();
    wrong.push(if last == '0' { '1' } else { '0' });
    let status = call(&channel, LIST, Some(&wrong), Bytes::new()).await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "UNKNOWN_TOKEN");
    assert!(!status.message().contains("till"), "whoever has not the token hears nothing of it: {}", status.message());
    said(dir.path(), &["token", "revoke", "till"]);
    let status = call(&channel, LIST, Some(&till), Bytes::new()).await.unwrap_err();
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "REVOKED_TOKEN");
    // Once closed, it does not open again by itself.
    assert_eq!(call(&channel, LIST, None, Bytes::new()).await.unwrap_err().code(), Code::Unauthenticated);
}

#[test]
fn a_token_is_shown_once_and_stored_as_a_hash() {
    let dir = tempfile::tempdir().unwrap();
    let token = token(dir.path(), "till", "write");
    assert_eq!(token.lines().count(), 1);
    let secret = token.rsplit('_').next().unwrap();
    let listed = said(dir.path(), &["token", "list"]) + &said(dir.path(), &["token", "list", "--json"]);
    assert!(listed.contains("till") && listed.contains("write") && listed.contains("never"), "{listed}");
    assert!(!listed.contains(secret), "{listed}");
    let raw: Vec<u8> = (0..64).step_by(2).map(|at| u8::from_str_radix(&secret[at..at + 2], 16).unwrap()).collect();
    for file in ["lakebeam.db", "lakebeam.db-wal"] {
        let bytes = std::fs::read(dir.path().join(file)).unwrap_or_default();
        let holds = |part: &[u8]| bytes.windows(part.len()).any(|window| window == part);
        assert!(!holds(secret.as_bytes()) && !holds(&raw), "{file} holds the secret");
    }
}

#[test]
fn the_command_line_shows_its_token_and_says_what_is_wrong_with_it() {
    let dir = tempfile::tempdir().unwrap();
    let read = token(dir.path(), "shelf", "read");
    let server = Server::start(dir.path(), &[]);
    let url = format!("http://{}", server.address);
    let to = ["--server", &url];
    let with = |rest: &[&'static str]| -> Vec<String> { to.iter().chain(rest).map(|&a| a.to_owned()).collect() };
    let run = |rest: &[&'static str], code: i32| {
        let arguments = with(rest);
        complained(dir.path(), &arguments.iter().map(String::as_str).collect::<Vec<_>>(), code)
    };
    let none = run(&["list", "spots"], 1);
    assert!(none.contains("no token was given") && none.contains("--token-file"), "{none}");
    run(&["list", "spots", "--token-file", "shelf.token"], 0);
    let low = run(&["delete", "spots/bar", "--token-file", "shelf.token"], 1);
    assert!(low.contains("DeleteSpot needs the role write") && low.contains("'shelf' has read"), "{low}");
    let low = run(&["audit", "--token-file", "shelf.token"], 1);
    assert!(low.contains("needs the role admin"), "{low}");
    let missing = run(&["list", "spots", "--token-file", "nowhere"], 2);
    assert!(missing.contains("nowhere cannot be read"), "{missing}");
    let output =
        crate::support::lakebeam(dir.path()).args(to).args(["list", "spots"]).env("LAKEBEAM_TOKEN", &read).output();
    assert!(output.unwrap().status.success(), "the token of the environment");
    // A verb that starts the service for itself needs no token: it has the file.
    said(dir.path(), &["list", "spots"]);
    let listed = said(dir.path(), &["token", "list"]);
    assert!(!listed.contains("never"), "the use was noted: {listed}");
}

#[test]
fn names_are_given_out_once() {
    let dir = tempfile::tempdir().unwrap();
    token(dir.path(), "till", "read");
    let twice = complained(dir.path(), &["token", "add", "till", "--role", "write"], 2);
    assert!(twice.contains("till-2"), "{twice}");
    said(dir.path(), &["token", "revoke", "till"]);
    complained(dir.path(), &["token", "add", "till", "--role", "write"], 2);
    complained(dir.path(), &["token", "revoke", "till"], 2);
    for bad in ["local", "Till", "a b"] {
        complained(dir.path(), &["token", "add", bad, "--role", "read"], 2);
    }
    complained(dir.path(), &["--server", "http://127.0.0.1:1", "token", "list"], 2);
}

#[test]
fn the_audit_trail_is_for_administrators_and_names_tokens() {
    let dir = tempfile::tempdir().unwrap();
    token(dir.path(), "till", "write");
    token(dir.path(), "warden", "admin");
    std::fs::write(dir.path().join("spots.csv"), "id,display_name,depth_m,bottom_class\nbar,North bar,6.2,gravel\n")
        .unwrap();
    let server = Server::start(dir.path(), &[]);
    let url = format!("http://{}", server.address);
    let till = ["--server", &url, "--token-file", "till.token"];
    said(dir.path(), &[&till[..], &["import", "spots.csv"]].concat());
    said(dir.path(), &[&till[..], &["delete", "spots/bar"]].concat());
    let trail = said(dir.path(), &["--server", &url, "--token-file", "warden.token", "audit"]);
    let rows: Vec<Vec<&str>> = trail.lines().skip(1).map(|line| line.split_whitespace().skip(1).collect()).collect();
    assert_eq!(rows[0], ["till", "delete", "spots/bar"], "{trail}");
    assert_eq!(rows[1][..2], ["till", "import"], "{trail}");
    assert!(rows.iter().any(|row| row[..] == ["local", "create", "tokens/warden"]), "{trail}");
    let newest =
        said(dir.path(), &["--server", &url, "--token-file", "warden.token", "audit", "--limit", "1", "--json"]);
    assert_eq!(newest.lines().count(), 1, "{newest}");
}
