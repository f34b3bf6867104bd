//! A service that means harm: what it sends moves no cursor and writes no file outside of the folder.

use std::convert::Infallible;
use std::pin::Pin;
use std::task::{Context, Poll};

use proto::v1;
use tonic::body::Body;
use tonic::codegen::http::{Request, Response};
use tonic::server::{Grpc, NamedService};
use tonic::transport::Server;
use tonic::transport::server::TcpIncoming;
use tonic_prost::ProstCodec;

use crate::support::{call, text};

/// Clears the screen; turns the direction of writing; a control character of the second set.
const HARMFUL: &str = "\u{1b}[2Jgone\u{202e}fdp\u{9b}31m";

/// Answers two methods of SelectionService.
#[derive(Clone)]
struct Hostile;

impl NamedService for Hostile {
    const NAME: &'static str = "lakebeam.v1.SelectionService";
}

impl tower::Service<Request<Body>> for Hostile {
    type Response = Response<Body>;
    type Error = Infallible;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, Infallible>> + Send>>;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request<Body>) -> Self::Future {
        Box::pin(async move {
            if request.uri().path().ends_with("StreamFindings") {
                let codec = ProstCodec::<v1::Finding, v1::StreamFindingsRequest>::default();
                let findings = tower::service_fn(|_: tonic::Request<v1::StreamFindingsRequest>| async {
                    let spot = "spots/../../outside".to_owned();
                    let finding = v1::Finding { spot, ..v1::Finding::default() };
                    Ok(tonic::Response::new(tokio_stream::iter([Ok(finding)])))
                });
                return Ok(Grpc::new(codec).server_streaming(findings, request).await);
            }
            let codec = ProstCodec::<v1::ListRunsResponse, v1::ListRunsRequest>::default();
            let runs = tower::service_fn(|_: tonic::Request<v1::ListRunsRequest>| async {
                let run = v1::Run { name: format!("runs/{HARMFUL}"), error: HARMFUL.to_owned(), ..v1::Run::default() };
                Ok(tonic::Response::new(v1::ListRunsResponse { runs: vec![run], ..v1::ListRunsResponse::default() }))
            });
            Ok(Grpc::new(codec).unary(runs, request).await)
        })
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn what_a_hostile_service_sends_is_shown_escaped_and_stays_in_the_folder() {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(Server::builder().add_service(Hostile).serve_with_incoming(TcpIncoming::from(listener)));
    let dir = tempfile::tempdir().unwrap();
    for arguments in [&["runs", "--server", &url][..], &["runs", "--json", "--server", &url]] {
        let output = call(dir.path(), arguments);
        let shown = text(&output.stdout) + &text(&output.stderr);
        assert!(shown.contains("gone"), "{arguments:?}: {shown}");
        let harmful = shown.chars().filter(|c| (c.is_control() && *c != '\n') || *c == '\u{202e}').count();
        assert_eq!(harmful, 0, "{arguments:?}: {shown:?}");
    }
    let folder = dir.path().join("deep/sheets");
    let output = call(dir.path(), &["sheets", "runs/a", "--output", "deep/sheets", "--server", &url]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("cannot be the name of a file"), "{}", text(&output.stderr));
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
    let left: Vec<_> = std::fs::read_dir(dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, ["deep"]);
}
