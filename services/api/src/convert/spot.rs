//! Spots.

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};
use domain::{
    BottomClass, Canopy, CanopyDensity, Fault, FaultReason, FishLayer, Id, Position, Relief, ReliefKind, Spot, defaults,
};
use proto::v1;

use super::Reading;
use domain::scale::Scale as Unit;

/// Reads a spot; left-out fields take the defaults that the protocol states.
pub(crate) fn from(id: Id, message: v1::Spot) -> Result<Spot, Vec<Fault>> {
    let mut reading = Reading::default();
    let depth = Metres::new(message.depth_m);
    let usual = usual(depth);
    let layer = defaults::fish_layer(usual);
    let metres = |given: Option<f64>, default: Metres| given.map_or(default, Metres::new);
    let spot = Spot {
        id,
        position: position(&mut reading, message.latitude_deg, message.longitude_deg),
        depth,
        ice_thickness: message.ice_thickness_m.map(Metres::new),
        bottom: reading
            .choice("bottom_class", message.bottom_class, bottom, v1::BottomClass::as_str_name)
            .unwrap_or(BottomClass::Silt),
        slope: Angle::new(Unit::Degrees.to_si(message.slope_deg)),
        relief: relief(&mut reading, &message.relief),
        canopy: message.canopy.map(|canopy| read_canopy(&mut reading, canopy)),
        fish_layer: FishLayer {
            top: metres(message.fish_layer_top_m, layer.top),
            bottom: metres(message.fish_layer_bottom_m, layer.bottom),
            per_cubic_metre: message.fish_per_m3.unwrap_or(layer.per_cubic_metre),
        },
        lure_height: metres(message.lure_height_m, defaults::lure_height(usual)),
        hole_radius: metres(message.hole_radius_m, defaults::HOLE_RADIUS),
        bottom_temperature: message.bottom_temperature_c.map_or(defaults::BOTTOM_TEMPERATURE, Celsius::new),
        salinity: message.salinity_g_kg.map_or(defaults::SALINITY, GramsPerKilogram::new),
        ph: message.ph.unwrap_or(defaults::PH),
        display_name: message.display_name,
        lake: message.lake,
        notes: message.notes,
    };
    if message.depth_m == 0.0 {
        reading.missing("depth_m", "give the depth of the water in metres");
    }
    reading.finish(spot, Spot::check)
}

/// The depth that defaults go by: where it is refused anyway, it must not make the defaults absurd, or a caller would be
/// told of faults in fields that were not given.
fn usual(depth: Metres) -> Metres {
    let metres = depth.get();
    Metres::new(if metres.is_nan() { 1.0 } else { metres.clamp(0.01, 200.0) })
}

fn position(reading: &mut Reading, latitude: Option<f64>, longitude: Option<f64>) -> Option<Position> {
    match (latitude, longitude) {
        (Some(latitude_deg), Some(longitude_deg)) => Some(Position { latitude_deg, longitude_deg }),
        (None, None) => None,
        (given, _) => {
            let (lacks, has) =
                if given.is_some() { ("longitude_deg", "latitude_deg") } else { ("latitude_deg", "longitude_deg") };
            let message = format!("{lacks} is left out while {has} is given; give both or neither");
            reading.refuse(lacks, FaultReason::Contradiction, message);
            None
        }
    }
}

fn relief(reading: &mut Reading, given: &[v1::Relief]) -> Vec<Relief> {
    let read = |kind| match kind {
        v1::ReliefKind::Unspecified => None,
        v1::ReliefKind::Boulder => Some(ReliefKind::Boulder),
        v1::ReliefKind::Log => Some(ReliefKind::Log),
    };
    given
        .iter()
        .enumerate()
        .map(|(index, relief)| Relief {
            kind: reading
                .choice(&format!("relief[{index}].kind"), relief.kind, read, v1::ReliefKind::as_str_name)
                .unwrap_or(ReliefKind::Boulder),
            height: Metres::new(relief.height_m),
            offset: Metres::new(relief.offset_m),
        })
        .collect()
}

