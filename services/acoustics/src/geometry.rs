//! What the bottom and what stands on it hide: first ranges, dead heights, footprints.
//!
//! Vertical axis, origin at the transducer face, bottom a plane through the point at depth d under it.

use std::f64::consts::PI;

use crate::units::{Angle, HalfAngle, Metres};

/// Least slant range to a plane bottom of a slope inside a cone: d cos α when the foot of the perpendicular is inside the cone
/// (α ≤ θ), else d cos α / cos(α − θ) at the uphill edge.
///
/// Plane trigonometry; checked against brute-force ray casting.
///
/// ```
/// use acoustics::{geometry::first_bottom_range, units::{Angle, HalfAngle, Metres}};
/// let r = first_bottom_range(Metres::new(10.0), Angle::from_degrees(20.0), HalfAngle::from_degrees(6.0));
/// assert!((10.0 - r.get() + 0.0711 - 0.386).abs() < 0.002);
/// ```
#[must_use]
pub fn first_bottom_range(depth: Metres, slope: Angle, edge: HalfAngle) -> Metres {
    let (alpha, theta) = (slope.get(), edge.get());
    let perpendicular = depth.get() * libm::cos(alpha);
    Metres::new(if alpha <= theta { perpendicular } else { perpendicular / libm::cos(alpha - theta) })
}

/// Height over the bottom under which a target on the axis is hidden: d − r_min + ΔR, with r_min the least slant range to anything
/// that the beam shows; never under the range cell and never over the depth.
#[must_use]
pub fn dead_zone_height(depth: Metres, first_range: Metres, range_cell: Metres) -> Metres {
    Metres::new((depth.get() - first_range.get().min(depth.get()) + range_cell.get()).min(depth.get()))
}

/// Dead-zone height at the edge of a conical beam over a flat bottom: d (1 − cos θ) + ΔR.
///
/// E. Ona and R. B. Mitson, ICES J. Mar. Sci. 53, 677–690 (1996), <https://doi.org/10.1006/jmsc.1996.0087>; worked form of the Great Lakes
/// acoustic operating procedure, eq. 17.
///
/// ```
/// use acoustics::{geometry::flat_dead_height, units::{HalfAngle, Metres}};
/// let h = flat_dead_height(Metres::new(100.0), HalfAngle::from_degrees(5.5), Metres::new(0.3));
/// assert!((h.get() - 0.76).abs() < 0.01);
/// ```
#[must_use]
pub fn flat_dead_height(depth: Metres, edge: HalfAngle, range_cell: Metres) -> Metres {
    Metres::new(depth.get() * (1.0 - libm::cos(edge.get())) + range_cell.get())
}

/// Volume between the sphere r = d and the flat bottom inside a cone, m³: the flat-bottom dead zone without the pulse.
///
/// V = (π/3) d³ tan²θ − (2π/3) d³ (1 − cos θ), after Ona and Mitson (1996).
#[must_use]
pub fn flat_dead_volume_m3(depth: Metres, edge: HalfAngle) -> f64 {
    let (d, theta) = (depth.get(), edge.get());
    let tangent = libm::tan(theta);
    PI / 3.0 * d * d * d * (tangent * tangent - 2.0 * (1.0 - libm::cos(theta)))
}

/// Radius of the circle that a cone lights at a depth: z tan θ.
#[must_use]
pub fn footprint_radius(depth: Metres, edge: HalfAngle) -> Metres {
    Metres::new(depth.get() * libm::tan(edge.get()))
}
