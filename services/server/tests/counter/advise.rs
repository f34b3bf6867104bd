//! Advise, as a browser without script has it.

use crate::http::Visitor;
use crate::stock;
use crate::support::Server;

fn shop() -> (tempfile::TempDir, Server) {
    let dir = tempfile::tempdir().unwrap();
    stock(dir.path());
    let server = Server::start(dir.path(), &[]);
    (dir, server)
}

/// Looks until the answer is there, as a page without script does by itself.
pub(crate) fn answered(visitor: &mut Visitor, path: &str) -> String {
    for _ in 0..120 {
        let page = visitor.get(path);
        assert_eq!(page.status, 200, "{path}: {}", page.text());
        let text = page.text();
        if !text.contains("id=\"computing\"") {
            return text;
        }
        assert!(text.contains("http-equiv=\"refresh\""), "a page that waits looks again by itself");
    }
    panic!("no answer at {path}");
}

#[test]
fn a_shop_without_records_is_told_what_to_do_first() {
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start(dir.path(), &[]);
    let text = Visitor::new(&server.address).get("/advise").text();
    assert!(text.contains("Nothing is stored yet."), "{text}");
}

#[test]
fn a_depth_alone_is_enough_for_an_answer() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    let empty = visitor.get("/advise").text();
    assert!(empty.contains("Enter a depth, or choose shallow, middle or deep."), "{empty}");
    for depth in ["18", "18%27", "5.5+m", "5%2C5+m", "shallow", "middle", "deep"] {
        let text = answered(&mut visitor, &format!("/advise?depth.1={depth}&unit=ft"));
        for said in
            ["Take the ", "Price against value", "How to set the ", "Check it on the ice:", "Assumed:", "All sensors"]
        {
            assert!(text.contains(said), "{depth}: {said} is missing in {text}");
        }
    }
}

#[test]
fn a_change_is_told_with_the_way_back() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    let first = answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    assert!(!first.contains("You changed"), "nothing was changed yet");
    let second = answered(&mut visitor, "/advise?depth.1=18&bottom.1=mud&unit=ft");
    assert!(second.contains("You changed <strong>bottom</strong>: don’t know → mud. Before: "), "{second}");
    assert!(second.contains("href=\"/advise?depth.1=18+ft&amp;unit=ft#answer\">Undo"), "{second}");
    let again = answered(&mut visitor, "/advise?depth.1=18&bottom.1=mud&unit=ft");
    assert!(again.contains("You changed"), "the same address says the same");
}

#[test]
fn a_stored_goal_is_one_more_thing_that_a_sensor_may_be_for() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    let usual = answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    assert!(usual.contains("value=\"goals/crowded-hut\">Crowded hut</option>"), "{usual}");
    let assumed = "half of the time to find fish, half to watch the lure";
    let own = answered(&mut visitor, "/advise?depth.1=18&uses=goals%2Fcrowded-hut&unit=ft");
    assert!(own.contains("value=\"goals/crowded-hut\" selected>Crowded hut</option>"), "{own}");
    assert!(own.contains("You changed <strong>what for</strong>") && own.contains("→ Crowded hut"), "{own}");
    assert!(own.contains("Take the "), "{own}");
    // A goal that is gone is no goal: what is taken instead is said.
    let gone = answered(&mut visitor, "/advise?depth.1=18&uses=goals%2Fgone&unit=ft");
    assert_eq!([&usual, &own, &gone].map(|page| page.contains(assumed)), [true, false, true]);
    let shelf = visitor.get("/shelf/goals").text();
    assert!(shelf.contains("Perch in a school") && shelf.contains("tell a school apart"), "{shelf}");
}

#[test]
fn faults_stand_at_their_fields_and_the_old_answer_stays() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    let page = visitor.get("/advise?depth.1=-30&people=99&most=much&water=99&unit=ft");
    let text = page.text();
    assert_eq!(page.status, 422);
    for said in [
        "href=\"#depth.1\">Depth needs repair",
        "href=\"#people\">People in it needs repair",
        "href=\"#most\">At most needs repair",
        "−30 ft; accepted: 1.6 ft to 656.2 ft",
        "“much” is no amount",
        "for the values before",
        "value=\"-30\"",
        "value=\"much\"",
    ] {
        assert!(text.contains(said), "{said} is missing in {text}");
    }
}

#[test]
fn more_people_than_a_shelter_holds_is_a_fault_of_that_field() {
    let (_dir, server) = shop();
    let page = Visitor::new(&server.address).get("/advise?depth.1=18&shelter=pop-up-two&people=9&unit=ft");
    let text = page.text();
    assert!(page.status == 422 && text.contains("href=\"#people\">People in it needs repair"), "{text}");
}

#[test]
fn language_and_unit_change_only_what_is_shown() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    let english = answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    let headline = |text: &str| text.split("<h2>").nth(2).unwrap().split('<').next().unwrap().to_owned();
    let sensor = headline(&english).replace("Take the ", "");
    let away = visitor.get("/look?unit=m&language=de&then=%2Fadvise%3Fdepth.1%3D18%26unit%3Dft");
    assert_eq!(away.header("location"), "/advise?depth.1=18&unit=ft");
    let german = answered(&mut visitor, "/advise?depth.1=18&unit=ft");
    assert!(
        german.contains("<html lang=\"de\">") && headline(&german).contains(sensor.trim()),
        "{}",
        headline(&german)
    );
    assert!(german.contains("value=\"18 ft\""), "a depth in feet stays one");
    assert!(german.contains("So wird der") && !german.contains("How to set"), "{german}");
}

#[test]
fn printing_stores_the_question_and_gives_a_paper() {
    let (_dir, server) = shop();
    let mut visitor = Visitor::new(&server.address);
    let question = "depth.1=18&bottom.1=mud&unit=ft";
    let mut printed = visitor.post("/shop", "/advise/keep", &[("question", question), ("then", "customer-sheet")]);
    if printed.header("location").starts_with("/advise/kept/") {
        // A busy machine: the run goes on, and its page prints it.
        let address = printed.header("location").to_owned();
        let run = format!("runs/{}", address.rsplit('/').next().unwrap());
        while !visitor.get(&address).text().contains("Print the sheet") {}
        printed = visitor.post("/shop", "/advise/paper", &[("run", &run), ("template", "customer-sheet")]);
    }
    assert!(printed.header("location").starts_with("/advise/paper/"), "{}{}", printed.head, printed.text());
    let address = printed.header("location").to_owned();
    let paper = visitor.get(&address);
    assert_eq!((paper.status, paper.header("content-type")), (200, "application/pdf"));
    assert!(paper.body.starts_with(b"%PDF-"));
    let faulty = visitor.post("/shop", "/advise/keep", &[("question", "depth.1=-30"), ("then", "")]);
    assert_eq!(faulty.status, 400);
}
