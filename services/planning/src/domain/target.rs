//! What is looked for: lures and fish.

use acoustics::units::{Metres, TargetStrength};

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

/// Materials of spheres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SphereMaterial {
    /// Tungsten carbide with 6 % cobalt.
    TungstenCarbide,
    /// Tungsten.
    Tungsten,
    /// Lead.
    Lead,
    /// Brass.
    Brass,
    /// Steel.
    Steel,
}

/// Which published regression of target strength on length serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FishClass {
    /// Any fish, dorsal, frequency dependent (Love 1977).
    General,
    /// Fish with a closed swim bladder, such as perch (Foote 1987, physoclists).
    ClosedSwimBladder,
    /// Fish with an open swim bladder, such as whitefish and trout (Foote 1987, clupeoids as a stand-in).
    OpenSwimBladder,
    /// Rainbow smelt (Rudstam et al. 2003).
    Smelt,
    /// Vendace and other small whitefish (Świerzowski and Doroszczyk 2004).
    Vendace,
    /// Alewife (Warner, Rudstam and Klumb 2002).
    Alewife,
}
