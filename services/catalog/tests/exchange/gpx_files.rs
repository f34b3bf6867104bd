//! GPX 1.1 (schema: http://www.topografix.com/GPX/1/1/gpx.xsd) in and out.

use std::collections::BTreeMap;

use catalog::exchange::{Parsed, RowFault, gpx};
use domain::{BottomClass, Record as _, SpotRecord};
use proptest::prelude::*;

use crate::any;

fn read(text: &str) -> Parsed<SpotRecord> {
    read_with(text, &[])
}

fn read_with(text: &str, defaults: &[(&str, &str)]) -> Parsed<SpotRecord> {
    let defaults: BTreeMap<_, _> =
        defaults.iter().map(|(column, cell)| ((*column).to_owned(), (*cell).to_owned())).collect();
    gpx::read(text.as_bytes(), &defaults)
}

/// A file around some waypoints.
fn file(waypoints: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" creator=\"a receiver\" xmlns=\"http://www.topografix.com/GPX/1/1\" xmlns:s=\"urn:x-lakebeam:spot:1\">\n\
         {waypoints}</gpx>"
    )
}

fn written(spots: &[SpotRecord]) -> Vec<u8> {
    [gpx::head(), gpx::rows(spots).unwrap(), gpx::tail()].concat()
}

#[track_caller]
fn refused(parsed: &Parsed<SpotRecord>, expected: &[(u32, &str, &str)]) {
    let found: Vec<_> = parsed.faults.iter().map(|f| (f.line, f.column.as_str(), f.message.as_str())).collect();
    assert_eq!(found.len(), expected.len(), "{found:#?}");
    for ((line, column, message), (at, of, part)) in found.iter().zip(expected) {
        assert_eq!((line, column), (at, of), "{found:#?}");
        assert!(message.contains(part), "'{message}' lacks '{part}'");
    }
}

const WHOLE: &str = "<wpt lat=\"46.5\" lon=\"-94.25\">\n\
    <ele>372</ele><time>2027-01-15T09:00:00Z</time>\n\
    <name>Näsi bay, 2</name><cmt>off the point</cmt><desc>Sand &amp; <![CDATA[<gravel>]]></desc><sym>Fishing</sym>\n\
    <extensions><s:depth_ft>24</s:depth_ft><s:bottom_class>fine sand</s:bottom_class>\n\
    <other:thing xmlns:other=\"urn:other\"><s:depth_m>3</s:depth_m>x</other:thing></extensions></wpt>\n";

#[test]
fn a_waypoint_says_what_it_has_and_its_extensions_the_rest() {
    let parsed = read(&file(WHOLE));
    assert_eq!(parsed.faults, []);
    let [(line, spot)] = parsed.records.as_slice() else { panic!("{parsed:?}") };
    assert_eq!((*line, spot.id.as_str(), spot.display_name.as_str()), (3, "nasi-bay-2", "Näsi bay, 2"));
    assert_eq!(spot.notes, "Sand & <gravel>\noff the point");
    assert_eq!((spot.latitude_deg, spot.longitude_deg), (Some(46.5), Some(-94.25)));
    // The international foot, 0.3048 m exactly (1959).
    assert_eq!((spot.depth_m, spot.bottom_class), (Some(24.0 * 0.3048), Some(BottomClass::FineSand)));
    assert_eq!(spot.lure_height_m, None);
}

#[test]
fn what_a_waypoint_lacks_is_named_with_what_to_do() {
    let text = file(
        "<wpt lat=\"1\" lon=\"2\"><name>Bay</name><desc/></wpt>\n\
         <wpt lat=\"1\"><name/></wpt>\n\
         <wpt lat=\"1\" lon=\"2\"><name>Bay</name><extensions><s:depth_m>7</s:depth_m><s:bottom_class>silt</s:bottom_class>\
         <s:depht_ft>7</s:depht_ft></extensions></wpt>\n",
    );
    let parsed = read(&text);
    assert_eq!((parsed.rows_read, parsed.records.len()), (3, 0));
    refused(
        &parsed,
        &[
            (
                3,
                "depth_m",
                "<depth_m> into its extensions, or give all waypoints without it the same by a default, such as --default depth_m=",
            ),
            (4, "lon", "the waypoint has no lon"),
            (4, "name", "the waypoint has no <name>"),
            (4, "depth_m", "the waypoint has no depth_m"),
            (5, "depht_ft", "the nearest known one is 'depth_ft'"),
            (5, "name", "'bay' stands on line 3 already; give every waypoint its own name, or an <id>"),
        ],
    );
}

