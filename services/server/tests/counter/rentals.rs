//! The desk of an outfitter, by requests as a browser sends them: planned, handed out, brought back broken, planned again.

use crate::http::Visitor;
use crate::support::{Server, said};
use crate::{stock, token};

fn page(visitor: &mut Visitor, day: &str) -> String {
    let answer = visitor.get(&format!("/rentals?day={day}"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.text()
}

/// Sends a form of the page of a day, which leads back to it.
fn done(visitor: &mut Visitor, day: &str, path: &str, fields: &[(&str, &str)]) -> String {
    let answer = visitor.post("/rentals/booking", path, &[fields, &[("day", day)]].concat());
    assert_eq!(answer.status, 303, "{path}: {}", answer.text());
    answer.header("location").to_owned()
}

#[test]
fn a_week_at_the_desk() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);

    // Nothing is planned, and looking at a plan makes none.
    assert!(page(&mut visitor, "2027-01-11").contains("There is no plan yet."));
    let shown = visitor.get("/rentals?day=2027-01-11&propose=1");
    assert!(shown.text().contains("Take the new plan") && shown.text().contains("Club week"), "{}", shown.text());
    assert!(page(&mut visitor, "2027-01-11").contains("There is no plan yet."));
    // What was shown is taken, unless something has changed since.
    let late = done(&mut visitor, "2027-01-11", "/rentals/take", &[("seen", "0000")]);
    assert!(visitor.get(&late).text().contains("Something changed in between."), "{late}");
    done(&mut visitor, "2027-01-11", "/rentals/take", &[("seen", &shown.input("seen"))]);
    let planned = page(&mut visitor, "2027-01-16");
    assert!(!planned.contains("There is no plan yet.") && planned.contains("Saturday, January 16, 2027"), "{planned}");
    assert!(planned.contains("Hand out to Family Saturday"), "{planned}");

    // Handed out, it is out; on its last day it is to come back, and two days later it is late.
    let listed = said(dir.path(), &["--server", &server.url(), "--json", "derived", "plans"]);
    let plan = listed.split('"').find(|part| part.starts_with("fleetPlans/")).unwrap().to_owned();
    done(&mut visitor, "2027-01-16", "/rentals/hand-out", &[("booking", "family-saturday"), ("plan", &plan)]);
    let out = page(&mut visitor, "2027-01-16");
    assert!(!out.contains("Hand out to Family Saturday") && out.contains("All of Family Saturday is back"), "{out}");
    let late = page(&mut visitor, "2027-01-18");
    assert!(late.contains("2 days late") && late.contains("2 units are late"), "{late}");

    // One of the two comes back broken: the plan says what does not hold any more, and what changes.
    let form = visitor.get("/rentals/wrong/family-saturday?day=2027-01-18").text();
    let units: Vec<&str> = form.split("name=\"fate.").skip(1).filter_map(|part| part.split('"').next()).collect();
    assert_eq!(units.len(), 2, "{form}");
    let fates = [format!("fate.{}", units[0]), format!("fate.{}", units[1])];
    let fields = [(fates[0].as_str(), "repair"), (fates[1].as_str(), "back"), ("until", "2027-01-26")];
    done(&mut visitor, "2027-01-18", "/rentals/wrong/family-saturday", &fields);
    let broken = page(&mut visitor, "2027-01-18");
    assert!(broken.contains("2 are in repair") && broken.contains("is away until 2027-01-26"), "{broken}");
    let shown = visitor.get("/rentals?day=2027-01-18&propose=1");
    assert!(shown.text().contains("Planned again from Monday, January 18, 2027"), "{}", shown.text());
    done(&mut visitor, "2027-01-18", "/rentals/take", &[("seen", &shown.input("seen"))]);
    assert!(!page(&mut visitor, "2027-01-18").contains("is away until"), "{}", page(&mut visitor, "2027-01-18"));

    // A booking from the telephone; what is wrong with it stands at its fields.
    let faulty = [("name", ""), ("first", "2027-01-28"), ("last", "2027-01-27"), ("people", "x")];
    let answer = visitor.post("/rentals/booking", "/rentals/booking", &faulty);
    assert_eq!((answer.status, answer.text().contains("href=\"#people\"")), (422, true), "{}", answer.text());
    let mut fields = vec![
        ("name", ""),
        ("first", "2027-01-28"),
        ("last", "2027-01-27"),
        ("people", "2"),
        ("place", "quill-mud-flat"),
    ];
    fields.extend([("lure", "tungsten-jig-5"), ("fish", "perch-25")]);
    let answer = visitor.post("/rentals/booking", "/rentals/booking", &fields);
    for link in ["href=\"#name\"", "href=\"#last\""] {
        assert!(answer.status == 422 && answer.text().contains(link), "{link}: {}", answer.text());
    }
    fields[0].1 = "Miller, by telephone";
    fields[2].1 = "2027-01-29";
    assert_eq!(visitor.post("/rentals/booking", "/rentals/booking", &fields).status, 303);
    let added = page(&mut visitor, "2027-01-28");
    assert!(added.contains("Miller, by telephone is new."), "{added}");
    // Called off again, in the version that was seen and no other.
    let address = added.split("/rentals/booking/miller").nth(1).unwrap().split('"').next().unwrap();
    let address = format!("/rentals/booking/miller{address}");
    let form = visitor.get(&address);
    let stale = visitor.post(&address, &format!("{address}/delete"), &[("etag", "stale"), ("day", "2027-01-28")]);
    assert_eq!(stale.status, 409, "{}", stale.text());
    let gone =
        visitor.post(&address, &format!("{address}/delete"), &[("etag", &form.input("etag")), ("day", "2027-01-28")]);
    assert_eq!(gone.status, 303, "{}", gone.text());
    assert!(!page(&mut visitor, "2027-01-28").contains("Miller"));
}

#[test]
fn who_may_only_look_gets_no_button_and_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let reader = token(dir.path(), "window", "read");
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    assert_eq!(visitor.post("/sign-in", "/sign-in", &[("token", &reader)]).status, 303);
    let shown = visitor.get("/rentals?day=2027-01-16&propose=1").text();
    assert!(shown.contains("There is no plan yet.") && !shown.contains("Take the new plan"), "{shown}");
    assert!(!shown.contains("Enter a booking"));
    for path in ["/rentals/take", "/rentals/hand-out", "/rentals/back", "/rentals/booking", "/rentals/print"] {
        let answer = visitor.post(
            "/shop",
            path,
            &[("day", "2027-01-16"), ("booking", "club-week"), ("unit", "wide-1"), ("people", "1")],
        );
        assert_eq!(answer.status, 403, "{path}: {}", answer.text());
    }
    assert_eq!(visitor.get("/rentals/booking").status, 403);
}
