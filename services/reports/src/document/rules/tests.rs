//! What a page of rules says, from documents as the service stores them.

use serde_json::{Value, json};

use super::{View, view};
use crate::wording::tests::words;
use crate::wording::{LengthUnit, Wording};

fn sentence(key: &str, figure: &str) -> Value {
    json!({ "key": key, "parts": [{ "name": "x", "figure": figure }] })
}

/// Rules of options that are all allowed but each third, in some bands; mixed as said.
fn document(options: usize, bands: usize, mixes: &[(usize, usize)]) -> Value {
    let rule = |option: usize| {
        json!({
            "option": option, "allowed": option % 3 != 2, "refusal": if option % 3 == 2 { "RULE_REFUSAL_NEIGHBOURS_ALWAYS" } else { "RULE_REFUSAL_UNSPECIFIED" },
            "start_gain_db": 20.0, "highest_gain_db": 30.0, "most_people": 4,
            "start": sentence("setting-at", "step 4"), "highest": sentence("setting-at", if option == 0 { "step 4" } else { "step 6" }),
        })
    };
    let rules: Value = (0..options).map(rule).collect();
    let mixes: Value = mixes.iter().map(|(first, second)| json!({ "first": first, "second": second })).collect();
    let band = |n: usize| json!({ "band": { "shallow_m": n + 1, "deep_m": n + 2 }, "rules": rules, "mixes": mixes, "holds_beyond_m": 4.5 });
    let sheet = |name: &str, people: u32| {
        json!({
            "shelter": { "name": format!("shelters/{name}"), "display_name": name, "floor_length_m": 3.0, "floor_width_m": 2.4 },
            "people": people, "holes": [{ "x_m": 0.5, "y_m": 0.5 }], "bands": (0..bands).map(band).collect::<Value>(),
        })
    };
    json!({
        "spec": { "lure": "targets/jig", "next_shelter_m": 3.0 },
        "options": (0..options).map(|n| json!({ "sensor_display_name": format!("S{n}"), "beam": "200 kHz" })).collect::<Value>(),
        "sheets": [sheet("one", 3), sheet("two", 3), sheet("three", 4)],
    })
}

fn printed(document: Value, language: &str) -> View {
    let document = proto::Document::from_json("shelterRules", &document.to_string()).unwrap();
    let Some(proto::Document::Rules(rules)) = document else { panic!("no rules") };
    let words = words(language);
    view(&rules, &[], Wording::new(&words, LengthUnit::Metres)).unwrap()
}

#[test]
fn no_option_and_no_band_is_left_out_and_equal_shelters_share_a_page() {
    let view = printed(document(40, 11, &[]), "en");
    let names: Vec<_> = view.sheets.iter().map(|sheet| (sheet.name.as_str(), sheet.others.join(" "))).collect();
    assert_eq!(names, [("one", "two".to_owned()), ("three", String::new())]);
    for sheet in &view.sheets {
        assert_eq!((sheet.rows.len(), sheet.bands.len(), sheet.details.len()), (40, 11, 11));
        assert!(sheet.rows.iter().all(|row| row.cells.len() == 11));
        assert!(sheet.details.iter().all(|detail| detail.rows.len() == 40));
    }
}

#[test]
fn what_is_not_allowed_has_no_figures() {
    let sheet = printed(document(6, 1, &[]), "en").sheets.remove(0);
    for (row, detail) in sheet.rows.iter().zip(&sheet.details[0].rows) {
        let figures = [&detail.start, &detail.highest, &detail.alike, &detail.limit, &detail.spacing, &detail.people];
        let digits = figures.into_iter().any(|text| text.chars().any(|c| c.is_ascii_digit()));
        assert_eq!(row.cells[0].allowed, digits, "{detail:?}");
        assert_eq!(row.cells[0].allowed, !row.cells[0].setting.is_empty());
    }
    // Where start and highest are one, a single figure.
    assert_eq!(
        (sheet.rows[0].cells[0].setting.as_str(), sheet.rows[1].cells[0].setting.as_str()),
        ("step 4", "step 4 – step 6")
    );
}

#[test]
fn pairs_are_named_in_full_from_the_shorter_list() {
    // Allowed are 0, 1, 3, 4: six pairs.
    let all = [(0, 1), (0, 3), (0, 4), (1, 3), (1, 4), (3, 4)];
    for (mixes, said) in [
        (&all[..], "1–2 m: all allowed ones may be mixed."),
        (&all[2..], "1–2 m: all allowed ones may be mixed, but not 1 with 2, 4."),
        (&all[4..], "1–2 m: only these may be mixed: 2 with 5; 4 with 5."),
        (&[], "1–2 m: none may be mixed; all use the same one."),
    ] {
        assert_eq!(printed(document(6, 1, mixes), "en").sheets[0].mixing, [said]);
    }
}

#[test]
fn a_page_says_what_it_holds_for_and_what_the_others_may_be_at() {
    let holds = printed(document(3, 1, &[]), "en").sheets.remove(0).holds.join("; ");
    for part in [
        "lure: jig",
        "at most 2 %",
        "3 m (9.8 ft) or more from wall to wall",
        "1–2 m: other shelters matter within 4.5 m",
    ] {
        assert!(holds.contains(part), "{part}: {holds}");
    }
    let holds = printed(document(3, 1, &[]), "de").sheets.remove(0).holds.join("; ");
    assert!(holds.contains("Köder: jig") && holds.contains("andere Zelte zählen bis 4,5 m"), "{holds}");
}

#[test]
fn a_start_that_has_to_be_found_and_no_limit_are_said_without_a_position() {
    let mut given = document(2, 1, &[]);
    let rules = &mut given["sheets"][0]["bands"][0]["rules"];
    rules[0]["start"] = json!({ "key": "setting-start-first" });
    rules[0]["highest"] = sentence("setting-past-first", "5 dB");
    rules[1]["highest"] = json!({ "key": "setting-no-limit" });
    let sheet = printed(given, "en").sheets.remove(0);
    let cells: Vec<_> = sheet.rows.iter().map(|row| row.cells[0].setting.as_str()).collect();
    assert_eq!(cells, ["lure shows, at most 5 dB more", "step 4, no limit"]);
}
