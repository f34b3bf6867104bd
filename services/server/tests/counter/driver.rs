//! A real browser: chromium with its driver, both from the system's packages; tests say that they are skipped where there is none.
//!
//! The driver speaks WebDriver (a W3C recommendation), which is a dozen requests with JSON. The libraries for it bring a second HTTP
//! client and some twenty crates more, which every test build would pay for.
#![allow(clippy::unwrap_used, reason = "a test fixture")]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use base64::Engine as _;
use serde_json::{Value, json};

/// How WebDriver calls the reference of an element.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";
/// How long a busy machine may take over an answer.
const PATIENCE: Duration = Duration::from_secs(60);
/// Keys, as WebDriver writes them.
pub(crate) const TAB: &str = "\u{e004}";
pub(crate) const BACKSPACE: &str = "\u{e003}";
pub(crate) const ENTER: &str = "\u{e007}";

/// The driver's process, which ends with the test.
pub(crate) struct Driver {
    child: Child,
    port: u16,
}

impl Driver {
    /// Starts it; none where there is no browser, which must not be where one is required.
    pub(crate) fn start() -> Option<Self> {
        let started = Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn();
        let Ok(mut child) = started else {
            let line = "skipped: pages in a real browser (no chromedriver); apt-get install chromium chromium-driver, and run again";
            assert!(std::env::var_os("LAKEBEAM_REQUIRE_BROWSER").is_none(), "{line}");
            // Past the capture of the test harness, so that it is read.
            let _ = std::io::stderr().write_all(format!("{line}\n").as_bytes());
            return None;
        };
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let line = lines.find(|line| line.contains("successfully on port")).expect("the driver says where it listens");
        let port: String = line.chars().filter(char::is_ascii_digit).collect();
        // It goes on talking; a closed pipe would end it.
        std::thread::spawn(move || lines.for_each(drop));
        Some(Self { child, port: port.parse().unwrap() })
    }

