//! Tables of neighbours as they are kept from one process to the next. In a test binary of its own: they are those of the whole process.
#![allow(missing_docs, clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

mod common;

use acoustics::units::{Angle, Beamwidth, Db, FullAngle, HalfAngle, Hertz, Metres, WidthLevel};
use domain::selection::{Others, RunInput};
use domain::{BottomClass, Cancel, Fact, PatternKind, PatternPoint, Provenance};
use planning::selection::{Prepared, kept};

fn width(degrees: f64) -> Fact<Beamwidth> {
    Fact::stated(Beamwidth { full: FullAngle::from_degrees(degrees), at: WidthLevel::Minus3 })
}

/// Every kind of pattern and pulse, level and sloping ground of several classes, ice of a stated thickness, with draws and without, and neighbours of other kinds.
fn runs() -> Vec<RunInput> {
    let mut sensors =
        vec![common::piston("round", 12.0), common::piston("shaded", 19.0), common::piston("oblong", 20.0)];
    sensors.extend([common::piston("table", 15.0), common::piston("swept", 10.0)]);
    sensors[1].options[0].pattern =
        PatternKind::ShadedCircular { beamwidth: width(19.0), peak_side_lobe: Fact::stated(Db::new(-30.0)) };
    sensors[2].options[0].pattern = PatternKind::Rectangular { along: width(20.0), across: width(9.0) };
    let points = [(0.0, 0.0), (7.5, -3.0), (15.0, -14.0), (30.0, -30.0)];
    let points =
        points.map(|(angle, level)| PatternPoint { angle: HalfAngle::from_degrees(angle), level: Db::new(level) });
    sensors[3].options[0].pattern =
        PatternKind::Tabulated { points: points.to_vec(), provenance: Provenance::Measured };
    sensors[4].options[0].sweep_bandwidth = Some(Fact::stated(Hertz::from_khz(30.0)));
    sensors[4].confirmation = domain::Confirmation { marks: 2, pings: 3 };
    let mut level = common::run(vec![common::spot("level", 4.0, BottomClass::Silt)], sensors.clone());
    level.spots.push(common::spot("hard", 7.0, BottomClass::Gravel));
    level.spots[1].ice_thickness = Some(Metres::new(0.4));
    level.shelter = Some(common::shelter(3.0, 2.4, 3));
    let mut sloping = level.clone();
    sloping.spots.truncate(1);
    sloping.spots[0].slope = Angle::from_degrees(10.0);
    sloping.settings.draws = 16;
    let mut others = level.clone();
    others.spots.truncate(1);
    others.others = Others::Unknown;
    vec![level, sloping, others]
}

fn findings(run: &RunInput) -> String {
    let prepared = Prepared::new(run, &Cancel::never()).unwrap();
    format!("{:?}", prepared.evaluate(0..run.spots.len(), &Cancel::never()).unwrap())
}

#[test]
fn tables_are_those_of_the_model_that_their_file_is_named_for_and_are_worked_out_once() {
    let first: Vec<String> = runs().iter().map(findings).collect();
    let kept = kept::take_new();
    let tables = u64::try_from(kept.len() / kept::BYTES).unwrap();
    assert!(tables >= 60 && kept.len().is_multiple_of(kept::BYTES), "{tables} tables");
    assert_eq!(tables, kept::computed());

    let again: Vec<String> = runs().iter().map(findings).collect();
    assert_eq!((first == again, kept::computed(), kept::take_new().len()), (true, tables, 0));

    // In the order of their keys: threads work them out as they come.
    let mut sorted: Vec<&[u8]> = kept.chunks_exact(kept::BYTES).collect();
    sorted.sort_unstable();
    let [a, b, c, d, e, f, g, h, ..] = *blake3::hash(&sorted.concat()).as_bytes();
    let model = u64::from_le_bytes([a, b, c, d, e, f, g, h]);
    assert_eq!(
        model,
        kept::MODEL,
        "what tables hold has changed, so that those of before must not be read: set kept::MODEL to {model:#x}"
    );
}
