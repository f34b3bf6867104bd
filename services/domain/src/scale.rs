//! Units that people write, against the canonical ones.
//!
//! Going into the canonical unit rounds, and going back rounds again, so that 33.3 kHz might come back as
//! 33.300000000000004. `from_si` therefore looks for the shortest decimal that leads to the canonical value: what a person
//! wrote comes back as written.

mod written;

pub use written::{scale_of, scale_of_word, words_of};

/// How a figure relates to the canonical unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// As it stands.
    One,
    /// Of hertz.
    Kilohertz,
    /// Of hertz.
    Megahertz,
    /// Of watts.
    Kilowatts,
    /// Of seconds.
    Milliseconds,
    /// Of seconds.
    Microseconds,
    /// Of a fraction.
    Percent,
    /// Of radians.
    Degrees,
    /// Of metres.
    Millimetres,
    /// Of metres.
    Centimetres,
    /// Of metres.
    Feet,
    /// Of metres.
    Inches,
    /// Of degrees Celsius.
    Fahrenheit,
    /// A diameter where a radius is kept.
    DiameterMetres,
    /// A diameter where a radius is kept.
    DiameterCentimetres,
    /// A diameter where a radius is kept.
    DiameterInches,
}

impl Scale {
    /// Into the canonical unit.
    #[must_use]
    pub fn to_si(self, value: f64) -> f64 {
        match self {
            Self::One => value,
            Self::Kilohertz | Self::Kilowatts => value * 1.0e3,
            Self::Megahertz => value * 1.0e6,
            Self::Milliseconds | Self::Millimetres => value * 1.0e-3,
            Self::Microseconds => value * 1.0e-6,
            Self::Percent | Self::Centimetres => value * 1.0e-2,
            Self::Degrees => value.to_radians(),
            // International foot and inch, exact by definition (1959).
            Self::Feet => value * 0.3048,
            Self::Inches => value * 0.0254,
            Self::Fahrenheit => (value - 32.0) / 1.8,
            // Halving is exact.
            Self::DiameterMetres => value * 0.5,
            Self::DiameterCentimetres => value * 1.0e-2 * 0.5,
            Self::DiameterInches => value * 0.0254 * 0.5,
        }
    }

    /// Whether a diameter is written where a radius is kept.
    #[must_use]
    pub const fn is_diameter(self) -> bool {
        matches!(self, Self::DiameterMetres | Self::DiameterCentimetres | Self::DiameterInches)
    }

    /// The unit of a diameter that is written where a radius is kept.
    #[must_use]
    pub const fn of_diameter(self) -> Self {
        match self {
            Self::One => Self::DiameterMetres,
            Self::Centimetres => Self::DiameterCentimetres,
            Self::Inches => Self::DiameterInches,
            other => other,
        }
    }

    /// Out of the canonical unit.
    #[allow(clippy::wrong_self_convention, reason = "the scale is the receiver, as of `to_si`")]
    #[must_use]
    pub fn from_si(self, canonical: f64) -> f64 {
        let near = match self {
            Self::One => return canonical,
            Self::Kilohertz | Self::Kilowatts => canonical / 1.0e3,
            Self::Megahertz => canonical / 1.0e6,
            Self::Milliseconds | Self::Millimetres => canonical * 1.0e3,
            Self::Microseconds => canonical * 1.0e6,
            Self::Percent | Self::Centimetres => canonical * 1.0e2,
            Self::Degrees => canonical.to_degrees(),
            Self::Feet => canonical / 0.3048,
            Self::Inches => canonical / 0.0254,
            Self::Fahrenheit => canonical * 1.8 + 32.0,
            Self::DiameterMetres => canonical * 2.0,
            Self::DiameterCentimetres => canonical * 2.0 * 1.0e2,
            Self::DiameterInches => canonical * 2.0 / 0.0254,
        };
        let leads_back = |value: &f64| self.to_si(*value) == canonical;
        let shortest = format!("{near:.14e}").parse().ok().filter(leads_back);
        shortest.or_else(|| [near, near.next_up(), near.next_down()].into_iter().find(leads_back)).unwrap_or(near)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The units that a writer uses; feet, inches and Fahrenheit are only read.
    const WRITTEN: [Scale; 8] = [
        Scale::One,
        Scale::Kilohertz,
        Scale::Milliseconds,
        Scale::Microseconds,
        Scale::Percent,
        Scale::Degrees,
        Scale::Millimetres,
        Scale::Centimetres,
    ];

    #[test]
    fn feet_inches_and_fahrenheit_follow_their_definitions() {
        for (scale, given, canonical) in [
            (Scale::Feet, 1.0, 0.3048),
            (Scale::Inches, 1.0, 0.0254),
            (Scale::DiameterMetres, 0.2, 0.1),
            (Scale::DiameterInches, 8.0, 8.0 * 0.0254 / 2.0),
            (Scale::Fahrenheit, 32.0, 0.0),
            (Scale::Fahrenheit, 212.0, 100.0),
            (Scale::Fahrenheit, -40.0, -40.0),
        ] {
            assert_eq!(scale.to_si(given), canonical, "{scale:?} {given}");
        }
    }

    #[test]
    fn what_is_not_a_number_stays_so() {
        for scale in WRITTEN {
            assert!(scale.from_si(scale.to_si(f64::NAN)).is_nan());
            assert_eq!(scale.from_si(scale.to_si(f64::INFINITY)), f64::INFINITY);
            assert_eq!(scale.from_si(scale.to_si(0.0)), 0.0);
        }
    }

    proptest! {
        #[test]
        fn decimals_come_back_as_written(digits in -999_999_999_999_i64..1_000_000_000_000, power in 0_i32..12) {
            let written: f64 = format!("{digits}e-{power}").parse().unwrap();
            for scale in WRITTEN {
                prop_assert_eq!(scale.from_si(scale.to_si(written)).to_bits(), written.to_bits(), "{:?}", scale);
            }
        }

        #[test]
        fn any_figure_comes_back_to_the_same_canonical_value(value in -1.0e6_f64..1.0e6) {
            for scale in WRITTEN {
                let canonical = scale.to_si(value);
                prop_assert_eq!(scale.to_si(scale.from_si(canonical)).to_bits(), canonical.to_bits(), "{:?}", scale);
            }
        }
    }
}
