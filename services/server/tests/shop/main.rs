//! A tackle shop's trial through the real binary: an empty folder, a price list of 20 rows as shops keep them (units in the cells, `9/20` for
//! two beams, no ids, columns of its own), a customer, and paper.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing)]

#[path = "../support/mod.rs"]
mod support;

use std::path::Path;

use serde_json::Value;
use support::{call, complained, said, text};

const XLSX: &[u8] = include_bytes!("price-list.xlsx");
const CSV: &str = include_str!("price-list.csv");

/// A folder with the list and nothing else.
fn shop() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("price-list.xlsx"), XLSX).unwrap();
    std::fs::write(dir.path().join("price-list.csv"), CSV).unwrap();
    dir
}

/// Two commands, no id, and no more than a minute of typing at 40 words of five letters.
#[test]
fn a_price_list_becomes_paper_in_two_commands() {
    let dir = shop();
    let commands: [&[&str]; 2] = [
        &["import", "price-list.xlsx"],
        &["advise", "--depth", "18ft,40ft", "--bottom", "mud", "--budget", "300USD", "--report", "paper.pdf"],
    ];
    let typed: usize = commands.iter().map(|words| "lakebeam ".len() + words.join(" ").len()).sum();
    assert!(typed < 200, "{typed} letters");
    let stored = said(dir.path(), commands[0]);
    assert!(stored.contains("20 row(s) read, 20 sensors stored (20 new, 0 overwritten), 0 fault(s)"), "{stored}");
    assert!(stored.contains("Left aside, as no sensor has it: Article no., In stock, Supplier."), "{stored}");
    let told = said(dir.path(), commands[1]);
    assert!(told.starts_with("Take the ") && told.contains("paper.pdf: 1 page"), "{told}");
    assert!(std::fs::read(dir.path().join("paper.pdf")).unwrap().starts_with(b"%PDF"));
}

#[test]
fn a_spreadsheet_and_its_csv_are_the_same_records() {
    let stored = |file: &str| {
        let dir = shop();
        said(dir.path(), &["import", file]);
        said(dir.path(), &["export", "sensors", "--format", "csv"])
    };
    assert_eq!(stored("price-list.xlsx"), stored("price-list.csv"));
}

/// What a clerk reads of a list with slips: one line a slip, in the words of the list.
#[test]
fn slips_in_a_list_are_told_in_its_own_words() {
    let dir = tempfile::tempdir().unwrap();
    let list = "Name,Beam angle,Frequncy,Price\nA,12,200,99\n";
    std::fs::write(dir.path().join("prices.csv"), list).unwrap();
    let told = complained(dir.path(), &["import", "prices.csv"], 4);
    assert!(told.contains("the nearest known one is 'frequency'"), "{told}");
    let list = "Name,Beam angle,Frequency,Price\nA,12,5 kHz,99\nB,200°,200,$99\n";
    std::fs::write(dir.path().join("prices.csv"), list).unwrap();
    let told = complained(dir.path(), &["import", "prices.csv"], 4);
    for part in
        ["frequency_khz is 5; accepted: 10 to 2000 kHz", "name the column such as 'price USD'", "1 to 180 degrees"]
    {
        assert!(told.contains(part), "'{part}' in {told}");
    }
}