#[test]
fn defaults_stand_in_for_what_waypoints_do_not_say() {
    let text = file(&format!("<wpt lat=\"1\" lon=\"2\"><name>Plain</name></wpt>{WHOLE}"));
    let parsed = read_with(&text, &[("bottom_class", "silt"), ("depth_ft", "20"), ("lake", "Invented Lake")]);
    assert_eq!(parsed.faults, []);
    let plain = &parsed.records[0].1;
    assert_eq!(
        (plain.depth_m.unwrap(), plain.bottom_class.unwrap(), plain.lake.as_str()),
        (20.0 * 0.3048, BottomClass::Silt, "Invented Lake")
    );
    assert_eq!(
        parsed.records[1].1.bottom_class,
        Some(BottomClass::FineSand),
        "what the waypoint says goes before a default"
    );
    refused(&read_with(&text, &[("botom_class", "silt")]), &[(1, "botom_class", "'bottom_class'")]);
}

#[test]
fn figures_of_a_waypoint_are_judged_like_those_of_any_file() {
    let waypoint = |attributes: &str, depth: &str| {
        file(&format!(
            "<wpt {attributes}><name>A</name><extensions><s:depth_m>{depth}</s:depth_m><s:bottom_class>silt</s:bottom_class></extensions></wpt>"
        ))
    };
    for (attributes, depth, column, part) in [
        ("lat=\"NaN\" lon=\"2\"", "7", "lat", "'NaN' is not a number"),
        ("lat=\"1\" lon=\"INF\"", "7", "lon", "'INF' is not a number"),
        ("lat=\"91\" lon=\"2\"", "7", "lat", "latitude_deg is 91; accepted: -90 to 90 degrees"),
        ("lat=\"1\" lon=\"181\"", "7", "lon", "longitude_deg is 181; accepted: -180 to 180 degrees"),
        ("lat=\"\" lon=\"2\"", "7", "lat", "the waypoint has no lat"),
        ("lat=\"1\" lon=\"2\"", "NaN", "depth_m", "'NaN' is not a number"),
        ("lat=\"1\" lon=\"2\"", "1e9", "depth_m", "accepted: 0.5 to 200 m"),
        ("lat=\"1\" lon=\"2\"", "7,5", "depth_m", "decimal point"),
    ] {
        refused(&read(&waypoint(attributes, depth)), &[(3, column, part)]);
    }
}

