//! Backscatter of a solid elastic sphere: the modal series.

use num_complex::Complex64;

use crate::error::{ModelError, water_density, water_speed, within};
use crate::units::{Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, TargetStrength};

/// Density in kg/m³, wave speeds in m/s and loss of an elastic solid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elastic {
    /// Density, kg/m³.
    pub density: f64,
    /// Longitudinal wave speed, m/s.
    pub longitudinal: f64,
    /// Shear wave speed, m/s.
    pub shear: f64,
    /// Loss factor η of its shear: the shear modulus is μ(1 + iη). What presses it together loses nothing.
    pub loss: f64,
}

/// Target strength of a solid sphere for a continuous wave.
///
/// TS = 10 lg(a² |f|² / 4), f = −(2/q) Σ (−1)ⁿ (2n + 1) sin ηₙ e^{iηₙ}, q = ka, with the phase angles ηₙ of an elastic sphere
/// (MacLennan 1981, eqs 3–12), complex where the solid has a loss. A real pulse fills the narrow nulls of the continuous-wave answer.
///
/// Validity: 0.02 ≤ ka ≤ 80, losses up to 0.3.
///
/// J. J. Faran, J. Acoust. Soc. Am. 23, 405–418 (1951), <https://doi.org/10.1121/1.1906780>; D. N. MacLennan, Scottish Fisheries Research Report
/// 22 (1981).
///
/// # Errors
/// A sphere outside the validity, 1 µm to 10 m across; no solid: a density outside 500 to 25,000 kg/m³, a longitudinal speed outside 500 to
/// 15,000 m/s, a shear speed outside 100 to 10,000 m/s, a loss outside 0 to 0.3; or no water: a speed outside 1,000 to 2,000 m/s, a density outside 900 to 1,400 kg/m³.
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
    within(MODEL, "loss of the solid", solid.loss, (0.0, 0.3), "")?;
    let (speed, density) = (water_speed(MODEL, speed)?, water_density(MODEL, density)?);
    let q = within(MODEL, "ka", 2.0 * std::f64::consts::PI * frequency.get() * radius / speed, (0.02, 80.0), "")?;
    let solid = Relative::new(solid, speed, density);
    let mut sum = Complex64::new(0.0, 0.0);
    let mut sign = 1.0;
    // Terms beyond the argument die away faster than exponentially; 20 more than ka leaves nothing.
    for n in 0..order(q + 20.0) {
        sum += partial_wave(n, q, &solid) * (sign * f64::from(2 * n + 1));
        sign = -sign;
    }
    let form = 2.0 / q * libm::hypot(sum.re, sum.im);
    Ok(TargetStrength::new(20.0 * libm::log10(0.5 * radius * form)))
}

/// A solid against the water around it: ratio of densities, squares of the ratios of wave speeds, and their inverse roots.
struct Relative {
    density: f64,
    long: Complex64,
    shear: Complex64,
    slow_long: Complex64,
    slow_shear: Complex64,
}

impl Relative {
    fn new(solid: Elastic, speed: f64, density: f64) -> Self {
        let square = |of: f64| of * of / (speed * speed);
        // ρ c_L² = K + 4μ/3, ρ c_S² = μ.
        let shear = Complex64::new(square(solid.shear), square(solid.shear) * solid.loss);
        let long = Complex64::new(square(solid.longitudinal), 4.0 / 3.0 * shear.im);
        Self {
            density: solid.density / density,
            long,
            shear,
            slow_long: root(long).inv(),
            slow_shear: root(shear).inv(),
        }
    }
}

