//! Every route of the counter, as its sources name them, with requests that no page should take.

use std::fmt::Write as _;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::time::{Duration, Instant};

use crate::support::Server;
use crate::token;

/// How long a refusal may take in a build without optimisation, beside other tests.
const SOON: Duration = Duration::from_secs(30);
/// More than any form may have.
const LONG: usize = 3 * 1024 * 1024;

/// A route with one of its methods.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Route {
    method: &'static str,
    path: String,
}

/// All routes that the sources of the counter name; one that is written in another way than the others fails here.
fn routes() -> Vec<Route> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../counter/src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            if entry.is_dir() {
                folders.push(entry);
                continue;
            }
            let source = std::fs::read_to_string(&entry).unwrap();
            for call in source.split(".route(").skip(1) {
                let call = call.split("\n        .").next().and_then(|call| call.split("\n}").next()).unwrap();
                let path = call.split('"').nth(1).unwrap_or_else(|| panic!("{}: {call}", entry.display()));
                let methods =
                    [("GET", "get("), ("POST", "post("), ("PUT", "put("), ("DELETE", "delete("), ("PATCH", "patch(")];
                let used: Vec<_> = methods.into_iter().filter(|(_, word)| call.contains(word)).collect();
                assert!(path.starts_with('/') && !used.is_empty(), "{}: {call}", entry.display());
                found.extend(used.into_iter().map(|(method, _)| Route { method, path: path.to_owned() }));
            }
        }
    }
    found
}

/// The path with something in the places that it leaves open.
fn filled(path: &str, with: &str) -> String {
    path.split('/').map(|part| if part.starts_with('{') { with } else { part }).collect::<Vec<_>>().join("/")
}

/// Sends a request, as much of it as the service takes, and gives the status; none where it closes without an answer.
fn status(server: &Server, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Option<u16> {
    let mut head = format!("{method} {path} HTTP/1.1\r\nconnection: close\r\n");
    if headers.iter().all(|(name, _)| *name != "host") {
        write!(head, "host: {}\r\n", server.address).unwrap();
    }
    for (name, value) in headers {
        write!(head, "{name}: {value}\r\n").unwrap();
    }
    if method != "GET" {
        write!(head, "content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n", body.len()).unwrap();
    }
    let mut socket = TcpStream::connect(&server.address).unwrap();
    socket.set_read_timeout(Some(SOON)).unwrap();
    socket.write_all(format!("{head}\r\n").as_bytes()).unwrap();
    // Who is refused early meets a closed connection here.
    let _ = socket.write_all(body);
    let mut answer = Vec::new();
    let mut part = [0; 4096];
    while let Ok(read @ 1..) = socket.read(&mut part) {
        answer.extend_from_slice(&part[..read]);
    }
    String::from_utf8_lossy(&answer).split(' ').nth(1)?.parse().ok()
}

#[test]
fn every_route_refuses_what_is_no_request_soon() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let routes = routes();
    println!("{} routes", routes.len());
    assert!(routes.len() > 20, "{routes:?}");
    let long_query = format!("?depth.1={}", "1%07".repeat(1_500));
    let long_form = format!("mark={}", "x".repeat(LONG));
    let many_fields = "depth.1=3&".repeat(100_000);
    let deep = "%E6%B0%B4%25%07..".repeat(200);
    for Route { method, path } in &routes {
        let plain = filled(path, "spots");
        let mut refused = 0;
        let mut attack = |what: &str, path: &str, headers: &[(&str, &str)], body: &[u8], accepted: &[u16]| {
            let began = Instant::now();
            let answer = status(&server, method, path, headers, body);
            let fine = answer.is_none_or(|code| code < 500)
                && (accepted.is_empty() || answer.is_some_and(|code| accepted.contains(&code)));
            assert!(fine, "{method} {path}, {what}: {answer:?}");
            assert!(began.elapsed() < SOON, "{method} {path}, {what}: {:?}", began.elapsed());
            refused += usize::from(answer.is_some_and(|code| (400..500).contains(&code)));
        };
        attack("from a page of another site", &plain, &[("sec-fetch-site", "cross-site")], b"", &[403]);
        attack("by a name of another site", &plain, &[("host", "rebound.example")], b"", &[403]);
        attack("with long words", &format!("{plain}{long_query}"), &[], b"", &[]);
        attack("in a place that there is not", &filled(path, &deep), &[], b"", &[]);
        if *method != "GET" {
            attack("without the mark of its page", &plain, &[], b"mark=0&name=x", &[400, 404]);
            attack("with a form without end", &plain, &[], long_form.as_bytes(), &[]);
            attack("with fields without end", &plain, &[], many_fields.as_bytes(), &[]);
            attack("with bytes that are no form", &plain, &[], &[0xff, 0x00, b'%', b'='], &[400, 404]);
        }
        assert!(refused >= 2, "{method} {path}: only {refused} attacks were refused");
    }
    let kept = status(&server, "GET", "/advise", &[], b"");
    assert_eq!(kept, Some(200));
}

/// With tokens every page leads to where one signs in, and takes nothing from who has not.
#[test]
fn every_route_asks_for_a_token_where_there_are_tokens() {
    let dir = tempfile::tempdir().unwrap();
    token(dir.path(), "desk", "write");
    let server = Server::start(dir.path(), &[]);
    for Route { method, path } in routes() {
        let answer = status(&server, method, &filled(&path, "spots"), &[], b"mark=0").unwrap();
        let open = path.starts_with("/sign-") || path == "/look";
        let expected: &[u16] = if open { &[200, 303, 400] } else { &[303, 400, 401, 403] };
        assert!(expected.contains(&answer), "{method} {path}: {answer}");
    }
}

/// Forms that are begun and never sent keep no other visitor waiting.
#[test]
fn half_sent_forms_shut_out_no_other_visitor() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let posts: Vec<_> = routes().into_iter().filter(|route| route.method == "POST").collect();
    let halves: Vec<_> = (0..8)
        .flat_map(|_| &posts)
        .filter_map(|route| {
            let mut socket = TcpStream::connect(&server.address).ok()?;
            let path = filled(&route.path, "spots");
            let head = format!("POST {path} HTTP/1.1\r\nhost: {}\r\ncontent-length: 1000\r\n\r\nmark=", server.address);
            socket.write_all(head.as_bytes()).ok().map(|()| socket)
        })
        .collect();
    println!("{} half-sent forms", halves.len());
    assert!(halves.len() > 20);
    let began = Instant::now();
    assert_eq!(status(&server, "GET", "/advise", &[], b""), Some(200));
    assert!(began.elapsed() < SOON, "{:?}", began.elapsed());
}
