//! The floor of a shelter: as drawn, and by tape.

use acoustics::units::Metres;
use domain::defaults::{HOLE_RADIUS, WALL_CLEARANCE};
use proto::v1::{Hole, Shelter, ShelterRules, ShelterSheet};
use schemars::JsonSchema;
use serde::Serialize;

use crate::document::told::Mark;
use crate::length::ticks;
use crate::wording::Wording;

/// Corners of a round floor as it is drawn.
const CORNERS: u32 = 72;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Plan {
    width: f64,
    height: f64,
    floor: Vec<(f64, f64)>,
    holes: Vec<(f64, f64)>,
    hole_radius: f64,
    /// The marks that a tape is held to: A, then B.
    marks: [(f64, f64); 2],
    /// The two nearest holes, with their distance in words.
    nearest: Option<Nearest>,
    ticks: Vec<Mark>,
    alt: String,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Nearest {
    from: (f64, f64),
    to: (f64, f64),
    label: String,
}

/// Where a hole is, by tape.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct TapeRow {
    hole: usize,
    from_a: String,
    from_b: String,
}

/// Where the tape is held: the corners of the front wall, or of a round floor the ends of its diameter along the front.
fn marks(shelter: &Shelter) -> [Hole; 2] {
    if shelter.floor_diameter_m > 0.0 {
        let middle = 0.5 * shelter.floor_diameter_m;
        [Hole { x_m: 0.0, y_m: middle }, Hole { x_m: shelter.floor_diameter_m, y_m: middle }]
    } else {
        [Hole { x_m: 0.0, y_m: 0.0 }, Hole { x_m: shelter.floor_length_m, y_m: 0.0 }]
    }
}

pub(super) fn tape(sheet: &ShelterSheet, shelter: &Shelter, say: Wording<'_>) -> Vec<TapeRow> {
    let [a, b] = marks(shelter);
    let far = |from: Hole, to: &Hole| by_tape(libm::hypot(to.x_m - from.x_m, to.y_m - from.y_m), say);
    let rows = sheet.holes.iter().enumerate();
    rows.map(|(index, hole)| TapeRow { hole: index + 1, from_a: far(a, hole), from_b: far(b, hole) }).collect()
}

/// As a tape reads: `1.98 m (6 ft 6 in)`.
fn by_tape(metres: f64, say: Wording<'_>) -> String {
    /// 25.4 mm, exact by definition.
    const INCH: f64 = 0.0254;
    let inches = libm::round(metres / INCH);
    let feet = libm::floor(inches / 12.0);
    let [feet, inches] = [feet, inches - 12.0 * feet].map(|whole| say.number(whole, 0));
    say.say("tape-length", [("metres", say.fixed(metres, 2)), ("feet", feet), ("inches", inches)])
}

pub(super) fn tape_note(shelter: &Shelter, say: Wording<'_>) -> String {
    let round = shelter.floor_diameter_m > 0.0;
    say.word(if round { "tape-round" } else { "tape-corners" })
}

/// Whether other shelters are counted, and from what distance on.
pub(super) fn next_shelter(rules: &ShelterRules, say: Wording<'_>) -> String {
    match rules.spec.as_ref().and_then(|spec| spec.next_shelter_m) {
        Some(clear) => say.say("next-given", [("distance", say.both(Metres::new(clear)))]),
        None => say.word("next-alone"),
    }
}

pub(super) fn facts(rules: &ShelterRules, sheet: &ShelterSheet, shelter: &Shelter, say: Wording<'_>) -> Vec<String> {
    let both = |metres: f64| say.both(Metres::new(metres));
    let floor = if shelter.floor_diameter_m > 0.0 {
        say.say("fact-floor-round", [("across", both(shelter.floor_diameter_m))])
    } else {
        let (length, width) = (both(shelter.floor_length_m), both(shelter.floor_width_m));
        say.say("fact-floor", [("length", length), ("width", width)])
    };
    let mut facts = vec![say.count("anglers", usize::try_from(sheet.people).unwrap_or(0))];
    if sheet.spacing_m > 0.0 {
        facts.push(say.say("fact-spacing", [("spacing", both(sheet.spacing_m))]));
    }
    facts.push(floor);
    facts.push(next_shelter(rules, say));
    facts
}