fn answer(dir: &Path, flags: &[&str]) -> Value {
    let output = call(dir, &[&["--json", "advise", "--depth", "18ft,40ft", "--budget", "300USD"], flags].concat());
    assert!(output.status.success(), "{flags:?}: {}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// How the recommendation changes when each unknown is made known; `--nocapture` prints the table.
#[test]
fn each_unknown_that_is_made_known_is_no_longer_counted_as_one() {
    let dir = shop();
    said(dir.path(), &["import", "price-list.csv"]);
    let hut: &[&str] = &["--shelter", "8x8ft", "--people", "4"];
    let rows: [(&str, Vec<&str>); 9] = [
        ("nothing is known", vec![]),
        ("the bottom is mud", vec!["--bottom", "mud"]),
        ("the bottom is sand", vec!["--bottom", "sand"]),
        ("the bottom is hard", vec!["--bottom", "hard"]),
        ("no weeds", vec!["--weeds", "none"]),
        ("weeds of 3 ft", vec!["--weeds", "3ft"]),
        ("the others have the same", vec!["--neighbours", "same"]),
        ("the others have the Mitten", vec!["--neighbours", "mitten"]),
        (
            "mud, no weeds, the others have the Mitten",
            vec!["--bottom", "mud", "--weeds", "none", "--neighbours", "mitten"],
        ),
    ];
    println!(
        "| what is known | sensor | sure | points | works at | right in | what would settle it |\n|---|---|---|---|---|---|---|"
    );
    for (known, flags) in rows {
        let answer = answer(dir.path(), &[hut, &flags].concat());
        let advised = answer["sensors"].as_array().unwrap().iter().find(|s| s["sensor"] == answer["sensor"]).unwrap();
        let share = |field: &str| 100.0 * advised[field].as_f64().unwrap_or(0.0);
        let unknown = answer["settling_unknown"].as_str().unwrap_or("");
        println!(
            "| {known} | {} | {} | {:.0} | {:.0} % | {:.0} of 100 | {} |",
            advised["display_name"].as_str().unwrap(),
            answer["firmness"].as_str().unwrap_or("").trim_start_matches("FIRMNESS_").to_lowercase(),
            share("value"),
            share("works_share"),
            share("best_share"),
            unknown.to_lowercase(),
        );
        let notes: Vec<&str> =
            answer["text"]["notes"].as_array().unwrap().iter().map(|note| note["key"].as_str().unwrap()).collect();
        for (flag, note, name) in [
            ("--bottom", "advise-unknown-bottom", "BOTTOM"),
            ("--weeds", "advise-unknown-weeds", "PLANTS"),
            ("--neighbours", "advise-unknown", "NEIGHBOURS"),
        ] {
            assert_eq!(notes.contains(&note), !flags.contains(&flag), "{known}: {notes:?}");
            // How strongly a known bottom echoes, and known weeds, may still be what would settle it.
            assert!(!(flags.contains(&flag) && unknown == name && name == "NEIGHBOURS"), "{known}: {unknown}");
        }
        let price = advised["price"]["units"].as_str().map_or(0, |units| units.parse().unwrap());
        assert!((1..=300).contains(&price), "{price}");
    }
}

/// One customer's places are listed, used and removed together, and nobody else's.
#[test]
fn a_label_keeps_a_customers_places_apart() {
    let dir = shop();
    let spots = "Name,Depth,Bottom,Customer\nNorth bar,18 ft,sand,ada\nLanding,9 ft,mud,ada\nMill bay,12 ft,,ben\n";
    std::fs::write(dir.path().join("spots.csv"), spots).unwrap();
    said(dir.path(), &["import", "price-list.csv", "spots.csv"]);
    said(dir.path(), &["import", "--starter"]);
    let listed = said(dir.path(), &["list", "spots", "--label", "ada"]);
    assert!(listed.contains("spots/north-bar") && listed.contains("spots/landing") && !listed.contains("mill-bay"));
    said(dir.path(), &["run", "--label", "ada", "--lure", "small-jig", "--fish", "perch-20", "--options", "mitten"]);
    let runs = said(dir.path(), &["runs", "--json"]);
    let run: Value = serde_json::from_str(runs.lines().next().unwrap()).unwrap();
    assert_eq!(run["spot_count"], 2);
    assert!(said(dir.path(), &["advise", "--label", "ada"]).contains("Landing"));
    assert!(said(dir.path(), &["delete", "--label", "ada"]).starts_with("2 spot(s)"));
    let left = said(dir.path(), &["list", "spots"]);
    assert!(left.contains("mill-bay") && !left.contains("landing"), "{left}");
}

/// The lures and fish that come with the program are taken by name without being stored, and are stored once when asked for.
#[test]
fn lures_and_fish_come_with_the_program() {
    let dir = shop();
    said(dir.path(), &["import", "price-list.csv"]);
    let told =
        said(dir.path(), &["advise", "--depth", "5m", "--lure", "spoon", "--fish", "walleye-45", "--draws", "0"]);
    assert!(told.starts_with("Take the "), "{told}");
    assert!(said(dir.path(), &["import", "--starter"]).starts_with("18 lures and fish stored, 0 were there already."));
    assert!(said(dir.path(), &["import", "--starter"]).starts_with("0 lures and fish stored, 18 were there already."));
}

/// Places of a customer, of whom not all is known, on any depth from 7 to 55 ft.
fn places(count: usize) -> String {
    let row = |n: usize| {
        let (bottom, weeds) =
            (["mud", "sand", "hard", "", "muck"][n % 5], ["none", "3 ft", "unknown", "", "2 ft"][n % 5]);
        format!("Place number {n},{} ft,{bottom},{weeds},Invented Lake\n", [7, 12, 18, 25, 33, 40, 55][n % 7])
    };
    (0..count).map(row).fold("Name,Depth,Bottom,Weeds,Lake\n".to_owned(), |file, row| file + &row)
}

fn pages(told: &str) -> usize {
    let told = told.lines().find(|line| line.contains(".pdf: ")).unwrap();
    told.split(' ').nth(1).unwrap().parse().unwrap()
}

/// For one place as for twenty, in the language with the longer words as well.
#[test]
fn a_sheet_is_one_page_and_a_comparison_two_and_one_a_place() {
    for count in [1, 7, 20] {
        let dir = shop();
        std::fs::write(dir.path().join("spots.csv"), places(count)).unwrap();
        said(dir.path(), &["import", "price-list.csv", "spots.csv"]);
        said(dir.path(), &["import", "--starter"]);
        let choice = ["--uses", "search:0.5,watch-lure:0.5", "--budget", "300USD", "--draws", "64"];
        said(dir.path(), &[&["run", "--lure", "small-jig", "--fish", "perch-20"], &choice[..]].concat());
        for language in ["en", "de"] {
            let report = |template: &str| {
                let words =
                    ["report", "latest", "--template", template, "--language", language, "--output", "paper.pdf"];
                pages(&said(dir.path(), &words))
            };
            assert_eq!(report("customer-sheet"), 1, "{count} places, {language}");
            assert!(report("comparison") <= 2 + count, "{count} places, {language}");
        }
    }
}