    /// A window of that width, in which a page lies out as on a screen of it.
    pub(crate) fn window(&self, width: u32, language: &str) -> Window {
        let metrics = json!({ "width": width, "height": 900, "pixelRatio": 1.0, "touch": false, "mobile": false });
        let options = json!({
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", format!("--lang={language}")],
            "prefs": { "intl.accept_languages": language },
            "mobileEmulation": { "deviceMetrics": metrics },
        });
        let asked = json!({ "capabilities": { "alwaysMatch": { "goog:chromeOptions": options } } });
        let session = call(self.port, "POST", "/session", Some(&asked)).expect("the browser opens a window");
        Window { port: self.port, session: session["sessionId"].as_str().unwrap().to_owned() }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A window of the browser.
pub(crate) struct Window {
    port: u16,
    session: String,
}

impl Drop for Window {
    fn drop(&mut self) {
        let _ = call(self.port, "DELETE", &format!("/session/{}", self.session), None);
    }
}

impl Window {
    fn ask(&self, method: &str, path: &str, body: Option<&Value>) -> Result<Value, String> {
        call(self.port, method, &format!("/session/{}/{path}", self.session), body)
    }

    pub(crate) fn open(&self, url: &str) {
        self.ask("POST", "url", Some(&json!({ "url": url }))).unwrap();
    }

    pub(crate) fn address(&self) -> String {
        self.ask("GET", "url", None).unwrap().as_str().unwrap().to_owned()
    }

    pub(crate) fn title(&self) -> String {
        self.ask("GET", "title", None).unwrap().as_str().unwrap().to_owned()
    }

    fn find(&self, selector: &str) -> Option<String> {
        let found = self.ask("POST", "element", Some(&json!({ "using": "css selector", "value": selector }))).ok()?;
        Some(found[ELEMENT].as_str()?.to_owned())
    }

    pub(crate) fn has(&self, selector: &str) -> bool {
        self.find(selector).is_some()
    }

    /// What a part of the page says; nothing where there is no such part, or where it goes just now.
    pub(crate) fn text(&self, selector: &str) -> String {
        // By script and not by the driver's own rule, which leaves out what only a screen reader has.
        let script = "return document.querySelector(arguments[0])?.textContent.replace(/\\s+/g, ' ').trim() ?? ''";
        let told = self.ask("POST", "execute/sync", Some(&json!({ "script": script, "args": [selector] })));
        told.ok().and_then(|told| told.as_str().map(str::to_owned)).unwrap_or_default()
    }

    pub(crate) fn value(&self, selector: &str) -> String {
        let element = self.find(selector).unwrap();
        self.ask("GET", &format!("element/{element}/property/value"), None).unwrap().as_str().unwrap().to_owned()
    }

    pub(crate) fn click(&self, selector: &str) {
        let element = self.find(selector).unwrap_or_else(|| panic!("no {selector} at {}", self.address()));
        self.ask("POST", &format!("element/{element}/click"), Some(&json!({}))).unwrap();
    }

    /// Types into a field.
    pub(crate) fn types(&self, selector: &str, text: &str) {
        let element = self.find(selector).unwrap_or_else(|| panic!("no {selector} at {}", self.address()));
        self.ask("POST", &format!("element/{element}/value"), Some(&json!({ "text": text }))).unwrap();
    }

    /// Types where the focus is, and gives the id of what has it afterwards.
    pub(crate) fn types_on(&self, text: &str) -> String {
        let element = self.ask("GET", "element/active", None).unwrap();
        let element = element[ELEMENT].as_str().unwrap();
        self.ask("POST", &format!("element/{element}/value"), Some(&json!({ "text": text }))).unwrap();
        let focus = json!({ "script": "return document.activeElement.id", "args": [] });
        self.ask("POST", "execute/sync", Some(&focus)).unwrap().as_str().unwrap().to_owned()
    }

    /// Waits until a part of the page says something, and gives all that it says.
    pub(crate) fn says(&self, selector: &str, wanted: &str) -> String {
        self.waits(
            || Some(self.text(selector)).filter(|told| told.contains(wanted)),
            &format!("{selector} to say {wanted}"),
        )
    }

    /// Waits until something is so.
    pub(crate) fn waits<T>(&self, mut so: impl FnMut() -> Option<T>, what: &str) -> T {
        let start = Instant::now();
        loop {
            if let Some(found) = so() {
                return found;
            }
            assert!(start.elapsed() < PATIENCE, "waited for {what} in vain: {}", self.text("main"));
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Keeps a picture of the page where somebody wants to look at it: in the folder that `LAKEBEAM_PICTURES` names.
    pub(crate) fn picture(&self, name: &str) {
        let Some(folder) = std::env::var_os("LAKEBEAM_PICTURES") else { return };
        std::fs::create_dir_all(&folder).unwrap();
        let whole = json!({ "cmd": "Page.captureScreenshot", "params": { "captureBeyondViewport": true } });
        let taken = self.ask("POST", "goog/cdp/execute", Some(&whole)).unwrap();
        let bytes = base64::engine::general_purpose::STANDARD.decode(taken["data"].as_str().unwrap()).unwrap();
        std::fs::write(std::path::Path::new(&folder).join(format!("{name}.png")), bytes).unwrap();
    }

    /// The main rules of accessibility, as a browser sees the page: what breaks one is listed.
    pub(crate) fn breaches(&self) -> Vec<String> {
        let found = self.ask("POST", "execute/sync", Some(&json!({ "script": include_str!("rules.js"), "args": [] })));
        found.unwrap().as_array().unwrap().iter().map(|one| one.as_str().unwrap().to_owned()).collect()
    }
}

/// One request to the driver; the value of its answer, or what it complains of.
fn call(port: u16, method: &str, path: &str, body: Option<&Value>) -> Result<Value, String> {
    let body = body.map(Value::to_string).unwrap_or_default();
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    let head = format!(
        "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\nconnection: close\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
        body.len()
    );
    stream.write_all((head + &body).as_bytes()).unwrap();
    // By its length: the driver keeps the connection open, whatever it is asked.
    let mut reader = BufReader::new(stream);
    let mut head = String::new();
    while !head.ends_with("\r\n\r\n") {
        assert!(reader.read_line(&mut head).unwrap() > 0, "the driver ended in the middle of an answer");
    }
    let length = head.lines().find_map(|line| line.to_lowercase().strip_prefix("content-length:").map(str::to_owned));
    let mut body = vec![0; length.unwrap().trim().parse().unwrap()];
    reader.read_exact(&mut body).unwrap();
    let value = serde_json::from_slice::<Value>(&body).map_err(|e| format!("{e}: {head}"))?["value"].take();
    if head.starts_with("HTTP/1.1 200") { Ok(value) } else { Err(value.to_string()) }
}
