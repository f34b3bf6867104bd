//! Who reaches the pages: names, origins, marks of forms, tokens and roles; and what a hostile name does on a page.

use crate::advise::answered;
use crate::http::{Visitor, encoded, form};
use crate::support::{Server, said};
use crate::{stock, token};

/// A name that would be markup, a handler or the end of an attribute.
const HOSTILE: &str = "\"><script>alert(1)</script><img src=x onerror=alert(2)>'&{{7*7}}";

#[test]
fn pages_are_reached_by_their_own_names_and_from_their_own_pages_alone() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    assert_eq!(visitor.get("/advise").status, 200);
    for (headers, why) in [
        (&[("host", "rebound.example")][..], "a name that is not the service's"),
        (&[("origin", "http://evil.example")], "a page of another site"),
        (&[("origin", "null")], "a page without an origin"),
        (&[("sec-fetch-site", "cross-site")], "another site, as the browser says"),
        (&[("sec-fetch-site", "same-site")], "another port of this machine, as the browser says"),
    ] {
        for method in ["GET", "POST"] {
            let answer = visitor.send(method, "/advise", headers, "");
            assert_eq!(answer.status, 403, "{method}, {why}: {}", answer.text());
            assert!(!answer.text().contains("<form"), "{why}");
        }
    }
}

#[test]
fn every_answer_tells_the_browser_what_to_hold_to() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    for path in ["/advise", "/shop", "/sign-in", "/nowhere", "/favicon.ico"] {
        let answer = visitor.get(path);
        let policy = answer.header("content-security-policy");
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{path}: {policy}");
        assert!(policy.contains("frame-ancestors 'none'") && policy.contains("form-action 'self'"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("x-request-id").len(), 8, "{path}");
        let text = answer.text();
        assert!(!text.contains(" style=") && !text.contains(" onclick="), "{path} has a style or handler inside");
    }
    let page = visitor.get("/advise");
    assert_eq!(page.header("cache-control"), "no-store");
    let text = page.text();
    let style = text.split("href=\"").find(|part| part.starts_with("/files/")).unwrap().split('"').next().unwrap();
    assert!(visitor.get(style).header("cache-control").contains("immutable"));
}

#[test]
fn a_form_without_the_mark_of_its_desk_stores_nothing() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    let mut other = Visitor::new(&server.address);
    let foreign = other.get("/shop").input("mark");
    let mut visitor = Visitor::new(&server.address);
    visitor.get("/advise");
    for mark in ["", "0", foreign.as_str()] {
        let answer =
            visitor.send("POST", "/advise/keep", &[], &form(&[("mark", mark), ("question", "depth.1=18&unit=ft")]));
        assert_eq!(answer.status, 400, "{mark}");
    }
    assert!(!said(dir.path(), &["runs", "--server", &server.url()]).contains("runs/"));
    let kept = visitor.post("/shop", "/advise/keep", &[("question", "depth.1=18&unit=ft"), ("then", "")]);
    assert_eq!(kept.status, 303, "{}", kept.text());
    assert!(kept.header("location").starts_with("/advise/kept/"), "{}", kept.head);
}