pub(super) fn plan(sheet: &ShelterSheet, shelter: &Shelter, say: Wording<'_>) -> Plan {
    let value = |metres: f64| say.value(Metres::new(metres));
    let round = shelter.floor_diameter_m > 0.0;
    let (width, height) = if round {
        (shelter.floor_diameter_m, shelter.floor_diameter_m)
    } else {
        (shelter.floor_length_m, shelter.floor_width_m)
    };
    let floor = if round {
        let radius = 0.5 * width;
        let corner = |i: u32| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(CORNERS);
            (value(radius * (1.0 + libm::cos(angle))), value(radius * (1.0 + libm::sin(angle))))
        };
        (0..CORNERS).map(corner).collect()
    } else {
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)].map(|(x, y)| (value(x), value(y))).to_vec()
    };
    Plan {
        width: value(width),
        height: value(height),
        floor,
        holes: sheet.holes.iter().map(|hole| (value(hole.x_m), value(hole.y_m))).collect(),
        hole_radius: value(shelter.hole_radius_m.unwrap_or(HOLE_RADIUS.get())),
        marks: marks(shelter).map(|mark| (value(mark.x_m), value(mark.y_m))),
        nearest: nearest(&sheet.holes).map(|(a, b, distance)| Nearest {
            from: (value(a.x_m), value(a.y_m)),
            to: (value(b.x_m), value(b.y_m)),
            label: say.metres(distance),
        }),
        ticks: ticks(value(width), 5.0).into_iter().map(|at| Mark { at, label: say.number(at, 1) }).collect(),
        alt: say.say(
            "alt-floor",
            [
                ("holes", say.count("holes", sheet.holes.len())),
                ("clearance", say.metres(shelter.wall_clearance_m.unwrap_or(WALL_CLEARANCE.get()))),
            ],
        ),
    }
}

/// The two holes that are closest together.
fn nearest(holes: &[Hole]) -> Option<(Hole, Hole, f64)> {
    let pairs = holes.iter().enumerate().flat_map(|(i, a)| holes.iter().skip(i + 1).map(move |b| (*a, *b)));
    pairs.map(|(a, b)| (a, b, libm::hypot(a.x_m - b.x_m, a.y_m - b.y_m))).min_by(|one, other| one.2.total_cmp(&other.2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wording::LengthUnit;

    #[test]
    fn a_tape_reads_in_centimetres_and_in_feet_and_inches() {
        let words = crate::wording::tests::words("en");
        let say = Wording::new(&words, LengthUnit::Metres);
        for (metres, read) in
            [(1.98, "1.98 m (6 ft 6 in)"), (0.3, "0.30 m (1 ft 0 in)"), (1.8161, "1.82 m (6 ft 0 in)")]
        {
            assert_eq!(by_tape(metres, say), read);
        }
    }

    #[test]
    fn two_lengths_from_the_marks_find_each_hole_again() {
        let words = crate::wording::tests::words("en");
        let say = Wording::new(&words, LengthUnit::Metres);
        let hole = Hole { x_m: 1.2, y_m: 0.9 };
        let sheet = ShelterSheet { holes: vec![hole], ..ShelterSheet::default() };
        let square = Shelter { floor_length_m: 4.0, floor_width_m: 2.4, ..Shelter::default() };
        let rows = tape(&sheet, &square, say);
        // 1.5 m from A is exact; from B the hypotenuse of 2.8 and 0.9.
        assert!(rows[0].from_a.starts_with("1.50 m") && rows[0].from_b.starts_with("2.94 m"), "{rows:?}");
        let [a, b] = marks(&Shelter { floor_diameter_m: 4.0, ..Shelter::default() });
        assert_eq!([(a.x_m, a.y_m), (b.x_m, b.y_m)], [(0.0, 2.0), (4.0, 2.0)]);
    }
}
