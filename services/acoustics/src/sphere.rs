//! Backscatter of a solid elastic sphere: the modal series.

use crate::error::{ModelError, water_density, water_speed, within};
use crate::units::{Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, TargetStrength};

/// Density in kg/m³ and wave speeds in m/s of an elastic solid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elastic {
    /// Density, kg/m³.
    pub density: f64,
    /// Longitudinal wave speed, m/s.
    pub longitudinal: f64,
    /// Shear wave speed, m/s.
    pub shear: f64,
}

/// Target strength of a solid sphere for a continuous wave.
///
/// TS = 10 lg(a² |f|² / 4), f = −(2/q) Σ (−1)ⁿ (2n + 1) sin ηₙ e^{iηₙ}, q = ka, with the phase angles ηₙ of an elastic sphere
/// (MacLennan 1981, eqs 3–12). A real pulse fills the narrow nulls of the continuous-wave answer.
///
/// Validity: 0.02 ≤ ka ≤ 80.
///
/// J. J. Faran, J. Acoust. Soc. Am. 23, 405–418 (1951), <https://doi.org/10.1121/1.1906780>; D. N. MacLennan, Scottish Fisheries Research Report
/// 22 (1981).
///
/// # Errors
/// A sphere outside the validity, 1 µm to 10 m across; no solid: a density outside 500 to 25,000 kg/m³, a longitudinal speed outside 500 to
/// 15,000 m/s, a shear speed outside 100 to 10,000 m/s; or no water: a speed outside 1,000 to 2,000 m/s, a density outside 900 to 1,400 kg/m³.
///
/// ```
/// use acoustics::target::{solid_sphere, SphereMaterial};
/// use acoustics::units::{Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond};
/// let ts = solid_sphere(Metres::new(0.0381), SphereMaterial::TungstenCarbide.elastic(), Hertz::from_khz(38.0),
///     MetresPerSecond::new(1421.635), KilogramsPerCubicMetre::new(999.975))?;
/// assert!((ts.get() + 41.698).abs() < 0.01);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn solid_sphere(
    diameter: Metres,
    solid: Elastic,
    frequency: Hertz,
    speed: MetresPerSecond,
    density: KilogramsPerCubicMetre,
) -> Result<TargetStrength, ModelError> {
    const MODEL: &str = "solid sphere target strength";
    let radius = 0.5 * within(MODEL, "diameter", diameter.get(), (1e-6, 10.0), "m")?;
    within(MODEL, "density of the solid", solid.density, (500.0, 25_000.0), "kg/m³")?;
    within(MODEL, "longitudinal speed", solid.longitudinal, (500.0, 15_000.0), "m/s")?;
    within(MODEL, "shear speed", solid.shear, (100.0, 10_000.0), "m/s")?;
    let (speed, density) = (water_speed(MODEL, speed)?, water_density(MODEL, density)?);
    let q = within(MODEL, "ka", 2.0 * std::f64::consts::PI * frequency.get() * radius / speed, (0.02, 80.0), "")?;
    let (mut re, mut im) = (0.0, 0.0);
    let mut sign = 1.0;
    // Terms beyond the argument die away faster than exponentially; 20 more than ka leaves nothing.
    for n in 0..order(q + 20.0) {
        let eta = phase(n, q, solid, speed, density);
        let weight = sign * f64::from(2 * n + 1) * libm::sin(eta);
        re += weight * libm::cos(eta);
        im += weight * libm::sin(eta);
        sign = -sign;
    }
    let form = 2.0 / q * libm::hypot(re, im);
    Ok(TargetStrength::new(20.0 * libm::log10(0.5 * radius * form)))
}

/// Phase angle ηₙ of the n-th partial wave (MacLennan 1981).
fn phase(n: u32, q: f64, solid: Elastic, speed: f64, density: f64) -> f64 {
    let (q1, q2) = (q * speed / solid.longitudinal, q * speed / solid.shear);
    let ratio = solid.density / density;
    let shear = solid.shear / speed;
    let long = solid.longitudinal / speed;
    let alpha = 2.0 * ratio * shear * shear;
    let beta = ratio * long * long - alpha;
    let (l, w, t) = (Bessel::j(n, q1), Bessel::j(n, q), Bessel::j(n, q2));
    let y = Bessel::y(n, q);
    let nn = f64::from(n) * f64::from(n + 1);
    let a1 = 2.0 * nn * (q1 * l.first - l.value);
    let a2 = (nn - 2.0) * t.value + q2 * q2 * t.second;
    let b1 = q * (a2 * q1 * l.first - a1 * t.value);
    let b2 = a2 * q1 * q1 * (beta * l.value - alpha * l.second) - a1 * alpha * (t.value - q2 * t.first);
    libm::atan2(-(b2 * w.first - b1 * w.value), b2 * y.first - b1 * y.value)
}

/// A spherical Bessel function with its first two derivatives.
#[derive(Clone, Copy)]
struct Bessel {
    value: f64,
    first: f64,
    second: f64,
}

impl Bessel {
    fn j(n: u32, x: f64) -> Self {
        Self::from_pair(n, x, spherical_j(n, x), spherical_j(n + 1, x))
    }

    fn y(n: u32, x: f64) -> Self {
        Self::from_pair(n, x, spherical_y(n, x), spherical_y(n + 1, x))
    }

    /// f' = n f/x − f_{n+1}; f'' from the spherical Bessel equation.
    fn from_pair(n: u32, x: f64, value: f64, next: f64) -> Self {
        let order = f64::from(n);
        let first = order * value / x - next;
        let second = (order * (order + 1.0) / (x * x) - 1.0) * value - 2.0 * first / x;
        Self { value, first, second }
    }
}

/// jₙ(x) by downward recurrence (Miller), normalised with j₀.
fn spherical_j(n: u32, x: f64) -> f64 {
    let start = n.max(order(x)) + 30;
    let (mut above, mut here, mut wanted) = (0.0, 1e-280, 0.0);
    for m in (1..=start).rev() {
        let below = f64::from(2 * m + 1) / x * here - above;
        if m == n {
            wanted = here;
        }
        above = here;
        here = below;
        if here.abs() > 1e250 {
            above *= 1e-250;
            here *= 1e-250;
            wanted *= 1e-250;
        }
    }
    if n == 0 {
        wanted = here;
    }
    // Normalise with the larger of j₀ and j₁, so that a zero of one does not spoil it.
    let j0 = libm::sin(x) / x;
    let j1 = libm::sin(x) / (x * x) - libm::cos(x) / x;
    if j0.abs() >= j1.abs() { wanted / here * j0 } else { wanted / above * j1 }
}

/// yₙ(x) by upward recurrence, which is stable.
fn spherical_y(n: u32, x: f64) -> f64 {
    let mut before = -libm::cos(x) / x;
    if n == 0 {
        return before;
    }
    let mut here = -libm::cos(x) / (x * x) - libm::sin(x) / x;
    for m in 1..n {
        let next = f64::from(2 * m + 1) / x * here - before;
        before = here;
        here = next;
    }
    here
}

/// A positive figure as a number of terms.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "ka is at most 80, and no wave of a solid is 20 times slower than in the water"
)]
fn order(x: f64) -> u32 {
    x as u32 + 1
}