/// Each of these ends in one fault, and nothing of the file is taken.
#[test]
fn files_that_are_no_gpx_end_in_one_clear_fault() {
    let bomb = "<!DOCTYPE gpx [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]>\n\
                <gpx xmlns=\"http://www.topografix.com/GPX/1/1\"><wpt lat=\"1\" lon=\"2\"><name>&b;</name></wpt></gpx>";
    let outer = "<!DOCTYPE gpx SYSTEM \"file:///etc/hostname\"><gpx xmlns=\"http://www.topografix.com/GPX/1/1\"/>";
    let deep = format!("{}{}", "<a>".repeat(100), "</a>".repeat(100));
    let cut_off = file(WHOLE).replace("</gpx>", "");
    let cases: [(&str, u32, &str); 19] = [
        ("", 1, "empty"),
        ("id,display_name\na,A\n", 1, "'id,display_name' stands outside of any element"),
        ("{\"type\":\"FeatureCollection\"}", 1, "outside of any element"),
        (&file(""), 1, "holds no waypoint; accepted"),
        (&file("<trk><trkseg><trkpt lat=\"1\" lon=\"2\"/></trkseg></trk>"), 1, "(tracks and routes are not read)"),
        ("<gpx version=\"1.1\"><wpt lat=\"1\" lon=\"2\"/></gpx>", 1, "<gpx> of no namespace; accepted"),
        (
            "<gpx xmlns=\"http://www.topografix.com/GPX/1/0\"/>",
            1,
            "GPX/1/0'; accepted: <gpx> of the namespace http://www.topografix.com/GPX/1/1",
        ),
        ("<kml xmlns=\"http://www.opengis.net/kml/2.2\"/>", 1, "<kml> of the namespace"),
        ("<wpt xmlns=\"http://www.topografix.com/GPX/1/1\"/>", 1, "<wpt> of GPX"),
        (bomb, 1, "document type"),
        (outer, 1, "document type"),
        (&file("<wpt lat=\"1\" lon=\"2\"><name>&b;</name></wpt>"), 3, "'&b;' is not known"),
        (&file("<wpt lat=\"1\" lon=\"&b;\"/>"), 3, "not well-formed"),
        (&file("<wpt lat=\"1\" lat=\"1\" lon=\"2\"/>"), 3, "not well-formed"),
        (&file("\n<wpt lat=\"1\" lon=\"2\"><name>A</wpt>"), 4, "not well-formed"),
        (&file("<wpt lat=\"1\" lon=\"2\"><q:name>A</q:name></wpt>"), 3, "the prefix 'q' is not declared"),
        (&file(&deep), 3, "64 deep"),
        (&cut_off, 8, "ends before its last element does"),
        (&format!("{}{}", file(WHOLE), file(WHOLE)), 9, "a second <gpx> follows"),
    ];
    for (text, line, part) in cases {
        let parsed = read(text);
        assert_eq!(parsed.records, [], "{text}");
        refused(&parsed, &[(line, "", part)]);
    }
    let latin = b"<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?>\n<gpx xmlns=\"http://www.topografix.com/GPX/1/1\"/>";
    refused(&gpx::read(latin, &BTreeMap::new()), &[(1, "", "ISO-8859-1; accepted: UTF-8")]);
    refused(&gpx::read(b"<gpx>\n\xff\xfe</gpx>", &BTreeMap::new()), &[(2, "", "not UTF-8")]);
    refused(&gpx::read(b"\xff\xfe<\0", &BTreeMap::new()), &[(1, "", "not UTF-8")]);
}

/// Huge files are bounded by what one import may be; what is huge within one is cut down to a fault that can be read.
#[test]
fn huge_parts_end_in_short_faults() {
    let name = "x".repeat(2_000_000);
    let many = "<s:depth_m>7</s:depth_m>".repeat(100_000);
    let text = file(&format!(
        "<wpt lat=\"1\" lon=\"2\"><name>{name}</name><extensions><s:depth_m>7</s:depth_m><s:bottom_class>silt</s:bottom_class></extensions></wpt>\n\
         <wpt lat=\"{name}\" lon=\"2\"><name>B</name><extensions><s:depth_m>7</s:depth_m><s:bottom_class>silt</s:bottom_class></extensions></wpt>\n\
         <wpt lat=\"1\" lon=\"2\"><name>C</name><extensions>{many}</extensions></wpt>\n"
    ));
    let parsed = read(&text);
    assert_eq!((parsed.rows_read, parsed.records.len()), (3, 0));
    let on = |line: u32| parsed.faults.iter().filter(|fault| fault.line == line).collect::<Vec<&RowFault>>();
    assert_eq!((on(3).len(), on(4).len()), (1, 1));
    assert!(on(3)[0].message.contains("accepted: up to 120"), "{:?}", on(3)[0]);
    assert!(on(5).len() <= 200, "{}", on(5).len());
    assert!(parsed.faults.iter().all(|fault| fault.message.len() < 400 && fault.column.len() < 100));
}

