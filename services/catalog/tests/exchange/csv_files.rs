//! CSV (RFC 4180) in and out.

use std::collections::BTreeMap;

use catalog::exchange::csv::{self, CsvRecord};
use domain::{BeamSurvey, Booking, GoalRecord, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck};
use proptest::prelude::*;

use crate::any;

fn written<R: CsvRecord>(records: &[R]) -> Vec<u8> {
    [csv::header::<R>(), csv::rows(records)].concat()
}

#[test]
fn the_example_of_every_kind_comes_back_the_same() {
    fn check<R: CsvRecord + PartialEq + std::fmt::Debug>() {
        let read = |bytes: &[u8]| {
            let parsed = csv::read::<R>(bytes, &BTreeMap::new());
            assert_eq!(parsed.faults, []);
            parsed.records.into_iter().map(|(_, record)| record).collect::<Vec<_>>()
        };
        let first = read(csv::template::<R>().as_bytes());
        assert_eq!(first.len(), 1);
        assert_eq!(read(&written(&first)), first);
    }
    check::<SensorRecord>();
    check::<SpotRecord>();
    check::<ShelterRecord>();
    check::<TargetRecord>();
    check::<GoalRecord>();
    check::<Unit>();
    check::<Booking>();
    check::<UnitCheck>();
    check::<BeamSurvey>();
}

/// A note that a spreadsheet would run as a formula is text there, and comes back as it was.
#[test]
fn a_spreadsheet_computes_no_text_of_ours() {
    let text = "id,display_name,notes,depth_m,bottom_class\na,\"'=HYPERLINK(\"\"x\"\")\",-2+3+cmd,6,silt\nb,@SUM(A1),'quoted',6,silt\n";
    let read = |bytes: &[u8]| {
        let parsed = csv::read::<SpotRecord>(bytes, &BTreeMap::new());
        assert_eq!(parsed.faults, []);
        parsed.records.into_iter().map(|(_, spot)| spot).collect::<Vec<_>>()
    };
    let spots = read(text.as_bytes());
    let texts: Vec<_> = spots.iter().flat_map(|spot| [spot.display_name.as_str(), spot.notes.as_str()]).collect();
    assert_eq!(texts, ["=HYPERLINK(\"x\")", "-2+3+cmd", "@SUM(A1)", "'quoted'"]);
    let written = written(&spots);
    let lines = String::from_utf8(written.clone()).unwrap();
    for cell in ["\"'=HYPERLINK(\"\"x\"\")\"", ",'-2+3+cmd,", ",'@SUM(A1),", ",'quoted',"] {
        assert!(lines.contains(cell), "{cell}: {lines}");
    }
    assert_eq!(read(&written), spots);
}

proptest! {
    #[test]
    fn spots_come_back_the_same(spots in any::spots()) {
        let parsed = csv::read::<SpotRecord>(&written(&spots), &BTreeMap::new());
        prop_assert_eq!(parsed.faults, []);
        let back: Vec<_> = parsed.records.into_iter().map(|(_, spot)| spot).collect();
        prop_assert_eq!(back, spots);
    }
}
