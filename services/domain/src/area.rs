//! Where holes may lie on a floor, and how many of them can.

use acoustics::units::Metres;

use crate::Floor;

/// Where the centres of holes may lie: the floor less its wall clearance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Area {
    /// A rectangle from `(x, y)`; either side may be 0, which leaves a line.
    Rectangle {
        /// Left edge.
        x: Metres,
        /// Lower edge.
        y: Metres,
        /// Along x.
        length: Metres,
        /// Along y.
        width: Metres,
    },
    /// A circle; the radius may be 0, which leaves a point.
    Circle {
        /// Centre, both coordinates.
        centre: Metres,
        /// Radius.
        radius: Metres,
    },
}

impl Area {
    /// The floor less its wall clearance; none where nothing is left.
    #[must_use]
    pub fn of(floor: &Floor, clearance: Metres) -> Option<Self> {
        match *floor {
            Floor::Rectangle { length, width } => {
                let (length, width) = (length - clearance * 2.0, width - clearance * 2.0);
                (length.get() >= 0.0 && width.get() >= 0.0).then_some(Self::Rectangle {
                    x: clearance,
                    y: clearance,
                    length,
                    width,
                })
            }
            Floor::Circle { diameter } => {
                let (centre, radius) = (diameter / 2.0, diameter / 2.0 - clearance);
                (radius.get() >= 0.0).then_some(Self::Circle { centre, radius })
            }
        }
    }
}

/// An upper bound of how many points at least `spacing` apart fit in a compact convex area of area A and perimeter P:
/// `2/√3 · A/m² + P/(2m) + 1` (Oler 1961, An inequality in the geometry of numbers, Acta Math. 105, 19-48,
/// doi:10.1007/BF02559533).
#[must_use]
pub fn most_that_fit(area: Area, spacing: Metres) -> f64 {
    let m = spacing.get();
    let (surface, perimeter) = match area {
        Area::Rectangle { length, width, .. } => (length.get() * width.get(), 2.0 * (length.get() + width.get())),
        Area::Circle { radius, .. } => {
            let r = radius.get();
            (std::f64::consts::PI * r * r, std::f64::consts::TAU * r)
        }
    };
    2.0 / libm::sqrt(3.0) * surface / (m * m) + perimeter / (2.0 * m) + 1.0
}
