//! A browser without a screen: requests as a browser sends them, and the cookies that it keeps.
#![allow(clippy::unwrap_used, reason = "a test fixture")]

use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

/// What came back.
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The value of a header; empty where there is none.
    pub(crate) fn header(&self, name: &str) -> &str {
        let mut lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(known, _)| known.eq_ignore_ascii_case(name)).map_or("", |(_, value)| value)
    }

    /// The value of an input of the page.
    pub(crate) fn input(&self, name: &str) -> String {
        let text = self.text();
        let after = text.split(&format!("name=\"{name}\" value=\"")).nth(1).unwrap_or_default();
        let value = after.split('"').next().unwrap_or_default();
        value.replace("&amp;", "&").replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">")
    }
}

/// A visitor with its cookies.
pub(crate) struct Visitor {
    address: String,
    pub(crate) cookies: BTreeMap<String, String>,
}

impl Visitor {
    pub(crate) fn new(address: &str) -> Self {
        Self { address: address.to_owned(), cookies: BTreeMap::new() }
    }

    pub(crate) fn get(&mut self, path: &str) -> Answer {
        self.send("GET", path, &[], "")
    }

    /// Sends a form with the mark of the page that it stands on.
    pub(crate) fn post(&mut self, page: &str, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mark = self.get(page).input("mark");
        let mut all = vec![("mark", mark.as_str())];
        all.extend_from_slice(fields);
        let origin = format!("http://{}", self.address);
        self.send("POST", path, &[("origin", &origin)], &form(&all))
    }

    pub(crate) fn send(&mut self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let host = headers.iter().find(|(name, _)| *name == "host").map_or(self.address.as_str(), |(_, host)| host);
        let mut head = format!("{method} {path} HTTP/1.1\r\nhost: {host}\r\nconnection: close\r\n");
        for (name, value) in headers.iter().filter(|(name, _)| *name != "host") {
            head += &format!("{name}: {value}\r\n");
        }
        if !self.cookies.is_empty() {
            let all: Vec<_> = self.cookies.iter().map(|(name, value)| format!("{name}={value}")).collect();
            head += &format!("cookie: {}\r\n", all.join("; "));
        }
        if method == "POST" {
            head += &format!("content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n", body.len());
        }
        let mut stream = TcpStream::connect(&self.address).unwrap();
        stream.write_all(format!("{head}\r\n{body}").as_bytes()).unwrap();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let answer = parsed(&bytes);
        self.keep(&answer);
        answer
    }

    fn keep(&mut self, answer: &Answer) {
        for line in answer.head.lines() {
            let Some((name, value)) = line.split_once(": ") else { continue };
            if name.eq_ignore_ascii_case("set-cookie") {
                let (cookie, value) = value.split(';').next().unwrap().split_once('=').unwrap();
                self.cookies.insert(cookie.to_owned(), value.to_owned());
            }
        }
    }
}

fn parsed(bytes: &[u8]) -> Answer {
    let at = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
    let head = String::from_utf8(bytes[..at].to_vec()).unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    let mut body = bytes[at + 4..].to_vec();
    if head.to_lowercase().contains("transfer-encoding: chunked") {
        body = unchunked(&body);
    }
    Answer { status, head, body }
}

fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(at) = rest.windows(2).position(|two| two == b"\r\n") {
        let size = usize::from_str_radix(std::str::from_utf8(&rest[..at]).unwrap().trim(), 16).unwrap();
        if size == 0 {
            break;
        }
        whole.extend_from_slice(&rest[at + 2..at + 2 + size]);
        rest = &rest[at + 2 + size + 2..];
    }
    whole
}

/// Fields as a browser sends them.
pub(crate) fn form(fields: &[(&str, &str)]) -> String {
    fields.iter().map(|(name, value)| format!("{}={}", encoded(name), encoded(value))).collect::<Vec<_>>().join("&")
}

pub(crate) fn encoded(text: &str) -> String {
    let each = text.bytes().map(|b| match b {
        b'0'..=b'9' | b'a'..=b'z' | b'A'..=b'Z' | b'-' | b'.' | b'_' => char::from(b).to_string(),
        other => format!("%{other:02X}"),
    });
    each.collect()
}