#[test]
fn tokens_sign_in_and_roles_hold_on_pages_as_everywhere() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let (reads, writes) = (token(dir.path(), "looker", "read"), token(dir.path(), "desk-2", "write"));
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    let page = "/advise?depth.1=18&unit=ft";
    let away = visitor.get(page);
    assert_eq!((away.status, away.header("location")), (303, format!("/sign-in?then={}", encoded(page)).as_str()));
    let before = visitor.cookies.clone();
    let wrong = visitor.post("/sign-in", "/sign-in", &[("token", "lakebeam_0_0"), ("then", page)]);
    assert_eq!(wrong.status, 403);

    let entered = visitor.post("/sign-in", "/sign-in", &[("token", &reads), ("then", page)]);
    assert_eq!((entered.status, entered.header("location")), (303, page));
    let cookie = entered.header("set-cookie");
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    assert_ne!(before, visitor.cookies, "a cookie planted before signing in must be worth nothing");
    assert!(!cookie.contains(&reads[10..]), "the token itself stays with the service");
    let shown = answered(&mut visitor, page);
    assert!(shown.contains("looker: sign out"), "{shown}");
    assert!(!shown.contains("Print the sheet") && shown.contains("You can look, not change."), "{shown}");
    let refused = visitor.post("/shop", "/advise/keep", &[("question", "depth.1=18&unit=ft"), ("then", "")]);
    assert_eq!(refused.status, 403, "{}", refused.text());

    let out = visitor.post("/shop", "/sign-out", &[]);
    assert_eq!((out.status, visitor.get(page).status), (303, 303));
    visitor.post("/sign-in", "/sign-in", &[("token", &writes), ("then", page)]);
    let kept = visitor.post("/shop", "/advise/keep", &[("question", "depth.1=18&unit=ft"), ("then", "")]);
    assert_eq!(kept.status, 303, "{}", kept.text());
    let admin = token(dir.path(), "boss", "admin");
    let mut audit = crate::support::lakebeam(dir.path());
    let audit = audit.args(["audit", "--server", &server.url()]).env("LAKEBEAM_TOKEN", admin).output().unwrap();
    let audit = crate::support::text(&audit.stdout);
    assert!(audit.contains("desk-2") && audit.contains("runs/"), "{audit}");
}

#[test]
fn a_way_on_after_signing_in_leads_to_no_other_site() {
    let dir = tempfile::tempdir().unwrap();
    let good = token(dir.path(), "desk", "write");
    let server = Server::start(dir.path(), &[]);
    for then in ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:alert(1)"] {
        let mut visitor = Visitor::new(&server.address);
        let entered = visitor.post("/sign-in", "/sign-in", &[("token", &good), ("then", then)]);
        assert_eq!((entered.status, entered.header("location")), (303, "/"), "{then}");
        let look = visitor.get(&format!("/look?unit=m&then={}", encoded(then)));
        assert_eq!(look.header("location"), "/", "{then}");
    }
}

#[test]
fn hostile_names_and_fields_stay_text() {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    // The same name on a record of each kind that a page shows.
    for (kind, file) in [("sensors", "sensors"), ("spots", "spots"), ("shelters", "shelters"), ("targets", "targets")] {
        let text = std::fs::read_to_string(format!("{}/{file}.csv", crate::DEMO)).unwrap();
        let mut lines = text.lines();
        let (head, first) = (lines.next().unwrap(), lines.next().unwrap());
        let (id, rest) = first.split_once(',').unwrap();
        let after = rest.split_once(',').unwrap().1;
        let after = rest.strip_prefix('"').map_or(after, |quoted| quoted.split_once("\",").unwrap().1);
        let row = format!("{head}\n{id},\"{}\",{after}\n", HOSTILE.replace('"', "\"\""));
        let path = dir.path().join(format!("{kind}.csv"));
        std::fs::write(&path, row).unwrap();
        said(dir.path(), &["import", path.to_str().unwrap(), "--replace"]);
    }
    let server = Server::start(dir.path(), &[]);
    let mut visitor = Visitor::new(&server.address);
    let hostile = encoded(HOSTILE);
    let mut paths = vec![format!("/look?unit={hostile}&language={hostile}&then={hostile}"), format!("/{hostile}")];
    paths.push("/advise?depth.1=18&unit=ft".to_owned());
    for field in [
        "depth.1", "bottom.1", "weeds.1", "spot.1", "days.1", "shelter", "people", "uses", "most", "owned", "lure",
        "fish", "slope", "water", "unit", "places",
    ] {
        paths.push(format!("/advise?depth.1=18&{field}={hostile}"));
        paths.push(format!("/advise?{field}={hostile}"));
    }
    for path in &paths {
        let text = visitor.get(path).text();
        assert!(!text.contains("<script>alert") && !text.contains("<img"), "{path}: {text}");
    }
    let shown = answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    assert!(shown.contains("&lt;script&gt;alert(1)"), "the name is shown, as text");
    visitor.post(
        "/shop",
        "/shop",
        &[("name", HOSTILE), ("contact", HOSTILE), ("paper", HOSTILE), ("currency", HOSTILE)],
    );
    let shop = visitor.get("/shop").text();
    assert!(shop.contains("&lt;script&gt;") && !shop.contains("<script>alert"), "{shop}");
}
