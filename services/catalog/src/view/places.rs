//! Spots, shelters and targets as JSON in SI units.

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, TargetStrength, VolumeStrength};
use planning::domain::{
    BadId, BottomClass, Canopy, CanopyDensity, FishClass, FishLayer, Floor, HolePlan, Id, Point, Position, Relief,
    ReliefKind, Shelter, SphereMaterial, Spot, Target, TargetKind, TargetShape,
};
use serde::{Deserialize, Serialize};

use super::fact::{FactView, names};

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct SpotView {
    id: String,
    display_name: String,
    lake: String,
    notes: String,
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

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct PositionView {
    latitude_deg: f64,
    longitude_deg: f64,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct ReliefView {
    kind: ReliefKindView,
    height_m: f64,
    offset_m: f64,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
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
names!(KindView => TargetKind { Lure, Fish, Reference });
names!(MaterialView => SphereMaterial { TungstenCarbide, Tungsten, Lead, Brass, Steel });
names!(FishView => FishClass { General, ClosedSwimBladder, OpenSwimBladder, Smelt, Vendace, Alewife });

impl From<&Spot> for SpotView {
    fn from(s: &Spot) -> Self {
        Self {
            id: s.id.to_string(),
            display_name: s.display_name.clone(),
            lake: s.lake.clone(),
            notes: s.notes.clone(),
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

impl TryFrom<SpotView> for Spot {
    type Error = BadId;

    fn try_from(v: SpotView) -> Result<Self, BadId> {
        let m = Metres::new;
        let relief = |r: ReliefView| Relief { kind: r.kind.into(), height: m(r.height_m), offset: m(r.offset_m) };
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            lake: v.lake,
            notes: v.notes,
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

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct ShelterView {
    id: String,
    display_name: String,
    notes: String,
    floor: FloorView,
    wall_clearance_m: f64,
    min_ice_web_m: f64,
    hole_radius_m: f64,
    holes: HolesView,
    transducers_recessed: bool,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum FloorView {
    Rectangle { length_m: f64, width_m: f64 },
    Circle { diameter_m: f64 },
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum HolesView {
    Drilled(Vec<(f64, f64)>),
    Party(u32),
}

impl From<&Shelter> for ShelterView {
    fn from(s: &Shelter) -> Self {
        Self {
            id: s.id.to_string(),
            display_name: s.display_name.clone(),
            notes: s.notes.clone(),
            floor: match &s.floor {
                Floor::Rectangle { length, width } => {
                    FloorView::Rectangle { length_m: length.get(), width_m: width.get() }
                }
                Floor::Circle { diameter } => FloorView::Circle { diameter_m: diameter.get() },
            },
            wall_clearance_m: s.wall_clearance.get(),
            min_ice_web_m: s.min_ice_web.get(),
            hole_radius_m: s.hole_radius.get(),
            holes: match &s.holes {
                HolePlan::Drilled(holes) => HolesView::Drilled(holes.iter().map(|h| (h.x.get(), h.y.get())).collect()),
                HolePlan::Party(size) => HolesView::Party(*size),
            },
            transducers_recessed: s.transducers_recessed,
        }
    }
}

impl TryFrom<ShelterView> for Shelter {
    type Error = BadId;

    fn try_from(v: ShelterView) -> Result<Self, BadId> {
        let m = Metres::new;
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            floor: match v.floor {
                FloorView::Rectangle { length_m, width_m } => {
                    Floor::Rectangle { length: m(length_m), width: m(width_m) }
                }
                FloorView::Circle { diameter_m } => Floor::Circle { diameter: m(diameter_m) },
            },
            wall_clearance: m(v.wall_clearance_m),
            min_ice_web: m(v.min_ice_web_m),
            hole_radius: m(v.hole_radius_m),
            holes: match v.holes {
                HolesView::Drilled(holes) => {
                    HolePlan::Drilled(holes.into_iter().map(|(x, y)| Point { x: m(x), y: m(y) }).collect())
                }
                HolesView::Party(size) => HolePlan::Party(size),
            },
            transducers_recessed: v.transducers_recessed,
        })
    }
}

#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct TargetView {
    id: String,
    display_name: String,
    notes: String,
    kind: KindView,
    shape: ShapeView,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum ShapeView {
    KnownDb(FactView),
    Sphere { diameter_m: f64, material: MaterialView },
    Disc { diameter_m: f64 },
    Cylinder { length_m: f64, diameter_m: f64 },
    Fish { length_m: f64, class: FishView },
}

impl From<&Target> for TargetView {
    fn from(t: &Target) -> Self {
        Self {
            id: t.id.to_string(),
            display_name: t.display_name.clone(),
            notes: t.notes.clone(),
            kind: t.kind.into(),
            shape: match t.shape {
                TargetShape::Known(ts) => ShapeView::KnownDb(FactView::of(ts, TargetStrength::get)),
                TargetShape::Sphere { diameter, material } => {
                    ShapeView::Sphere { diameter_m: diameter.get(), material: material.into() }
                }
                TargetShape::Disc { diameter } => ShapeView::Disc { diameter_m: diameter.get() },
                TargetShape::Cylinder { length, diameter } => {
                    ShapeView::Cylinder { length_m: length.get(), diameter_m: diameter.get() }
                }
                TargetShape::Fish { length, class } => ShapeView::Fish { length_m: length.get(), class: class.into() },
            },
        }
    }
}

impl TryFrom<TargetView> for Target {
    type Error = BadId;

    fn try_from(v: TargetView) -> Result<Self, BadId> {
        let m = Metres::new;
        Ok(Self {
            id: Id::parse(&v.id)?,
            display_name: v.display_name,
            notes: v.notes,
            kind: v.kind.into(),
            shape: match v.shape {
                ShapeView::KnownDb(ts) => TargetShape::Known(ts.to(TargetStrength::new)),
                ShapeView::Sphere { diameter_m, material } => {
                    TargetShape::Sphere { diameter: m(diameter_m), material: material.into() }
                }
                ShapeView::Disc { diameter_m } => TargetShape::Disc { diameter: m(diameter_m) },
                ShapeView::Cylinder { length_m, diameter_m } => {
                    TargetShape::Cylinder { length: m(length_m), diameter: m(diameter_m) }
                }
                ShapeView::Fish { length_m, class } => TargetShape::Fish { length: m(length_m), class: class.into() },
            },
        })
    }
}
