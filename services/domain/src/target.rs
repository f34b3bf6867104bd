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
