//! A target as JSON in SI units.

use acoustics::units::{Metres, TargetStrength};
use domain::{BadId, FishClass, Id, SphereMaterial, Target, TargetKind, TargetShape};
use serde::{Deserialize, Serialize};

use super::fact::FactView;

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
    Known(FactView),
    Sphere { diameter_m: f64, material: MaterialView },
    Disc { diameter_m: f64 },
    Cylinder { length_m: f64, diameter_m: f64 },
    Fish { length_m: f64, class: FishView },
}

names!(KindView => TargetKind { Lure, Fish, Reference });
names!(MaterialView => SphereMaterial { TungstenCarbide, Tungsten, Lead, Brass, Steel });
names!(FishView => FishClass { General, ClosedSwimBladder, OpenSwimBladder, Smelt, Vendace, Alewife });

impl From<&Target> for TargetView {
    fn from(t: &Target) -> Self {
        Self {
            id: t.id.to_string(),
            display_name: t.display_name.clone(),
            notes: t.notes.clone(),
            kind: t.kind.into(),
            shape: match t.shape {
                TargetShape::Known(ts) => ShapeView::Known(FactView::of(ts, TargetStrength::get)),
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
                ShapeView::Known(ts) => TargetShape::Known(ts.to(TargetStrength::new)),
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
