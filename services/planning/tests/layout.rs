//! Layouts of holes against published best-known spreads of points.
#![allow(clippy::unwrap_used, clippy::approx_constant, reason = "a test; the published digits stand as they are")]

use acoustics::units::Metres;
use domain::area::{Area, most_that_fit};
use domain::{Cancel, Floor, HolePlan, Id, Point, Shelter};
use planning::PlanningError;
use planning::layout::{disperse, holes, least_spacing};

/// Greatest known least distance of n points in a unit square, n = 2 … 20.
///
/// n = 2 … 9, 12, 14, 15, 16, 18 and 20: closed forms as collected by Szabó and Specht, Packing up to 200 equal circles in
/// a square (2007), with the side L of the square around unit circles: d = 2/(L − 2); such as L = 4 + √2 + √6 for 15.
/// n = 10, 11, 13, 17 and 19: Peikert, Würtz, Monagan and
/// de Groot (1992), Packing circles in a square: a review and new results, and Nurmela and Östergård (1997), Packing up
/// to 50 equal circles in a square, Discrete Comput. Geom. 18, 111-120, doi:10.1007/PL00009306;
/// checked to three digits, the further ones from memory.
const SQUARE: [(u32, f64); 19] = [
    (2, 1.414_214),
    (3, 1.035_276),
    (4, 1.0),
    (5, 0.707_107),
    (6, 0.600_925),
    (7, 0.535_898),
    (8, 0.517_638),
    (9, 0.5),
    (10, 0.421_280),
    (11, 0.398_207),
    (12, 0.388_730),
    (13, 0.366_096),
    (14, 0.348_915),
    (15, 0.341_081),
    (16, 0.333_333),
    (17, 0.306_154),
    (18, 0.300_463),
    (19, 0.289_542),
    (20, 0.286_612),
];

/// The same in a circle of radius 1, n = 2 … 19, from the ratios of Graham, Lubachevsky, Nurmela and Östergård (1998),
/// Dense packings of congruent circles in a circle, Discrete Math. 181, 139-154, doi:10.1016/S0012-365X(97)00050-2: with
/// the ratio R of the radii of container and discs, the spread is 2/(R − 1). Digits from memory.
const CIRCLE: [(u32, f64); 18] = [
    (2, 2.0),
    (3, 1.732_051),
    (4, 1.414_214),
    (5, 1.175_571),
    (6, 1.0),
    (7, 1.0),
    (8, 0.867_767),
    (9, 0.765_367),
    (10, 0.710_978),
    (11, 0.684_040),
    (12, 0.660_152),
    (13, 0.618_034),
    (14, 0.600_884),
    (15, 0.567_963),
    (16, 0.553_185),
    (17, 0.527_421),
    (18, 0.517_638),
    (19, 0.517_638),
];

fn rectangle(length: f64, width: f64) -> Area {
    let zero = Metres::new(0.0);
    Area::Rectangle { x: zero, y: zero, length: Metres::new(length), width: Metres::new(width) }
}

fn spread(area: Area, count: u32) -> f64 {
    least_spacing(&disperse(area, count, &Cancel::never()).unwrap()).unwrap().get()
}

#[test]
fn a_square_is_filled_to_half_a_per_cent_of_the_best_known() {
    for (count, best) in SQUARE {
        let found = spread(rectangle(1.0, 1.0), count);
        assert!(found >= 0.995 * best, "{count} points: {found} against {best}");
        assert!(found <= best * (1.0 + 2.0e-6), "{count} points: {found} beats the best known {best}");
    }
}

#[test]
fn a_circle_is_filled_to_half_a_per_cent_of_the_best_known() {
    let area = Area::Circle { centre: Metres::new(1.0), radius: Metres::new(1.0) };
    for (count, best) in CIRCLE {
        let found = spread(area, count);
        assert!(found >= 0.995 * best, "{count} points: {found} against {best}");
        assert!(found <= best * (1.0 + 2.0e-6), "{count} points: {found} beats the best known {best}");
    }
}

#[test]
fn a_line_is_divided_evenly() {
    assert!((spread(rectangle(6.0, 0.0), 4) - 2.0).abs() < 1.0e-3);
}

#[test]
fn no_layout_passes_the_published_upper_bound() {
    for (length, width, count) in [(1.0, 1.0, 20), (4.0, 2.0, 12), (6.0, 2.4, 30), (10.0, 1.0, 15)] {
        let area = rectangle(length, width);
        let found = spread(area, count);
        assert!(f64::from(count) <= most_that_fit(area, Metres::new(found)) + 1.0e-9);
    }
}

#[test]
fn the_same_floor_gives_the_same_holes() {
    assert_eq!(
        disperse(rectangle(4.0, 2.5), 9, &Cancel::never()).unwrap(),
        disperse(rectangle(4.0, 2.5), 9, &Cancel::never()).unwrap()
    );
}

fn shelter(length: f64, width: f64, plan: HolePlan) -> Shelter {
    Shelter {
        id: Id::parse("hut").unwrap(),
        display_name: "LaidOutShelter".to_owned(),
        notes: "Invented for tests.".to_owned(),
        floor: Floor::Rectangle { length: Metres::new(length), width: Metres::new(width) },
        wall_clearance: Metres::new(0.3),
        min_ice_web: Metres::new(0.5),
        hole_radius: Metres::new(0.1),
        holes: plan,
        transducers_recessed: false,
    }
}

#[test]
fn holes_keep_to_the_clearance_and_the_web() {
    let shelter = shelter(4.0, 2.4, HolePlan::Party(6));
    let holes = holes(&shelter, &Cancel::never()).unwrap();
    assert_eq!(holes.len(), 6);
    for Point { x, y } in &holes {
        assert!((0.3..=3.7).contains(&x.get()) && (0.3..=2.1).contains(&y.get()), "{x:?} {y:?}");
    }
    assert!(least_spacing(&holes).unwrap().get() >= 0.7);
}

#[test]
fn one_hole_lies_in_the_middle_and_drilled_holes_stay() {
    let middle = Point { x: Metres::new(2.0), y: Metres::new(1.2) };
    assert_eq!(holes(&shelter(4.0, 2.4, HolePlan::Party(1)), &Cancel::never()), Ok(vec![middle]));
    let drilled = vec![middle, Point { x: Metres::new(3.0), y: Metres::new(1.0) }];
    assert_eq!(holes(&shelter(4.0, 2.4, HolePlan::Drilled(drilled.clone())), &Cancel::never()), Ok(drilled));
}

#[test]
fn what_does_not_fit_is_an_error() {
    assert!(matches!(
        holes(&shelter(0.5, 2.0, HolePlan::Party(1)), &Cancel::never()),
        Err(PlanningError::NoRoomForHole { .. })
    ));
    assert!(matches!(
        holes(&shelter(2.0, 2.0, HolePlan::Party(20)), &Cancel::never()),
        Err(PlanningError::HolesTooClose { .. })
    ));
}