#[test]
fn lines_that_end_in_carriage_returns_count() {
    let text = file("<wpt lat=\"1\" lon=\"2\">\n<name>A</wpt>").replace('\n', "\r");
    refused(&read(&text), &[(4, "", "not well-formed")]);
    refused(&gpx::read(b"<gpx>\r\xff\xfe</gpx>", &BTreeMap::new()), &[(2, "", "not UTF-8")]);
}

/// A check allows the last bits that a change of units costs; the format allows nothing from 180° on.
#[test]
fn the_meridian_is_written_as_the_format_has_it() {
    let mut spot = read(&file(WHOLE)).records.remove(0).1;
    for east in [180.0, 180.000_000_1] {
        (spot.latitude_deg, spot.longitude_deg) = (Some(1.0), Some(east));
        assert_eq!(spot.check(), []);
        let written = String::from_utf8(written(std::slice::from_ref(&spot))).unwrap();
        assert!(written.contains("lon=\"-180\""), "{written}");
    }
}

#[test]
fn a_spot_without_a_position_is_no_waypoint() {
    let mut spot = read(&file(WHOLE)).records.remove(0).1;
    (spot.latitude_deg, spot.longitude_deg) = (None, None);
    let error = gpx::rows(&[spot]).unwrap_err();
    assert!(error.to_string().contains("spots/nasi-bay-2 has no position"), "{error}");
}

/// What GPX itself can say, an independent reader finds where the standard has it.
#[test]
fn an_independent_reader_finds_name_position_and_description() {
    let spot = read(&file(WHOLE)).records.remove(0).1;
    let gpx = ::gpx::read(written(std::slice::from_ref(&spot)).as_slice()).unwrap();
    assert_eq!(gpx.version, ::gpx::GpxVersion::Gpx11);
    let [waypoint] = gpx.waypoints.as_slice() else { panic!("{gpx:?}") };
    assert_eq!((waypoint.point().y(), waypoint.point().x()), (46.5, -94.25));
    assert_eq!(waypoint.name.as_deref(), Some("Näsi bay, 2"));
    assert_eq!(waypoint.description.as_deref(), Some("Sand & <gravel>\noff the point"));
}

/// As the format has it: longitudes end just short of 180°, which is the same meridian.
fn as_gpx_has_it(mut spot: SpotRecord) -> SpotRecord {
    if spot.longitude_deg == Some(180.0) {
        spot.longitude_deg = Some(-180.0);
    }
    spot
}

proptest! {
    #[test]
    fn spots_come_back_the_same(spots in any::spots()) {
        let placed: Vec<_> = spots.into_iter().filter(|spot| spot.latitude_deg.is_some()).map(as_gpx_has_it).collect();
        prop_assume!(!placed.is_empty());
        let parsed = gpx::read(&written(&placed), &BTreeMap::new());
        prop_assert_eq!(parsed.faults, []);
        let back: Vec<_> = parsed.records.into_iter().map(|(_, spot)| spot).collect();
        prop_assert_eq!(back, placed);
    }

    #[test]
    fn pages_together_are_one_file(spots in any::spots()) {
        let placed: Vec<_> = spots.into_iter().filter(|spot| spot.latitude_deg.is_some()).collect();
        let pages: Vec<u8> = placed.chunks(3).flat_map(|page| gpx::rows(page).unwrap()).collect();
        prop_assert_eq!(pages, gpx::rows(&placed).unwrap());
    }

    /// Whatever the bytes, reading ends and every fault can be read.
    #[test]
    fn damaged_files_end_in_faults(spots in any::spots(), at in any::<prop::sample::Index>(), byte in any::<u8>()) {
        let placed: Vec<_> = spots.into_iter().filter(|spot| spot.latitude_deg.is_some()).collect();
        let mut bytes = written(&placed);
        let at = at.index(bytes.len());
        bytes[at] = byte;
        let parsed = gpx::read(&bytes, &BTreeMap::new());
        prop_assert!(parsed.faults.iter().all(|fault| fault.line >= 1 && !fault.message.is_empty()));
        prop_assert!(parsed.records.iter().all(|(_, spot)| spot.check().is_empty()));
    }
}