/// sin η e^{iη} of the n-th partial wave, tan η = N/D (MacLennan 1981), as N/(D − iN): time goes as e^{iωt}, so that a loss stands
/// as a positive imaginary part of a modulus.
fn partial_wave(n: u32, q: f64, solid: &Relative) -> Complex64 {
    let (q1, q2) = (solid.slow_long * q, solid.slow_shear * q);
    let alpha = solid.shear * (2.0 * solid.density);
    let beta = solid.long * solid.density - alpha;
    let (l, w, t) = (Bessel::j(n, q1), Bessel::j(n, q.into()), Bessel::j(n, q2));
    let y = Bessel::y(n, q);
    let nn = f64::from(n) * f64::from(n + 1);
    let a1 = (q1 * l.first - l.value) * (2.0 * nn);
    let a2 = t.value * (nn - 2.0) + q2 * q2 * t.second;
    let b1 = (a2 * q1 * l.first - a1 * t.value) * q;
    let b2 = a2 * q1 * q1 * (beta * l.value - alpha * l.second) - a1 * alpha * (t.value - q2 * t.first);
    let above = b1 * w.value - b2 * w.first;
    let below = b2 * y.first - b1 * y.value;
    above / (below - Complex64::i() * above)
}

/// A spherical Bessel function with its first two derivatives.
#[derive(Clone, Copy)]
struct Bessel {
    value: Complex64,
    first: Complex64,
    second: Complex64,
}

impl Bessel {
    fn j(n: u32, x: Complex64) -> Self {
        let (value, next) = spherical_j(n, x);
        Self::from_pair(n, x, value, next)
    }

    fn y(n: u32, x: f64) -> Self {
        Self::from_pair(n, x.into(), spherical_y(n, x).into(), spherical_y(n + 1, x).into())
    }

    /// f' = n f/x − f_{n+1}; f'' from the spherical Bessel equation.
    fn from_pair(n: u32, x: Complex64, value: Complex64, next: Complex64) -> Self {
        let order = f64::from(n);
        let first = value * order / x - next;
        let second = (Complex64::new(order * (order + 1.0), 0.0) / (x * x) - 1.0) * value - first * 2.0 / x;
        Self { value, first, second }
    }
}

/// jₙ(x) and jₙ₊₁(x) by downward recurrence (Miller), normalised with j₀.
fn spherical_j(n: u32, x: Complex64) -> (Complex64, Complex64) {
    let start = (n + 1).max(order(libm::hypot(x.re, x.im))) + 30;
    let (mut above, mut here) = (Complex64::new(0.0, 0.0), Complex64::new(1e-100, 0.0));
    let (mut wanted, mut next) = (above, above);
    let over = x.inv();
    for m in (1..=start).rev() {
        let below = over * f64::from(2 * m + 1) * here - above;
        if m == n {
            (wanted, next) = (here, above);
        }
        above = here;
        here = below;
        // A complex quotient squares its divisor, which must not pass what a number holds.
        if here.re.abs() + here.im.abs() > 1e100 {
            for figure in [&mut above, &mut here, &mut wanted, &mut next] {
                *figure *= 1e-100;
            }
        }
    }
    if n == 0 {
        (wanted, next) = (here, above);
    }
    // Normalise with the larger of j₀ and j₁, so that a zero of one does not spoil it.
    let (sine, cosine) = sine_and_cosine(x);
    let j0 = sine * over;
    let j1 = (sine * over - cosine) * over;
    let scale = if j0.norm_sqr() >= j1.norm_sqr() { j0 / here } else { j1 / above };
    (wanted * scale, next * scale)
}

fn sine_and_cosine(z: Complex64) -> (Complex64, Complex64) {
    let (sine, cosine, sinh, cosh) = (libm::sin(z.re), libm::cos(z.re), libm::sinh(z.im), libm::cosh(z.im));
    (Complex64::new(sine * cosh, cosine * sinh), Complex64::new(cosine * cosh, -sine * sinh))
}

/// The root in the right half plane of a number there.
fn root(z: Complex64) -> Complex64 {
    let re = libm::sqrt(0.5 * (libm::hypot(z.re, z.im) + z.re));
    Complex64::new(re, 0.5 * z.im / re)
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
