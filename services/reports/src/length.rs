//! Lengths in the reader's unit.

use acoustics::units::Metres;

use crate::wording::{LengthUnit, Wording};

/// Metres in an international foot (exact, 1959 agreement).
const FOOT: f64 = 0.3048;

impl Wording<'_> {
    /// The plain number in the reader's unit, for drawing.
    pub(crate) fn value(self, length: Metres) -> f64 {
        match self.length_unit {
            LengthUnit::Metres => length.get(),
            LengthUnit::Feet => length.get() / FOOT,
        }
    }

    /// `3.2 m` or `10.5 ft`.
    pub(crate) fn text(self, length: Metres) -> String {
        match self.length_unit {
            LengthUnit::Metres => self.in_metres(length),
            LengthUnit::Feet => self.in_feet(length),
        }
    }

    /// Name of the unit.
    pub(crate) const fn unit(self) -> &'static str {
        match self.length_unit {
            LengthUnit::Metres => "m",
            LengthUnit::Feet => "ft",
        }
    }

    /// The number alone.
    pub(crate) fn short(self, length: Metres) -> String {
        self.number(self.value(length), 1)
    }

    /// Both units, the reader's first: for what is read aloud to others.
    pub(crate) fn both(self, length: Metres) -> String {
        match self.length_unit {
            LengthUnit::Metres => format!("{} ({})", self.in_metres(length), self.in_feet(length)),
            LengthUnit::Feet => format!("{} ({})", self.in_feet(length), self.in_metres(length)),
        }
    }

    fn in_metres(self, length: Metres) -> String {
        format!("{} m", self.number(length.get(), if length.get() < 1.0 { 2 } else { 1 }))
    }

    fn in_feet(self, length: Metres) -> String {
        format!("{} ft", self.number(length.get() / FOOT, 1))
    }
}

/// Round numbers from 0 to at most `greatest`, about `wanted` of them.
pub(crate) fn ticks(greatest: f64, wanted: f64) -> Vec<f64> {
    if greatest.is_nan() || greatest <= 0.0 {
        return vec![0.0];
    }
    let raw = greatest / wanted;
    let magnitude = libm::pow(10.0, libm::floor(libm::log10(raw)));
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * magnitude).into_iter().find(|s| *s >= raw).unwrap_or(raw);
    let mut ticks = Vec::new();
    let mut i = 0_u32;
    while f64::from(i) * step <= greatest * (1.0 + 1e-9) {
        ticks.push(f64::from(i) * step);
        i += 1;
    }
    ticks
}
