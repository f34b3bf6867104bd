//! Quantities: one newtype each, in one canonical unit, so that a level cannot be added to a level and a half angle
//! cannot stand for a full one. Raw `f64` lives inside function bodies only.
//!
//! ```compile_fail
//! use acoustics::units::{Level, Db};
//! let _ = Level::new(200.0) + Level::new(3.0); // level + level has no meaning
//! ```
//! ```compile_fail
//! use acoustics::units::{FullAngle, HalfAngle};
//! fn edge(_: HalfAngle) {}
//! edge(FullAngle::from_degrees(12.0)); // a beamwidth is not a half angle
//! ```
//! ```compile_fail
//! use acoustics::units::{Db, Metres};
//! let _: Metres = Db::new(3.0); // units do not mix
//! ```

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// Declares a quantity: a transparent `f64` in the named canonical unit, ordered, with `new` and `get`.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            /// Wraps a value that is already in the canonical unit.
            #[must_use]
            pub const fn new(value: f64) -> Self {
                Self(value)
            }

            /// The value in the canonical unit.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }
    };
}

/// Adds the arithmetic of a quantity that forms a vector space: sums, differences and scaling by a number.
macro_rules! linear {
    ($name:ident) => {
        impl Add for $name {
            type Output = Self;
            fn add(self, rhs: Self) -> Self {
                Self(self.0 + rhs.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, rhs: Self) -> Self {
                Self(self.0 - rhs.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, rhs: f64) -> Self {
                Self(self.0 * rhs)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, rhs: f64) -> Self {
                Self(self.0 / rhs)
            }
        }
        /// The ratio of two like quantities is a plain number.
        impl Div for $name {
            type Output = f64;
            fn div(self, rhs: Self) -> f64 {
                self.0 / rhs.0
            }
        }
    };
}

quantity!(
    /// Length in metres.
    Metres
);
linear!(Metres);
quantity!(
    /// Time in seconds.
    Seconds
);
linear!(Seconds);
quantity!(
    /// Frequency in hertz.
    Hertz
);
linear!(Hertz);
quantity!(
    /// Speed in metres per second.
    MetresPerSecond
);
linear!(MetresPerSecond);
quantity!(
    /// Temperature in degrees Celsius (ITS-90).
    Celsius
);
quantity!(
    /// Absolute salinity in grams per kilogram.
    GramsPerKilogram
);
quantity!(
    /// Mass density in kilograms per cubic metre.
    KilogramsPerCubicMetre
);
quantity!(
    /// Power in watts.
    Watts
);
quantity!(
    /// Solid angle in steradians.
    Steradians
);
quantity!(
    /// A direction or a slope, in radians.
    Angle
);
linear!(Angle);
quantity!(
    /// Angle from the beam axis to an edge, in radians.
    HalfAngle
);
quantity!(
    /// Angle from edge to edge across the axis, in radians.
    FullAngle
);
quantity!(
    /// A gain, a loss or a difference of levels, in decibels.
    Db
);
linear!(Db);
quantity!(
    /// A sound pressure level at the receiver, in dB re 1 µPa (ISO 18405, mean-square sound pressure level).
    Level
);
quantity!(
    /// A source level, in dB re 1 µPa m (ISO 18405).
    SourceLevel
);
quantity!(
    /// Target strength, in dB re 1 m² (ISO 18405, reported here as 10 lg of the differential backscattering cross-section).
    TargetStrength
);
quantity!(
    /// Seabed (here lakebed) backscattering strength per unit area, S_b, in dB.
    SurfaceStrength
);
quantity!(
    /// Volume backscattering strength, S_v, in dB re 1 m⁻¹.
    VolumeStrength
);
quantity!(
    /// Absorption coefficient, in dB per metre.
    DbPerMetre
);

impl Angle {
    /// From degrees at the edge of the program.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }
    /// To degrees for people.
    #[must_use]
    pub fn to_degrees(self) -> f64 {
        self.0.to_degrees()
    }
}

impl HalfAngle {
    /// From degrees at the edge of the program.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }
    /// To degrees for people.
    #[must_use]
    pub fn to_degrees(self) -> f64 {
        self.0.to_degrees()
    }
    /// The full angle twice this half angle.
    #[must_use]
    pub fn full(self) -> FullAngle {
        FullAngle(2.0 * self.0)
    }
}

impl FullAngle {
    /// From degrees at the edge of the program.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }
    /// To degrees for people.
    #[must_use]
    pub fn to_degrees(self) -> f64 {
        self.0.to_degrees()
    }
    /// Half of this full angle.
    #[must_use]
    pub fn half(self) -> HalfAngle {
        HalfAngle(0.5 * self.0)
    }
}

impl Neg for Db {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl AddAssign for Db {
    fn add_assign(&mut self, rhs: Self) {
        self.0 += rhs.0;
    }
}

/// Levels shift by decibels and differ by decibels; they do not add.
macro_rules! level {
    ($name:ident) => {
        impl Add<Db> for $name {
            type Output = Self;
            fn add(self, rhs: Db) -> Self {
                Self(self.0 + rhs.0)
            }
        }
        impl Sub<Db> for $name {
            type Output = Self;
            fn sub(self, rhs: Db) -> Self {
                Self(self.0 - rhs.0)
            }
        }
        impl Sub for $name {
            type Output = Db;
            fn sub(self, rhs: Self) -> Db {
                Db(self.0 - rhs.0)
            }
        }
    };
}
level!(Level);
level!(SourceLevel);
level!(TargetStrength);
level!(SurfaceStrength);
level!(VolumeStrength);

impl Hertz {
    /// From kilohertz, the trade's unit.
    #[must_use]
    pub fn from_khz(khz: f64) -> Self {
        Self(khz * 1.0e3)
    }
    /// To kilohertz.
    #[must_use]
    pub fn to_khz(self) -> f64 {
        self.0 * 1.0e-3
    }
}

impl Seconds {
    /// From microseconds, the usual unit of pulse length.
    #[must_use]
    pub fn from_micros(us: f64) -> Self {
        Self(us * 1.0e-6)
    }
    /// To microseconds.
    #[must_use]
    pub fn to_micros(self) -> f64 {
        self.0 * 1.0e6
    }
}

/// The level at which a beamwidth is stated, one-way, relative to the axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WidthLevel {
    /// −3 dB one-way (half power).
    Minus3,
    /// −6 dB one-way.
    Minus6,
    /// −10 dB one-way.
    Minus10,
}

impl WidthLevel {
    /// The level relative to the axis.
    #[must_use]
    pub const fn db(self) -> Db {
        match self {
            Self::Minus3 => Db::new(-3.0),
            Self::Minus6 => Db::new(-6.0),
            Self::Minus10 => Db::new(-10.0),
        }
    }
}

/// A stated beamwidth: a full angle and the one-way level it was measured at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beamwidth {
    /// Edge to edge.
    pub full: FullAngle,
    /// The one-way level at the edges.
    pub at: WidthLevel,
}
