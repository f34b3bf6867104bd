//! What is met before any token: half-sent calls, connections, names.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::process::Command;
use std::time::{Duration, Instant};

use prost::bytes::Bytes;
use tonic::Code;

use crate::support::{Server, lakebeam, of_its_own};
use crate::token;
use tests::kit::raw::{call, connect, half};

const CHECK: &str = "/grpc.health.v1.Health/Check";
const WATCH: &str = "/grpc.health.v1.Health/Watch";
const LIST: &str = "/lakebeam.v1.CatalogService/ListSpots";
/// As many calls as the service takes at once unless told otherwise, and some more.
const CALLS: usize = 300;

#[tokio::test(flavor = "multi_thread")]
async fn half_sent_calls_without_a_token_shut_nobody_out() {
    let dir = tempfile::tempdir().unwrap();
    let reader = token(dir.path(), "reader", "read");
    let server = Server::start(dir.path(), &[]);
    let mut halves = Vec::new();
    for _ in 0..CALLS / 50 {
        let channel = connect(&server.url()).await;
        for _ in 0..50 {
            let channel = channel.clone();
            halves.push(tokio::spawn(async move { half(&channel, CHECK, None).await }));
        }
    }
    let channel = connect(&server.url()).await;
    for _ in 0..20 {
        call(&channel, LIST, Some(&reader), Bytes::new()).await.unwrap();
    }
    for half in halves {
        let ended = tokio::time::timeout(Duration::from_secs(30), half).await.expect("a half-sent call never ends");
        let status = ended.unwrap().unwrap_err();
        assert!(matches!(status.code(), Code::DeadlineExceeded | Code::ResourceExhausted), "{status:?}");
    }
    call(&channel, CHECK, None, Bytes::new()).await.unwrap();
    let long = Bytes::from(vec![0x0a; 4_096]);
    let refused = call(&channel, CHECK, None, long).await.unwrap_err();
    assert_eq!(refused.code(), Code::InvalidArgument, "{refused:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn watches_without_a_token_are_bounded() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let mut health = Vec::new();
    let mut refused = 0;
    for _ in 0..200 {
        let mut client = tonic_health::pb::health_client::HealthClient::new(connect(&server.url()).await);
        match client.watch(tonic_health::pb::HealthCheckRequest::default()).await {
            Ok(stream) => health.push(stream.into_inner()),
            Err(status) => {
                assert_eq!(status.code(), Code::ResourceExhausted, "{status:?}");
                refused += 1;
            }
        }
    }
    println!("{} watch, {refused} were refused", health.len());
    assert!(!health.is_empty() && refused > 0, "{} watches at once", health.len());
    let channel = connect(&server.url()).await;
    call(&channel, CHECK, None, Bytes::new()).await.unwrap();
    drop(health);
    let began = Instant::now();
    while call(&channel, WATCH, None, Bytes::new()).await.is_err() {
        assert!(began.elapsed() < Duration::from_secs(20), "the places are never given back");
    }
}

/// Seconds of processor time of a process.
#[tokio::test(flavor = "multi_thread")]
async fn a_flood_without_a_token_does_not_fill_the_log() {
    let dir = tempfile::tempdir().unwrap();
    let reader = token(dir.path(), "reader", "read");
    let log = dir.path().join("log");
    let serve = ["serve", "--listen", "127.0.0.1:0", "--log", "info"];
    let server = Server::start_as(lakebeam(dir.path()).args(serve).stderr(std::fs::File::create(&log).unwrap()));
    let channel = connect(&server.url()).await;
    let start = Instant::now();
    for _ in 0..40 {
        let calls = (0..100).map(|_| call(&channel, LIST, None, Bytes::new()));
        for refused in futures::future::join_all(calls).await {
            assert_eq!(refused.unwrap_err().code(), Code::Unauthenticated);
        }
    }
    let seconds = start.elapsed().as_secs();
    call(&channel, LIST, Some(&reader), Bytes::new()).await.unwrap();
    let logged = loop {
        // The next second tells of those that have no line.
        call(&channel, LIST, None, Bytes::new()).await.unwrap_err();
        let logged = std::fs::read_to_string(&log).unwrap();
        if logged.contains("left_out=") {
            break logged;
        }
        assert!(start.elapsed() < Duration::from_secs(60), "{logged}");
    };
    let lines = logged.lines().filter(|line| line.contains("refused")).count();
    println!("4,000 refusals in {seconds} s left {lines} lines and {} bytes in the log", logged.len());
    assert!(u64::try_from(lines).unwrap() <= 50 * (seconds + 5), "{lines} lines in {seconds} s");
}

fn processor_seconds(process: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap();
    let fields: Vec<_> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
    // proc_pid_stat(5): utime and stime, in ticks of a hundredth.
    (fields[11].parse::<f64>().unwrap() + fields[12].parse::<f64>().unwrap()) / 100.0
}

#[tokio::test(flavor = "multi_thread")]
async fn the_service_rests_when_file_handles_run_out_and_takes_calls_afterwards() {
    let dir = tempfile::tempdir().unwrap();
    let binary = lakebeam(dir.path());
    let mut few = of_its_own(Command::new("sh"), dir.path());
    few.args(["-c", "ulimit -n 48; exec \"$0\" \"$@\""]).arg(binary.get_program());
    let mut server = Server::launch(few, &[]);
    assert!(server.listens());
    let sockets: Vec<_> = (0..80).map(|_| TcpStream::connect(&server.address).unwrap()).collect();
    let before = processor_seconds(server.process());
    std::thread::sleep(Duration::from_secs(2));
    let used = processor_seconds(server.process()) - before;
    println!("{used:.2} s of processor time in 2 s without file handles");
    assert!(used < 0.5, "{used:.2} s of 2");
    drop(sockets);
    let channel = connect(&server.url()).await;
    call(&channel, LIST, None, Bytes::new()).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn connections_beyond_the_limit_are_closed_and_others_go_on() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &["--max-connections", "4"]);
    let channel = connect(&server.url()).await;
    call(&channel, LIST, None, Bytes::new()).await.unwrap();
    let mut sockets: Vec<_> = (0..12).map(|_| TcpStream::connect(&server.address).unwrap()).collect();
    let mut closed = 0;
    for socket in &mut sockets {
        socket.set_read_timeout(Some(Duration::from_millis(500))).unwrap();
        closed += usize::from(matches!(socket.read(&mut [0; 1]), Ok(0)));
    }
    assert!(closed >= 9, "only {closed} of 12 were closed");
    call(&channel, LIST, None, Bytes::new()).await.unwrap();
    // The rest still hold every other place, and make room for a caller that says something.
    let another = connect(&server.url()).await;
    call(&another, LIST, None, Bytes::new()).await.unwrap();
}

