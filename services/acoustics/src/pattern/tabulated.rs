//! Tabulated patterns: a monotone cubic through angle and level pairs.

use crate::error::ModelError;
use crate::units::{Db, FullAngle, HalfAngle};

/// A monotone piecewise cubic (Fritsch and Butland's choice of slopes, as in SciPy's `PchipInterpolator`).
///
/// F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5, 300–304 (1984), <https://doi.org/10.1137/0905021>.
#[derive(Debug, Clone, PartialEq)]
pub struct Pchip {
    /// Abscissa, ordinate and slope at each knot.
    knots: Vec<(f64, f64, f64)>,
}

const MODEL: &str = "tabulated pattern";

impl Pchip {
    /// A curve through finite points with strictly rising abscissae.
    ///
    /// # Errors
    /// Fewer than two points, points that do not rise, or slopes between them past the range of numbers.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, ModelError> {
        let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
        let rising = points.windows(2).all(|w| matches!(w, [a, b] if b.0 > a.0));
        let refused =
            ModelError::BadTable { model: MODEL, needs: "at least two finite points with strictly rising angles" };
        if points.len() < 2 || !finite || !rising {
            return Err(refused);
        }
        let spans: Vec<(f64, f64)> = points
            .windows(2)
            .filter_map(|w| if let [a, b] = w { Some((b.0 - a.0, (b.1 - a.1) / (b.0 - a.0))) } else { None })
            .collect();
        let slopes = slopes(&spans);
        // Finite points may still lie further apart, or nearer together, than a difference or a quotient can say.
        if !spans.iter().all(|(h, d)| h.is_finite() && d.is_finite()) || !slopes.iter().all(|m| m.is_finite()) {
            return Err(refused);
        }
        Ok(Self { knots: points.iter().zip(slopes).map(|((x, y), m)| (*x, *y, m)).collect() })
    }

    /// The curve of a beam pattern: angles from 0 to at most 90°, 0 dB on the axis, never above it.
    pub(crate) fn pattern(points: &[(HalfAngle, Db)]) -> Result<Self, ModelError> {
        // The slack is what a change of units, or of the reference of a measurement, costs.
        let starts = points.first().is_some_and(|(a, l)| a.get() == 0.0 && l.get() >= -1e-6);
        let inside = points.iter().all(|(a, l)| a.to_degrees() <= 90.0 + 1e-6 && l.get() <= 0.0);
        if points.len() < 3 || !starts || !inside {
            return Err(ModelError::BadTable {
                model: MODEL,
                needs: "three or more pairs that begin at 0° with 0 dB, reach at most 90° and never pass 0 dB",
            });
        }
        Self::new(&points.iter().map(|(a, l)| (a.get(), l.get())).collect::<Vec<_>>())
    }

    /// Value at an abscissa inside the table; none outside it.
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        let right = self.knots.partition_point(|k| k.0 < x).max(1);
        let ((x0, y0, m0), (x1, y1, m1)) = (*self.knots.get(right - 1)?, *self.knots.get(right)?);
        if x < x0 || x > x1 {
            return None;
        }
        let h = x1 - x0;
        let t = (x - x0) / h;
        let (t2, t3) = (t * t, t * t * t);
        Some(
            (2.0 * t3 - 3.0 * t2 + 1.0) * y0
                + (t3 - 2.0 * t2 + t) * h * m0
                + (3.0 * t2 - 2.0 * t3) * y1
                + (t3 - t2) * h * m1,
        )
    }

    /// Full width at −3 dB: twice the least angle at which the curve has fallen so far, or its last one.
    pub(crate) fn width(&self) -> FullAngle {
        let reached = self.knots.windows(2).find(|pair| matches!(pair, [_, b] if b.1 <= -3.0));
        let half = match reached {
            Some([a, b]) => {
                // It is monotone between two points.
                let (mut low, mut high) = (a.0, b.0);
                for _ in 0..60 {
                    let middle = 0.5 * (low + high);
                    if self.at(middle).is_some_and(|y| y <= -3.0) { high = middle } else { low = middle }
                }
                high
            }
            _ => self.knots.last().map_or(0.0, |last| last.0),
        };
        HalfAngle::new(half).full()
    }

    /// Sine of the half angle that the tables are scaled by: where the curve passes −3 dB, or its last angle.
    pub(crate) fn reference_sine(&self) -> f64 {
        let last = self.knots.last().map_or(1.0, |k| k.0);
        let steps = 4000_u32;
        let crossing = (1..=steps)
            .map(|i| last * f64::from(i) / f64::from(steps))
            .find(|x| self.at(*x).is_some_and(|y| y <= -3.0));
        libm::sin(crossing.unwrap_or(last)).max(1e-3)
    }

    /// Amplitude at sin θ; beyond the last angle of the table the pattern stands at its floor.
    pub(crate) fn amplitude_at_sine(&self, sine: f64, floor: Db) -> f64 {
        let level = self.at(libm::asin(sine)).unwrap_or(floor.get());
        libm::pow(10.0, level / 20.0)
    }
}

/// Slopes at the knots from (length, secant) of each span.
fn slopes(spans: &[(f64, f64)]) -> Vec<f64> {
    let mut slopes = Vec::with_capacity(spans.len() + 1);
    slopes.push(match spans {
        [a, b, ..] => end_slope(*a, *b),
        [only] => only.1,
        [] => 0.0,
    });
    for pair in spans.windows(2) {
        let [(h0, d0), (h1, d1)] = pair else { continue };
        slopes.push(if d0 * d1 <= 0.0 {
            0.0
        } else {
            let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
            (w0 + w1) / (w0 / d0 + w1 / d1)
        });
    }
    slopes.push(match spans {
        [.., b, a] => end_slope(*a, *b),
        [only] => only.1,
        [] => 0.0,
    });
    slopes
}

/// One-sided slope at an end, kept monotone.
fn end_slope((h0, d0): (f64, f64), (h1, d1): (f64, f64)) -> f64 {
    let slope = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if slope * d0 <= 0.0 {
        0.0
    } else if d0 * d1 <= 0.0 && slope.abs() > 3.0 * d0.abs() {
        3.0 * d0
    } else {
        slope
    }
}