fn read_canopy(reading: &mut Reading, canopy: v1::Canopy) -> Canopy {
    let read = |density| match density {
        v1::CanopyDensity::Unspecified => None,
        v1::CanopyDensity::Sparse => Some(CanopyDensity::Sparse),
        v1::CanopyDensity::Moderate => Some(CanopyDensity::Moderate),
        v1::CanopyDensity::Dense => Some(CanopyDensity::Dense),
    };
    Canopy {
        height: Metres::new(canopy.height_m),
        density: reading
            .choice("canopy.density", canopy.density, read, v1::CanopyDensity::as_str_name)
            .unwrap_or(CanopyDensity::Moderate),
        volume_strength: canopy.volume_strength_db.map(VolumeStrength::new),
    }
}

pub(crate) fn bottom(class: v1::BottomClass) -> Option<BottomClass> {
    Some(match class {
        v1::BottomClass::Unspecified => return None,
        v1::BottomClass::OrganicOoze => BottomClass::OrganicOoze,
        v1::BottomClass::SoftMud => BottomClass::SoftMud,
        v1::BottomClass::Clay => BottomClass::Clay,
        v1::BottomClass::Silt => BottomClass::Silt,
        v1::BottomClass::FineSand => BottomClass::FineSand,
        v1::BottomClass::MediumSand => BottomClass::MediumSand,
        v1::BottomClass::CoarseSand => BottomClass::CoarseSand,
        v1::BottomClass::Gravel => BottomClass::Gravel,
        v1::BottomClass::Cobble => BottomClass::Cobble,
        v1::BottomClass::Rock => BottomClass::Rock,
    })
}

pub(crate) fn bottom_to(class: BottomClass) -> v1::BottomClass {
    match class {
        BottomClass::OrganicOoze => v1::BottomClass::OrganicOoze,
        BottomClass::SoftMud => v1::BottomClass::SoftMud,
        BottomClass::Clay => v1::BottomClass::Clay,
        BottomClass::Silt => v1::BottomClass::Silt,
        BottomClass::FineSand => v1::BottomClass::FineSand,
        BottomClass::MediumSand => v1::BottomClass::MediumSand,
        BottomClass::CoarseSand => v1::BottomClass::CoarseSand,
        BottomClass::Gravel => v1::BottomClass::Gravel,
        BottomClass::Cobble => v1::BottomClass::Cobble,
        BottomClass::Rock => v1::BottomClass::Rock,
    }
}

/// Writes a spot, without what the store knows of it.
pub(crate) fn to(spot: &Spot) -> v1::Spot {
    v1::Spot {
        name: format!("spots/{}", spot.id),
        display_name: spot.display_name.clone(),
        lake: spot.lake.clone(),
        notes: spot.notes.clone(),
        latitude_deg: spot.position.map(|position| position.latitude_deg),
        longitude_deg: spot.position.map(|position| position.longitude_deg),
        depth_m: spot.depth.get(),
        ice_thickness_m: spot.ice_thickness.map(Metres::get),
        bottom_class: bottom_to(spot.bottom).into(),
        slope_deg: Unit::Degrees.from_si(spot.slope.get()),
        relief: spot.relief.iter().map(relief_to).collect(),
        canopy: spot.canopy.as_ref().map(canopy_to),
        fish_layer_top_m: Some(spot.fish_layer.top.get()),
        fish_layer_bottom_m: Some(spot.fish_layer.bottom.get()),
        fish_per_m3: Some(spot.fish_layer.per_cubic_metre),
        lure_height_m: Some(spot.lure_height.get()),
        hole_radius_m: Some(spot.hole_radius.get()),
        bottom_temperature_c: Some(spot.bottom_temperature.get()),
        salinity_g_kg: Some(spot.salinity.get()),
        ph: Some(spot.ph),
        etag: String::new(),
        create_time: None,
        update_time: None,
    }
}

fn relief_to(relief: &Relief) -> v1::Relief {
    let kind = match relief.kind {
        ReliefKind::Boulder => v1::ReliefKind::Boulder,
        ReliefKind::Log => v1::ReliefKind::Log,
    };
    v1::Relief { kind: kind.into(), height_m: relief.height.get(), offset_m: relief.offset.get() }
}

fn canopy_to(canopy: &Canopy) -> v1::Canopy {
    let density = match canopy.density {
        CanopyDensity::Sparse => v1::CanopyDensity::Sparse,
        CanopyDensity::Moderate => v1::CanopyDensity::Moderate,
        CanopyDensity::Dense => v1::CanopyDensity::Dense,
    };
    v1::Canopy {
        height_m: canopy.height.get(),
        density: density.into(),
        volume_strength_db: canopy.volume_strength.map(VolumeStrength::get),
    }
}
