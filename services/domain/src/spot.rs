//! A place on a lake: depth, bottom, slope, cover, fish.

use acoustics::units::{Angle, Celsius, GramsPerKilogram, Metres, VolumeStrength};

pub use acoustics::bottom::BottomClass;
pub use acoustics::cover::CanopyDensity;

use super::{Id, Provenance};

/// A lake spot. Depths run from the transducer face at the underside of the ice.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Lake that the spot is on.
    pub lake: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// WGS 84 position, if known.
    pub position: Option<Position>,
    /// Water depth under the transducer.
    pub depth: Metres,
    /// Ice thickness as reported; shown with the cautions, never judged.
    pub ice_thickness: Option<Metres>,
    /// What the bottom is made of; where that is not known, the class that is assumed in the recorded figures.
    pub bottom: BottomClass,
    /// Where that comes from: assumed where it is not known.
    pub bottom_from: Provenance,
    /// Slope of the bottom plane, 0 for flat.
    pub slope: Angle,
    /// Boulders, logs and the like.
    pub relief: Vec<Relief>,
    /// Plants, if any.
    pub canopy: Option<Canopy>,
    /// Whether nobody knows if plants stand there; there are none in the recorded figures then.
    pub canopy_unknown: bool,
    /// Where the fish are, as depths.
    pub fish_layer: FishLayer,
    /// Height of the lure over the bottom.
    pub lure_height: Metres,
    /// Radius of the hole.
    pub hole_radius: Metres,
    /// Temperature at the bottom.
    pub bottom_temperature: Celsius,
    /// Salinity, 0 for fresh water.
    pub salinity: GramsPerKilogram,
    /// Acidity, used by the absorption model only when there is salt.
    pub ph: f64,
}

/// WGS 84 position in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
}

/// One thing that stands on the bottom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief {
    /// What it is.
    pub kind: ReliefKind,
    /// Height over the bottom.
    pub height: Metres,
    /// Horizontal distance from the point under the hole.
    pub offset: Metres,
}

/// Kinds of relief.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReliefKind {
    /// A boulder.
    Boulder,
    /// A sunken log or crib.
    Log,
}

/// A stand of plants.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Canopy {
    /// Height of the plants over the bottom.
    pub height: Metres,
    /// How dense they stand.
    pub density: CanopyDensity,
    /// Volume backscattering strength, where it is known better than from the class.
    pub volume_strength: Option<VolumeStrength>,
}

/// The layer in which fish are looked for, as depths under the transducer, and how many there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FishLayer {
    /// Upper limit.
    pub top: Metres,
    /// Lower limit.
    pub bottom: Metres,
    /// Fish per cubic metre while a school is under the hole.
    pub per_cubic_metre: f64,
}

/// Names of the classes of bottoms, softest first.
pub const BOTTOM_CLASSES: [(&str, BottomClass); 10] = [
    ("organic_ooze", BottomClass::OrganicOoze),
    ("soft_mud", BottomClass::SoftMud),
    ("clay", BottomClass::Clay),
    ("silt", BottomClass::Silt),
    ("fine_sand", BottomClass::FineSand),
    ("medium_sand", BottomClass::MediumSand),
    ("coarse_sand", BottomClass::CoarseSand),
    ("gravel", BottomClass::Gravel),
    ("cobble", BottomClass::Cobble),
    ("rock", BottomClass::Rock),
];

/// Names of the densities of plants.
pub const DENSITIES: [(&str, CanopyDensity); 3] =
    [("sparse", CanopyDensity::Sparse), ("moderate", CanopyDensity::Moderate), ("dense", CanopyDensity::Dense)];

/// Names of the kinds of relief.
pub const RELIEF_KINDS: [(&str, ReliefKind); 2] = [("boulder", ReliefKind::Boulder), ("log", ReliefKind::Log)];

/// Bottoms in common words, each with the class that it stands for; nothing is given where nobody knows.
pub const BOTTOM_WORDS: [(&str, &str); 22] = [
    ("hard", "gravel"),
    ("sand", "medium_sand"),
    ("sandy", "medium_sand"),
    ("mud", "silt"),
    ("muddy", "silt"),
    ("muck", "soft_mud"),
    ("soft", "soft_mud"),
    ("soft-mud", "soft_mud"),
    ("ooze", "organic_ooze"),
    ("rocky", "rock"),
    ("rocks", "rock"),
    ("stones", "cobble"),
    ("boulders", "rock"),
    ("hart", "gravel"),
    ("schlamm", "silt"),
    ("schlick", "soft_mud"),
    ("fels", "rock"),
    ("kies", "gravel"),
    ("lehm", "clay"),
    ("unknown", ""),
    ("?", ""),
    ("unbekannt", ""),
];
