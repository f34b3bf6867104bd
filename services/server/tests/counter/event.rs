//! An organizer, a marshal and a guide, by requests as a browser sends them.

use crate::http::Visitor;
use crate::support::{Server, said};
use crate::{stock, token};

/// What the form of an event holds for one kind of shelter, one sensor and one band of depth.
const SMALL: [(&str, &str); 7] = [
    ("from.1", "10 ft"),
    ("to.1", "4 m"),
    ("bottom", "sand"),
    ("shelter", "rental-hut-five"),
    ("sensor", "plain-narrow"),
    ("lure", "tungsten-jig-5"),
    ("next", "12 ft"),
];

/// Goes where a form leads, waiting for what is computed.
fn arrived(visitor: &mut Visitor, path: &str, fields: &[(&str, &str)]) -> String {
    let answer = visitor.post("/event", path, fields);
    assert_eq!(answer.status, 303, "{}", answer.text());
    let mut at = answer.header("location").to_owned();
    for _ in 0..300 {
        let answer = visitor.get(at.trim_end_matches("#answer"));
        match answer.status {
            303 => answer.header("location").clone_into(&mut at),
            200 if at.starts_with("/event/work") => {
                assert!(answer.text().contains("Computing for"), "{}", answer.text())
            }
            _ => return at,
        }
    }
    panic!("the rules never came");
}

#[test]
fn rules_are_computed_read_at_the_door_and_taken_along() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    assert!(visitor.get("/door").text().contains("There are no rules yet."));
    assert!(visitor.get("/event").text().contains("No rules yet."));

    // Faults stand at their fields, and nothing is computed.
    let faulty = visitor.post("/event", "/event", &[("from.1", "deep"), ("to.1", "4 m"), ("lure", "tungsten-jig-5")]);
    assert!(faulty.status == 422 && faulty.text().contains("“deep” is no length"), "{}", faulty.text());
    let unnamed = visitor.post("/event", "/event", &[("from.1", "3 m"), ("to.1", "4 m"), ("lure", "tungsten-jig-5")]);
    assert!(unnamed.status == 422 && unnamed.text().contains("href=\"#shelters\""), "{}", unnamed.text());
    assert!(
        said(dir.path(), &["--server", &server.url(), "--json", "derived", "rules"]).matches("shelterRules/").count()
            == 0
    );

    let at = arrived(&mut visitor, "/event", &SMALL);
    let listed = visitor.get(at.trim_end_matches("#answer")).text();
    assert!(listed.contains("rental hut five") && listed.contains("Print the pages for the doors"), "{listed}");

    // Each unit of the list gets an answer, and what is not allowed has no figures.
    let door = visitor.get("/door").text();
    let units: Vec<&str> = door.split("<option value=\"").filter_map(|part| part.split('"').next()).collect();
    assert!(door.contains("Choose shelter, depth and unit.") && units.len() > 3, "{door}");
    let mut answers = 0;
    for unit in 0..20 {
        let answer = visitor.get(&format!("/door?shelter=0&band=0&unit={unit}")).text();
        if answer.contains("Choose shelter, depth and unit.") {
            break;
        }
        answers += 1;
        let allowed = answer.contains("<h2>Allowed</h2>");
        assert_ne!(allowed, answer.contains("<h2>Not allowed</h2>"), "{answer}");
        assert_eq!(allowed, answer.contains("Never above"), "{answer}");
        assert!(answer.contains("other shelters all round, 12 ft (3.7 m) or more"), "{answer}");
    }
    assert!(answers > 0, "{door}");

    // The file for the ice holds the same, and refers to nothing outside of it.
    let saved =
        visitor.get(&format!("/door/save?rules={}", at.split("rules=").nth(1).unwrap().trim_end_matches("#answer")));
    let file = saved.text();
    assert!(saved.header("content-disposition").contains(".html") && file.contains("carbon monoxide"), "{file}");
    assert_eq!(
        file.matches("Not allowed</strong>").count() + file.matches("Allowed</strong>").count(),
        answers,
        "{file}"
    );
    assert!(!file.contains("<script") && !file.contains("href=") && !file.contains("src="), "{file}");
}

#[test]
fn whoever_may_only_look_computes_nothing() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let reader = token(dir.path(), "reader", "read");
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    assert_eq!(visitor.post("/sign-in", "/sign-in", &[("token", &reader)]).status, 303);
    for page in ["/event", "/checks"] {
        let answer = visitor.get(page);
        assert!(answer.status == 200 && answer.text().contains("You can look, not change."), "{}", answer.text());
        assert_eq!(visitor.post("/shop", page, &SMALL).status, 403, "{page}");
    }
}

#[test]
fn a_unit_is_judged_once_it_was_read_twice() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    let stored = visitor.get("/checks").text();
    assert!(stored.contains("All units with two readings"), "{stored}");

    let reading = |shown: &'static str| {
        [("unit", "wide-1/main"), ("ball", "check-ball-38"), ("depth", "6 m"), ("reading", shown)]
    };
    let unread = visitor.post("/checks", "/checks", &reading("nine"));
    assert!(unread.status == 422 && unread.text().contains("href=\"#reading\""), "{}", unread.text());
    for (shown, judged) in [("3", false), ("3", true)] {
        let kept = visitor.post("/checks", "/checks", &reading(shown));
        assert_eq!(kept.status, 303, "{}", kept.text());
        let at = kept.header("location").trim_end_matches("#answer").to_owned();
        let page = visitor.get(&at).text();
        // One reading shows neither itself nor what was expected.
        assert_eq!(page.contains("Read it once more"), !judged, "{page}");
        assert_eq!(page.contains("Expected by its leaflet"), judged, "{page}");
        // What was typed last stays for the next.
        assert!(page.contains("value=\"6 m\"") && at.contains("unit=wide-1%2Fmain"), "{page}");
    }
}