/// What a page in a browser sends by gRPC-Web over HTTP/1.1, and the status of the answer.
pub(crate) fn from_a_page(address: &str, host: &str, origin: Option<&str>) -> String {
    let mut socket = TcpStream::connect(address).unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let origin = origin.map_or_else(String::new, |origin| format!("origin: {origin}\r\n"));
    let head = format!(
        "POST {LIST} HTTP/1.1\r\nhost: {host}\r\n{origin}content-type: application/grpc-web+proto\r\nx-grpc-web: 1\r\n\
         content-length: 5\r\nconnection: close\r\n\r\n"
    );
    socket.write_all(head.as_bytes()).unwrap();
    socket.write_all(&[0; 5]).unwrap();
    let mut answer = Vec::new();
    socket.read_to_end(&mut answer).unwrap();
    let text = String::from_utf8_lossy(&answer).to_lowercase();
    let (_, status) = text.split_once("grpc-status:").unwrap_or_else(|| panic!("no status in {text}"));
    status.trim_start().chars().take_while(char::is_ascii_digit).collect()
}

#[test]
fn a_page_of_another_site_does_not_reach_a_service_on_loopback() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &["--public-host", "fish.example"]);
    let (fine, denied) = ("0", "7");
    let own = format!("http://{}", server.address);
    for (host, origin, expected) in [
        (server.address.as_str(), None, fine),
        ("localhost", None, fine),
        (server.address.as_str(), Some(own.as_str()), fine),
        ("fish.example", Some("https://fish.example"), fine),
        ("rebound.example", None, denied),
        ("rebound.example", Some("http://rebound.example"), denied),
        (server.address.as_str(), Some("https://other.example"), denied),
        (server.address.as_str(), Some("null"), denied),
    ] {
        assert_eq!(from_a_page(&server.address, host, origin), expected, "{host} from {origin:?}");
    }
}
