//! A spot as a JSON list in SI units. Filters point into the list, so the order of the fields is part of the schema: a new
//! one goes to the end, with a default for the rows that lack it. Inputs of runs from before the sixth migration hold spots as
//! objects, which are read as well.

use std::borrow::Cow;

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};
use domain::{BadId, BottomClass, Canopy, CanopyDensity, FishLayer, Id, Position, Relief, ReliefKind, Spot};
use serde::Deserialize;
use serde_tuple::Serialize_tuple;

#[derive(Debug, Serialize_tuple, Deserialize)]
pub(crate) struct SpotView<'s> {
    id: Cow<'s, str>,
    display_name: Cow<'s, str>,
    lake: Cow<'s, str>,
    notes: Cow<'s, str>,
    position: Option<PositionView>,
    depth_m: f64,
    ice_thickness_m: Option<f64>,
    bottom_class: BottomView,
    slope_rad: f64,
    relief: Vec<ReliefView>,
    canopy: Option<CanopyView>,
    fish_top_m: f64,
    fish_bottom_m: f64,
    fish_per_m3: f64,
    lure_height_m: f64,
    hole_radius_m: f64,
    bottom_temperature_c: f64,
    salinity_g_kg: f64,
    ph: f64,
}

#[derive(Debug, Clone, Copy, Serialize_tuple, Deserialize)]
struct PositionView {
    latitude_deg: f64,
    longitude_deg: f64,
}

#[derive(Debug, Clone, Copy, Serialize_tuple, Deserialize)]
struct ReliefView {
    kind: ReliefKindView,
    height_m: f64,
    offset_m: f64,
}

#[derive(Debug, Clone, Copy, Serialize_tuple, Deserialize)]
struct CanopyView {
    height_m: f64,
    density: DensityView,
    volume_strength_db: Option<f64>,
}

names!(BottomView => BottomClass {
    OrganicOoze, SoftMud, Clay, Silt, FineSand, MediumSand, CoarseSand, Gravel, Cobble, Rock,
});
names!(ReliefKindView => ReliefKind { Boulder, Log });
names!(DensityView => CanopyDensity { Sparse, Moderate, Dense });

impl<'s> From<&'s Spot> for SpotView<'s> {
    fn from(s: &'s Spot) -> Self {
        Self {
            id: s.id.as_str().into(),
            display_name: s.display_name.as_str().into(),
            lake: s.lake.as_str().into(),
            notes: s.notes.as_str().into(),
            position: s.position.map(|p| PositionView { latitude_deg: p.latitude_deg, longitude_deg: p.longitude_deg }),
            depth_m: s.depth.get(),
            ice_thickness_m: s.ice_thickness.map(Metres::get),
            bottom_class: s.bottom.into(),
            slope_rad: s.slope.get(),
            relief: s
                .relief
                .iter()
                .map(|r| ReliefView { kind: r.kind.into(), height_m: r.height.get(), offset_m: r.offset.get() })
                .collect(),
            canopy: s.canopy.map(|c| CanopyView {
                height_m: c.height.get(),
                density: c.density.into(),
                volume_strength_db: c.volume_strength.map(VolumeStrength::get),
            }),
            fish_top_m: s.fish_layer.top.get(),
            fish_bottom_m: s.fish_layer.bottom.get(),
            fish_per_m3: s.fish_layer.per_cubic_metre,
            lure_height_m: s.lure_height.get(),
            hole_radius_m: s.hole_radius.get(),
            bottom_temperature_c: s.bottom_temperature.get(),
            salinity_g_kg: s.salinity.get(),
            ph: s.ph,
        }
    }
}

impl TryFrom<SpotView<'_>> for Spot {
    type Error = BadId;

    fn try_from(v: SpotView<'_>) -> Result<Self, BadId> {
        let m = Metres::new;
        let relief = |r: ReliefView| Relief { kind: r.kind.into(), height: m(r.height_m), offset: m(r.offset_m) };
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name.into_owned(),
            lake: v.lake.into_owned(),
            notes: v.notes.into_owned(),
            position: v.position.map(|p| Position { latitude_deg: p.latitude_deg, longitude_deg: p.longitude_deg }),
            depth: m(v.depth_m),
            ice_thickness: v.ice_thickness_m.map(m),
            bottom: v.bottom_class.into(),
            slope: Angle::new(v.slope_rad),
            relief: v.relief.into_iter().map(relief).collect(),
            canopy: v.canopy.map(|c| Canopy {
                height: m(c.height_m),
                density: c.density.into(),
                volume_strength: c.volume_strength_db.map(VolumeStrength::new),
            }),
            fish_layer: FishLayer { top: m(v.fish_top_m), bottom: m(v.fish_bottom_m), per_cubic_metre: v.fish_per_m3 },
            lure_height: m(v.lure_height_m),
            hole_radius: m(v.hole_radius_m),
            bottom_temperature: Celsius::new(v.bottom_temperature_c),
            salinity: GramsPerKilogram::new(v.salinity_g_kg),
            ph: v.ph,
        })
    }
}
