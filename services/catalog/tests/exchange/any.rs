//! Any sound spot.

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};
use domain::{
    BottomClass, Canopy, CanopyDensity, FishLayer, Id, Position, Provenance, Relief, ReliefKind, Spot, SpotRecord,
    defaults,
};
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

pub(crate) fn an_id() -> impl Strategy<Value = Id> {
    "[a-z]([a-z0-9-]{0,20}[a-z0-9])?".prop_map(|text| Id::parse(&text).unwrap())
}

/// One line, without blanks around it: with what XML, CSV and JSON use for themselves, and letters of any script.
pub(crate) fn line() -> impl Strategy<Value = String> {
    "[A-Za-z0-9äøЖ魚🎣<>&\"',;|=\\]{}%#\u{fffd}()][A-Za-z0-9äøЖ魚🎣<>&\"',;|= \\]{}%#()-]{0,30}[A-Za-z0-9<>&\"'\\]ø魚]"
}

/// Several lines.
pub(crate) fn notes() -> impl Strategy<Value = String> {
    (vec(line(), 0..4), select(vec!["\n", "\r\n", "\t", "\r"])).prop_map(|(lines, end)| lines.join(end))
}

fn bottom() -> impl Strategy<Value = BottomClass> {
    select(vec![
        BottomClass::OrganicOoze,
        BottomClass::SoftMud,
        BottomClass::Clay,
        BottomClass::Silt,
        BottomClass::FineSand,
        BottomClass::MediumSand,
        BottomClass::CoarseSand,
        BottomClass::Gravel,
        BottomClass::Cobble,
        BottomClass::Rock,
    ])
}

fn canopy() -> impl Strategy<Value = Canopy> {
    let density = select(vec![CanopyDensity::Sparse, CanopyDensity::Moderate, CanopyDensity::Dense]);
    (0.01..0.5_f64, density, of(-80.0..0.0_f64)).prop_map(|(height, density, strength)| Canopy {
        height: Metres::new(height),
        density,
        volume_strength: strength.map(VolumeStrength::new),
    })
}

fn relief() -> impl Strategy<Value = Vec<Relief>> {
    let one = (select(vec![ReliefKind::Boulder, ReliefKind::Log]), 0.01..0.5_f64, 0.0..100.0_f64);
    vec(
        one.prop_map(|(kind, height, offset)| Relief {
            kind,
            height: Metres::new(height),
            offset: Metres::new(offset),
        }),
        0..5,
    )
}

/// Any sound spot, of any depth, with or without a position.
pub(crate) fn a_spot() -> impl Strategy<Value = SpotRecord> {
    let texts = (an_id(), line(), line(), notes());
    let place = of((-90.0..=90.0_f64, -180.0..=180.0_f64));
    let water = (0.0..30.0_f64, 0.0..40.0_f64, 6.0..9.5_f64);
    let hole = (0.05..0.5_f64, of(0.0..3.0_f64), 0.0..1.0_f64);
    (texts, place, 0.5..200.0_f64, bottom(), 0.0..60.0_f64, relief(), of(canopy()), water, hole)
        .prop_map(|((id, display_name, lake, notes), place, depth, bottom, slope, relief, canopy, water, hole)| Spot {
            id,
            display_name,
            lake,
            notes,
            position: place.map(|(latitude_deg, longitude_deg)| Position { latitude_deg, longitude_deg }),
            depth: Metres::new(depth),
            ice_thickness: hole.1.map(Metres::new),
            bottom,
            bottom_from: if hole.2 < 0.2 { Provenance::Assumed } else { Provenance::Stated },
            slope: Angle::from_degrees(slope),
            relief: relief.into_iter().filter(|relief| relief.height.get() < depth).collect(),
            canopy,
            canopy_unknown: canopy.is_none() && hole.2 < 0.4,
            fish_layer: FishLayer {
                top: Metres::new(depth * 0.4 * hole.2),
                bottom: Metres::new(depth * (0.5 + 0.5 * hole.2)),
                per_cubic_metre: hole.2 * 3.0,
            },
            lure_height: defaults::lure_height(Metres::new(depth)),
            hole_radius: Metres::new(hole.0),
            bottom_temperature: Celsius::new(water.0),
            salinity: GramsPerKilogram::new(water.1),
            ph: water.2,
        })
        .prop_map(|spot| SpotRecord { label: spot.id.to_string(), ..SpotRecord::from(&spot) })
}

/// Spots that each have their own id.
pub(crate) fn spots() -> impl Strategy<Value = Vec<SpotRecord>> {
    vec(a_spot(), 0..12).prop_map(|mut spots| {
        spots.sort_by(|a, b| a.id.cmp(&b.id));
        spots.dedup_by(|a, b| a.id == b.id);
        spots
    })
}
