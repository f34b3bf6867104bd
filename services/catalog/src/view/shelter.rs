//! A shelter as JSON in SI units.

use acoustics::units::Metres;
use domain::{BadId, Floor, HolePlan, Id, Point, Shelter};
use serde::{Deserialize, Serialize};

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
