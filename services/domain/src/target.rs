//! What is looked for: lures and fish.

use acoustics::units::{Metres, TargetStrength};

pub use acoustics::target::{FishClass, SphereMaterial};

use super::{Fact, Id};

/// A lure, a rig, a fish or a reference target.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// Lure, fish or reference.
    pub kind: TargetKind,
    /// What its target strength comes from.
    pub shape: TargetShape,
}

/// What a target is to the angler.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TargetKind {
    /// On the line.
    Lure,
    /// What is fished for.
    Fish,
    /// A reference target for unit checks and beam surveys.
    Reference,
}

/// What the target strength comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TargetShape {
    /// A known target strength.
    Known(Fact<TargetStrength>),
    /// A solid sphere.
    Sphere {
        /// Diameter.
        diameter: Metres,
        /// Material.
        material: SphereMaterial,
    },
    /// A flat disc seen face on.
    Disc {
        /// Diameter.
        diameter: Metres,
    },
    /// A short cylinder seen broadside.
    Cylinder {
        /// Length.
        length: Metres,
        /// Diameter.
        diameter: Metres,
    },
    /// A fish seen from above.
    Fish {
        /// Total length.
        length: Metres,
        /// Which published regression serves.
        class: FishClass,
    },
}

/// What a target strength comes from, by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Shape {
    /// A known target strength.
    Known,
    /// A solid sphere.
    Sphere,
    /// A flat disc.
    Disc,
    /// A short cylinder.
    Cylinder,
    /// A fish.
    Fish,
}

/// Names of the kinds of targets.
pub const TARGET_KINDS: [(&str, TargetKind); 3] =
    [("lure", TargetKind::Lure), ("fish", TargetKind::Fish), ("reference", TargetKind::Reference)];

/// Names of the shapes of targets.
pub const SHAPES: [(&str, Shape); 5] = [
    ("known", Shape::Known),
    ("sphere", Shape::Sphere),
    ("disc", Shape::Disc),
    ("cylinder", Shape::Cylinder),
    ("fish", Shape::Fish),
];

/// Names of the materials of spheres.
pub const MATERIALS: [(&str, SphereMaterial); 5] = [
    ("tungsten_carbide", SphereMaterial::TungstenCarbide),
    ("tungsten", SphereMaterial::Tungsten),
    ("lead", SphereMaterial::Lead),
    ("brass", SphereMaterial::Brass),
    ("steel", SphereMaterial::Steel),
];

/// Names of the classes of fish.
pub const FISH_CLASSES: [(&str, FishClass); 6] = [
    ("general", FishClass::General),
    ("closed_swim_bladder", FishClass::ClosedSwimBladder),
    ("open_swim_bladder", FishClass::OpenSwimBladder),
    ("smelt", FishClass::Smelt),
    ("vendace", FishClass::Vendace),
    ("alewife", FishClass::Alewife),
];
