//! Lengths in the reader's unit.

use acoustics::units::Metres;

use planning::wording::number;

use crate::settings::LengthUnit;

/// Metres in an international foot (exact, 1959 agreement).
const FOOT: f64 = 0.3048;

/// Writes lengths in one unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lengths {
    unit: LengthUnit,
}

impl Lengths {
    pub(crate) const fn new(unit: LengthUnit) -> Self {
        Self { unit }
    }

    /// The plain number in the reader's unit, for drawing.
    pub(crate) fn value(self, length: Metres) -> f64 {
        match self.unit {
            LengthUnit::Metres => length.get(),
            LengthUnit::Feet => length.get() / FOOT,
        }
    }

    /// `3.2 m` or `10.5 ft`.
    pub(crate) fn text(self, length: Metres) -> String {
        match self.unit {
            LengthUnit::Metres => metres(length),
            LengthUnit::Feet => feet(length),
        }
    }

    /// Name of the unit.
    pub(crate) const fn unit(self) -> &'static str {
        match self.unit {
            LengthUnit::Metres => "m",
            LengthUnit::Feet => "ft",
        }
    }

    /// The number alone.
    pub(crate) fn short(self, length: Metres) -> String {
        number(self.value(length), 1)
    }

    /// Both units, the reader's first: for what is read aloud to others.
    pub(crate) fn both(self, length: Metres) -> String {
        match self.unit {
            LengthUnit::Metres => format!("{} ({})", metres(length), feet(length)),
            LengthUnit::Feet => format!("{} ({})", feet(length), metres(length)),
        }
    }
}

fn metres(length: Metres) -> String {
    format!("{} m", number(length.get(), if length.get() < 1.0 { 2 } else { 1 }))
}

fn feet(length: Metres) -> String {
    format!("{} ft", number(length.get() / FOOT, 1))
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
