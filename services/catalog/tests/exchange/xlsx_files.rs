//! Spreadsheets outwards, read as ECMA-376 (part 1, chapter 18) lays them out: a ZIP archive of XML parts.

use std::io::{Cursor, Read as _};

use catalog::exchange::xlsx;
use domain::SpotRecord;
use jiff::Timestamp;
use proptest::prelude::*;
use quick_xml::events::Event;

use crate::any;

fn at() -> Timestamp {
    Timestamp::from_second(1_800_000_000).unwrap()
}

fn part(bytes: &[u8], name: &str) -> String {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut text = String::new();
    archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

/// The cells of a sheet that are numbers: reference and value. Cells of text have a type of their own (18.3.1.4).
fn numbers(sheet: &str) -> Vec<(String, f64)> {
    let mut reader = quick_xml::Reader::from_str(sheet);
    let (mut found, mut cell, mut wanted) = (Vec::new(), None, false);
    loop {
        match reader.read_event().unwrap() {
            Event::Start(e) if e.name().as_ref() == "c" => {
                let attribute = |name: &str| e.try_get_attribute(name).unwrap().map(|a| a.value.into_owned());
                cell = if attribute("t").is_none() { attribute("r") } else { None };
            }
            Event::Start(e) => wanted = e.name().as_ref() == "v",
            Event::Text(text) if wanted => {
                if let Some(cell) = cell.take() {
                    found.push((cell, text.parse().unwrap()));
                }
            }
            Event::End(_) => wanted = false,
            Event::Eof => return found,
            _ => {}
        }
    }
}

/// Written in two parts, as a long listing comes.
fn book(spots: &[SpotRecord]) -> Vec<u8> {
    let mut book = xlsx::RecordsBook::new("spots", at()).unwrap();
    let (first, second) = spots.split_at(spots.len() / 2);
    book.add(first).unwrap();
    book.add(second).unwrap();
    let mut bytes = Vec::new();
    std::io::Read::read_to_end(&mut book.finish().unwrap(), &mut bytes).unwrap();
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn figures_are_numbers_under_a_header_that_stays(spots in any::spots()) {
        let bytes = book(&spots);
        prop_assert_eq!(&bytes, &book(&spots));
        let sheet = part(&bytes, "xl/worksheets/sheet1.xml");
        prop_assert!(sheet.contains("ySplit=\"1\"") && sheet.contains("state=\"frozen\""), "{}", &sheet[..400]);
        prop_assert!(sheet.contains("<cols>"));
        let numbers = numbers(&sheet);
        // depth_m is the eighth column, and slope_deg the eleventh.
        for (row, spot) in (2_u32..).zip(&spots) {
            let number = |column: &str| {
                let cell = format!("{column}{row}");
                numbers.iter().find(|(name, _)| *name == cell).map(|(_, value)| *value)
            };
            prop_assert_eq!(number("H"), spot.depth_m);
            prop_assert_eq!(number("I"), spot.ice_thickness_m);
            prop_assert_eq!(number("A"), None);
            prop_assert_eq!(number("K"), spot.slope_deg);
        }
        let texts = part(&bytes, "xl/sharedStrings.xml");
        prop_assert!(texts.contains("depth_m") && texts.contains("WGS 84, north positive"));
    }
}

#[test]
fn no_spots_are_a_header_alone() {
    let bytes = book(&[]);
    assert_eq!(numbers(&part(&bytes, "xl/worksheets/sheet1.xml")), []);
}
