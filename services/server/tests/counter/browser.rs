//! The pages in a real browser: at three widths, in both languages, by keyboard, with script.

use std::time::Instant;

use crate::driver::{BACKSPACE, Driver, ENTER, TAB};
use crate::http::encoded;
use crate::stock;
use crate::support::{Server, said};

const WIDTHS: [u32; 3] = [320, 800, 1280];

/// Addresses of every page and state that looking alone leads to.
const PAGES: [(&str, &str); 25] = [
    ("advise-empty", "/advise"),
    ("advise-answer", "/advise?depth.1=18&unit=ft&most=300"),
    (
        "advise-two",
        "/advise?depth.1=18&bottom.1=mud&weeds.1=0.9144&depth.2=40&shelter=rental-hut-five&people=4&most=300&unit=ft",
    ),
    ("advise-faults", "/advise?depth.1=-30&people=99&most=much&unit=ft"),
    ("rentals", "/rentals?day=2027-01-16"),
    ("rentals-decide", "/rentals?day=2027-01-14&propose=1"),
    ("rentals-booking", "/rentals/booking?day=2027-01-16"),
    ("rentals-change", "/rentals/booking/family-saturday"),
    ("rentals-wrong", "/rentals/wrong/family-saturday?day=2027-01-16"),
    ("event", "/event"),
    ("door", "/door"),
    ("door-allowed", "/door?shelter=0&band=0&unit=0"),
    ("door-refused", "/door?shelter=0&band=0&unit=1"),
    ("checks", "/checks"),
    ("checks-unit", "/checks?unit=middle-1/main&ball=check-ball-38&depth=6"),
    ("shelf-sensors", "/shelf/sensors"),
    ("shelf-places", "/shelf/places"),
    ("shelf-goals", "/shelf/goals"),
    ("shelf-no-match", "/shelf/places?name=brich"),
    ("shelf-place", "/shelf/places/vesper-landing"),
    ("shelf-new-shelter", "/shelf/shelters/new"),
    ("shelf-import", "/shelf/import"),
    ("shop", "/shop"),
    ("sign-in", "/sign-in"),
    ("not-there", "/nowhere"),
];

#[test]
fn every_page_reads_well_at_every_width_in_both_languages() {
    let Some(driver) = Driver::start() else { return };
    let dir = tempfile::tempdir().unwrap();
    let empty = tempfile::tempdir().unwrap();
    stock(dir.path());
    let shelter = ["--shelters", "pop-up-two", "--lure", "tungsten-jig-5", "--options", "plain-wide,plain-narrow"];
    said(dir.path(), &[&["rules"], &shelter[..], &["--bands", "2-4", "--bottoms", "silt"]].concat());
    let (server, unstocked) = (Server::start(dir.path(), &[]), Server::start(empty.path(), &[]));
    let mut broken = Vec::new();
    for width in WIDTHS {
        for language in ["en", "de"] {
            let window = driver.window(width, language);
            let mut look = |name: &str| {
                window.picture(&format!("{name}-{width}-{language}"));
                broken.extend(window.breaches().into_iter().map(|one| format!("{name} {width} {language}: {one}")));
            };
            for (name, path) in PAGES {
                window.open(&format!("{}{path}", server.url()));
                if path.starts_with("/advise?depth.1=18") {
                    window.says(".headline", " ");
                }
                look(name);
            }
            window.open(&format!("{}/advise", unstocked.url()));
            look("first-use");
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

#[test]
fn the_shops_minute_by_keyboard() {
    let Some(driver) = Driver::start() else { return };
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let window = driver.window(1280, "en");
    window.open(&format!("{}/advise", server.url()));
    let start = Instant::now();
    // From the depth on by Tab and typing alone; the answer comes without a key for it.
    window.types("[id='depth.1']", "18");
    let first = window.says(".headline", "Take the ");
    assert_eq!(window.types_on(TAB), "bottom.1", "Tab goes in reading order");
    window.types_on("mud");
    let changed = window.says(".changed", "You changed bottom: don’t know → mud.");
    assert!(changed.contains("Before: ") && changed.contains("Now: "), "{changed}");
    window.says("#live", "You changed bottom");
    println!("depth, bottom, two answers: {:.1} s", start.elapsed().as_secs_f64());
    assert!(window.address().contains("bottom.1=mud"), "the address is that of the answer");
    window.click(".changed a");
    assert_eq!(window.says(".headline", "Take the "), first, "Undo leads back");
    window.click("a[href='/advise'].button");
    window.says("#answer", "Enter a depth, or choose shallow, middle or deep.");
    assert_eq!(window.value("[id='depth.1']"), "");
    window.types("[id='depth.1']", &format!("deep{ENTER}"));
    window.says(".headline", "Take the ");
    assert!(window.address().ends_with("#answer"), "Enter submits: {}", window.address());
}

#[test]
fn a_fault_while_typing_stands_at_its_field_and_goes_when_it_is_mended() {
    let Some(driver) = Driver::start() else { return };
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let window = driver.window(800, "en");
    window.open(&format!("{}/advise?depth.1=18&unit=ft", server.url()));
    window.says(".headline", "Take the ");
    window.types("[id='depth.1']", "00");
    window.says(".place .fault", "1800 ft; accepted: 1.6 ft to 656.2 ft");
    window.says("#faults", "Depth needs repair");
    window.says("#answer", "for the values before");
    window.types("[id='depth.1']", &format!("{BACKSPACE}{BACKSPACE}"));
    window.waits(|| (!window.has(".fault")).then_some(()), "the fault to go");
}

/// A page of another site in the same browser: it sees neither pages nor answers of calls, and its forms store nothing.
#[test]
fn a_page_of_another_site_reaches_neither_pages_nor_calls() {
    let Some(driver) = Driver::start() else { return };
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let window = driver.window(1280, "en");
    window.open(&format!("{}/advise", server.url()));
    let target = server.url();
    let page = format!(
        "<title>other</title><script>
        (async () => {{
          const tries = [];
          const note = (name, work) => work.then((r) => r.text()).then((t) => tries.push(name + ' read ' + t.length), () => tries.push(name + ' refused'));
          await note('page', fetch('{target}/advise', {{ credentials: 'include' }}));
          await note('form', fetch('{target}/shop', {{ method: 'POST', credentials: 'include', body: new URLSearchParams({{ name: 'evil' }}) }}));
          await note('call', fetch('{target}/lakebeam.v1.CatalogService/ListSensors', {{ method: 'POST', headers: {{ 'content-type': 'application/grpc-web+proto' }}, body: new Uint8Array(5) }}));
          document.title = tries.join(', ');
        }})();</script>"
    );
    window.open(&format!("data:text/html,{}", encoded(&page)));
    let told = window.waits(|| Some(window.title()).filter(|title| title != "other"), "the other page to end");
    assert_eq!(told, "page refused, form refused, call refused");
    window.open(&format!("{target}/shop"));
    assert_eq!(window.value("#name"), "", "the form of the other page stored nothing");
}
