//! Units of the protocol against the canonical ones: kHz, ms, µs, per cent, degrees, mm, cm.
//!
//! Going into the canonical unit rounds, and going back rounds again, so that 33.3 kHz might come back as
//! 33.300000000000004. `back` therefore looks for the shortest decimal that leads to the stored value: what a person
//! wrote comes back as written.

/// One unit of the protocol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Kilohertz,
    Milliseconds,
    Microseconds,
    Percent,
    Degrees,
    Millimetres,
    Centimetres,
}

impl Unit {
    /// Into the canonical unit.
    pub(crate) fn to_si(self, value: f64) -> f64 {
        match self {
            Self::Kilohertz => value * 1.0e3,
            Self::Milliseconds | Self::Millimetres => value * 1.0e-3,
            Self::Microseconds => value * 1.0e-6,
            Self::Percent | Self::Centimetres => value * 1.0e-2,
            Self::Degrees => value.to_radians(),
        }
    }

    /// Out of the canonical unit.
    #[allow(clippy::wrong_self_convention, reason = "the scale is the receiver, as of `to_si`")]
    pub(crate) fn from_si(self, canonical: f64) -> f64 {
        let near = match self {
            Self::Kilohertz => canonical / 1.0e3,
            Self::Milliseconds | Self::Millimetres => canonical * 1.0e3,
            Self::Microseconds => canonical * 1.0e6,
            Self::Percent | Self::Centimetres => canonical * 1.0e2,
            Self::Degrees => canonical.to_degrees(),
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

    const ALL: [Unit; 7] = [
        Unit::Kilohertz,
        Unit::Milliseconds,
        Unit::Microseconds,
        Unit::Percent,
        Unit::Degrees,
        Unit::Millimetres,
        Unit::Centimetres,
    ];

    #[test]
    fn what_is_not_a_number_stays_so() {
        for unit in ALL {
            assert!(unit.from_si(unit.to_si(f64::NAN)).is_nan());
            assert_eq!(unit.from_si(unit.to_si(f64::INFINITY)), f64::INFINITY);
            assert_eq!(unit.from_si(unit.to_si(0.0)), 0.0);
        }
    }

    proptest! {
        #[test]
        fn decimals_come_back_as_written(digits in -999_999_999_999_i64..1_000_000_000_000, power in 0_i32..12) {
            let written: f64 = format!("{digits}e-{power}").parse().unwrap();
            for unit in ALL {
                prop_assert_eq!(unit.from_si(unit.to_si(written)).to_bits(), written.to_bits(), "{:?}", unit);
            }
        }

        #[test]
        fn any_number_comes_back_to_the_same_canonical_value(value in -1.0e6_f64..1.0e6) {
            for unit in ALL {
                let canonical = unit.to_si(value);
                prop_assert_eq!(unit.to_si(unit.from_si(canonical)).to_bits(), canonical.to_bits(), "{:?}", unit);
            }
        }
    }
}
