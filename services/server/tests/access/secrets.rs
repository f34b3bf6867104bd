//! No secret in logs or errors, however much is logged.

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::time::Duration;

use prost::bytes::Bytes;
use tests::kit::raw::{call, connect};

use crate::support::{Server, lakebeam};
use crate::{complained, said, token};

#[tokio::test]
async fn a_log_of_everything_holds_no_token() {
    for format in ["human", "json"] {
        let dir = tempfile::tempdir().unwrap();
        let good = token(dir.path(), "till", "read");
        let wrong = api::Secret::new([0x5a; api::Secret::RANDOM_BYTES]).reveal();
        let log = dir.path().join("log");
        let mut server = Server::start_as(
            lakebeam(dir.path())
                .args(["serve", "--listen", "127.0.0.1:0", "--log", "trace", "--log-format", format])
                .stderr(File::create(&log).unwrap()),
        );
        let mut told = String::new();
        // The command line's own client, one that does not mark the header as sensitive, and a browser.
        let url = format!("http://{}", server.address);
        told += &said(dir.path(), &["--server", &url, "--token-file", "till.token", "list", "spots"]);
        told += &complained(dir.path(), &["--server", &url, "--token-file", "till.token", "delete", "spots/bar"], 1);
        std::fs::write(dir.path().join("wrong.token"), &wrong).unwrap();
        told += &complained(dir.path(), &["--server", &url, "--token-file", "wrong.token", "list", "spots"], 1);
        let channel = connect(&server.url()).await;
        for authorization in [&good, &wrong, &format!("{good}x")] {
            for path in ["/lakebeam.v1.CatalogService/ListSpots", "/lakebeam.v1.CatalogService/GetSpot"] {
                let outcome = call(&channel, path, Some(&format!("Bearer {authorization}")), Bytes::new()).await;
                told += &format!("{outcome:?}");
            }
        }
        told += &browser(&server.address, &good);
        server.terminate();
        let logged = std::fs::read_to_string(&log).unwrap();
        assert!(logged.contains("till") && logged.contains("h2::"), "the log holds everything: {} bytes", logged.len());
        for (secret, of) in [(&good, "the token"), (&wrong, "the wrong token")] {
            let hidden = secret.rsplit('_').next().unwrap();
            for (text, place) in [(&logged, "the log"), (&told, "an answer")] {
                assert!(!text.contains(hidden), "{of} stands in {place}, {format}");
            }
        }
    }
}

/// A call as a browser makes it, over HTTP/1.1.
fn browser(address: &str, token: &str) -> String {
    let mut socket = std::net::TcpStream::connect(address).unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let head = format!(
        "POST /lakebeam.v1.CatalogService/ListSensors HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/grpc-web+proto\r\n\
         x-grpc-web: 1\r\nauthorization: Bearer {token}\r\ncontent-length: 5\r\nconnection: close\r\n\r\n"
    );
    socket.write_all(head.as_bytes()).unwrap();
    socket.write_all(&[0; 5]).unwrap();
    let mut answer = Vec::new();
    socket.read_to_end(&mut answer).unwrap();
    let answer = String::from_utf8_lossy(&answer).into_owned();
    assert!(answer.contains("grpc-status:0"), "{answer}");
    answer
}
