//! Spots.

use acoustics::units::Metres;
use domain::{BottomClass, CanopyDensity, Fault, Id, Record as _, Relief, ReliefKind, SpotRecord};
use proto::v1;

use super::Reading;

/// Reads a spot.
pub(crate) fn from(id: Id, message: v1::Spot) -> Result<SpotRecord, Vec<Fault>> {
    let mut reading = Reading::default();
    let density = |density| match density {
        v1::CanopyDensity::Unspecified => None,
        v1::CanopyDensity::Sparse => Some(CanopyDensity::Sparse),
        v1::CanopyDensity::Moderate => Some(CanopyDensity::Moderate),
        v1::CanopyDensity::Dense => Some(CanopyDensity::Dense),
    };
    let canopy = message.canopy;
    let spot = SpotRecord {
        id,
        latitude_deg: message.latitude_deg,
        longitude_deg: message.longitude_deg,
        // It has no presence in the protocol: 0 says nothing.
        depth_m: (message.depth_m != 0.0).then_some(message.depth_m),
        ice_thickness_m: message.ice_thickness_m,
        bottom_class: reading.optional_choice(
            "bottom_class",
            message.bottom_class,
            bottom,
            v1::BottomClass::as_str_name,
        ),
        slope_deg: message.slope_deg,
        relief: relief(&mut reading, &message.relief),
        canopy_height_m: canopy.map(|canopy| canopy.height_m),
        canopy_density: canopy.and_then(|canopy| {
            reading.optional_choice("canopy.density", canopy.density, density, v1::CanopyDensity::as_str_name)
        }),
        canopy_volume_strength_db: canopy.and_then(|canopy| canopy.volume_strength_db),
        fish_layer_top_m: message.fish_layer_top_m,
        fish_layer_bottom_m: message.fish_layer_bottom_m,
        fish_per_m3: message.fish_per_m3,
        lure_height_m: message.lure_height_m,
        hole_radius_m: message.hole_radius_m,
        bottom_temperature_c: message.bottom_temperature_c,
        salinity_g_kg: message.salinity_g_kg,
        ph: message.ph,
        canopy_unknown: message.canopy_unknown,
        display_name: message.display_name,
        lake: message.lake,
        label: message.label,
        notes: message.notes,
    };
    reading.finish(spot, SpotRecord::check)
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
pub(crate) fn to(spot: &SpotRecord) -> v1::Spot {
    let density = |density| match density {
        CanopyDensity::Sparse => v1::CanopyDensity::Sparse,
        CanopyDensity::Moderate => v1::CanopyDensity::Moderate,
        CanopyDensity::Dense => v1::CanopyDensity::Dense,
    };
    let canopy = |height_m| v1::Canopy {
        height_m,
        density: spot.canopy_density.map_or(v1::CanopyDensity::Unspecified, density).into(),
        volume_strength_db: spot.canopy_volume_strength_db,
    };
    v1::Spot {
        name: format!("spots/{}", spot.id),
        display_name: spot.display_name.clone(),
        lake: spot.lake.clone(),
        label: spot.label.clone(),
        notes: spot.notes.clone(),
        latitude_deg: spot.latitude_deg,
        longitude_deg: spot.longitude_deg,
        depth_m: spot.depth_m.unwrap_or(0.0),
        ice_thickness_m: spot.ice_thickness_m,
        bottom_class: spot.bottom_class.map_or(v1::BottomClass::Unspecified, bottom_to).into(),
        slope_deg: spot.slope_deg,
        relief: spot.relief.iter().map(relief_to).collect(),
        canopy: spot.canopy_height_m.map(canopy),
        fish_layer_top_m: spot.fish_layer_top_m,
        fish_layer_bottom_m: spot.fish_layer_bottom_m,
        fish_per_m3: spot.fish_per_m3,
        lure_height_m: spot.lure_height_m,
        hole_radius_m: spot.hole_radius_m,
        bottom_temperature_c: spot.bottom_temperature_c,
        salinity_g_kg: spot.salinity_g_kg,
        ph: spot.ph,
        canopy_unknown: spot.canopy_unknown,
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
