//! Beam patterns: never over the axis nor under the floor, edges that widen with the drop, widths as stated.

use acoustics::pattern::{Aperture, Pattern, Pchip, Plane};
use acoustics::units::{Angle, Beamwidth, Db, FullAngle, HalfAngle, Metres, WidthLevel};
use arbitrary::{Result, Unstructured};

use crate::fuzz::bytes::{bounded, inside, number, refusal, two};

/// Slack of figures that come out of tables of decibels.
const SLACK: f64 = 1e-9;

fn width(input: &mut Unstructured<'_>) -> Result<Beamwidth> {
    let at = if input.arbitrary()? { WidthLevel::Minus3 } else { WidthLevel::Minus10 };
    Ok(Beamwidth { full: FullAngle::from_degrees(number(input, 0.5, 181.0)?), at })
}

pub(super) fn aperture(input: &mut Unstructured<'_>) -> Result<()> {
    let first = width(input)?;
    let (shape, stated) = match input.int_in_range(0..=2)? {
        0 => (Aperture::CircularPiston { beamwidth: first }, Some(first)),
        1 => {
            let peak_side_lobe = Db::new(number(input, -41.0, -19.0)?);
            (Aperture::ShadedCircular { beamwidth: first, peak_side_lobe }, Some(first))
        }
        _ => (Aperture::Rectangular { along: first, across: width(input)? }, None),
    };
    judged(&shape, Db::new(number(input, -81.0, -9.0)?), stated, input)
}

pub(super) fn table(input: &mut Unstructured<'_>) -> Result<()> {
    let mut points = vec![(HalfAngle::new(0.0), Db::new(0.0))];
    let mut angle = 0.0;
    for _ in 0..input.int_in_range(1..=12)? {
        angle += number(input, 0.0, 20.0)?;
        points.push((HalfAngle::from_degrees(angle), Db::new(number(input, -80.0, 0.0)?)));
    }
    let raw: Vec<_> = points.iter().map(|(angle, level)| (angle.get(), level.get())).collect();
    match Pchip::new(&raw) {
        Err(error) => refusal(&error),
        Ok(curve) => between_its_points(&curve, &raw, input)?,
    }
    judged(&Aperture::Tabulated { points }, Db::new(number(input, -81.0, -9.0)?), None, input)
}

/// A monotone cubic stays between the two points around it.
fn between_its_points(curve: &Pchip, points: &[(f64, f64)], input: &mut Unstructured<'_>) -> Result<()> {
    for pair in points.windows(2) {
        let [(x0, y0), (x1, y1)] = pair else { continue };
        let x = inside(input, *x0, *x1)?;
        let y = curve.at(x);
        assert!(y.is_some(), "no value at {x} inside the table");
        let slack = SLACK * (1.0 + y0.abs().max(y1.abs()));
        bounded("a level between two points", y.unwrap_or(f64::NAN), y0.min(*y1) - slack, y0.max(*y1) + slack);
    }
    if let (Some(first), Some(last)) = (points.first(), points.last()) {
        assert_eq!(curve.at(first.0.next_down()), None);
        assert_eq!(curve.at(last.0.next_up()), None);
    }
    Ok(())
}

fn judged(shape: &Aperture, floor: Db, stated: Option<Beamwidth>, input: &mut Unstructured<'_>) -> Result<()> {
    let pattern = match Pattern::new(shape, floor) {
        Ok(pattern) => pattern,
        Err(error) => {
            refusal(&error);
            return Ok(());
        }
    };
    assert_eq!(pattern.floor(), floor);
    let hemisphere = 2.0 * std::f64::consts::PI;
    bounded("an equivalent beam angle", pattern.equivalent_beam_angle().get(), f64::MIN_POSITIVE, hemisphere);
    // A pattern that fills the hemisphere has an index of 3.01 dB, one that fills a cone of 1° one of 47.2 dB; side lobes lower it.
    bounded("a directivity index", pattern.directivity_index().get(), 3.0, 55.0);
    for _ in 0..8 {
        let (angle, azimuth) = (HalfAngle::from_degrees(inside(input, 0.0, 90.0)?), inside(input, 0.0, 360.0)?);
        bounded("a level of a pattern", pattern.level(angle).get(), floor.get() - SLACK, SLACK);
        let towards = pattern.level_towards(angle, Angle::from_degrees(azimuth)).get();
        bounded("a level of a pattern", towards, floor.get() - SLACK, SLACK);
    }
    for plane in [pattern.along(), pattern.across(), pattern.mean_plane()] {
        of_plane(plane, floor, input)?;
    }
    assert!(pattern.widest().reference_sine() >= pattern.narrowest().reference_sine());
    if let Some(stated) = stated
        && floor < stated.at.db()
    {
        // Edges end at 80° on each side.
        let width = pattern.width(stated.at).to_degrees();
        let wanted = stated.full.to_degrees().min(160.0);
        bounded("a width", width, wanted * 0.995 - 0.01, wanted * 1.005 + 0.01);
    }
    if let Some((angle, level)) = pattern.first_side_lobe() {
        bounded("the angle of a side lobe", angle.to_degrees(), 0.0, 90.0);
        bounded("the level of a side lobe", level.get(), floor.get(), 0.0);
    }
    if let Some(null) = pattern.null_to_null() {
        bounded("the angle between nulls", null.to_degrees(), 0.0, 180.0);
    }
    for (from, to) in pattern.side_lobe_intervals(Db::new(inside(input, 0.0, 80.0)?)) {
        assert!(from <= to, "an interval from {from:?} to {to:?}");
        bounded("the end of a side lobe", to.to_degrees(), 0.0, 90.0);
    }
    if let Some(distance) = pattern.rayleigh_distance(Metres::new(inside(input, 1e-4, 0.15)?)) {
        bounded("a Rayleigh distance", distance.get(), f64::MIN_POSITIVE, 1e4);
    }
    Ok(())
}

/// One plane: edges widen with the drop, and the level at an edge is the drop.
fn of_plane(plane: &Plane, floor: Db, input: &mut Unstructured<'_>) -> Result<()> {
    let (less, more) = two(input, -10.0, 90.0)?;
    let scale = inside(input, 0.5, 2.0)?;
    let (near, far) = (plane.edge_sine(less, scale), plane.edge_sine(more, scale));
    bounded("the sine of an edge", near, 0.0, 0.984_807_753_012_209);
    assert!(near <= far, "the edge at {less} dB lies at {near}, that at {more} dB at {far}");
    let sine = inside(input, 0.0, 1.0)?;
    bounded("a level of a plane", plane.level(sine, scale), floor.get() - SLACK, SLACK);
    bounded("a power of a plane", plane.power(sine), 0.0, 1.0 + SLACK);
    Ok(())
}
