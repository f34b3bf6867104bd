//! The amplitude patterns themselves, as functions of the dimensionless variable x = k a sin θ (or (k L / 2) sin θ).

use std::f64::consts::PI;

use crate::units::Db;

/// Amplitude of a uniform circular piston in a rigid baffle, 2 J₁(x)/x.
#[must_use]
pub fn piston_amplitude(x: f64) -> f64 {
    if x.abs() < 1e-6 { 1.0 } else { 2.0 * libm::j1(x) / x }
}

/// Amplitude of one side of a uniform rectangle, sin t / t.
#[must_use]
pub fn rectangle_amplitude(t: f64) -> f64 {
    if t.abs() < 1e-6 { 1.0 } else { libm::sin(t) / t }
}

/// Number of side lobes that a Taylor aperture holds level, plus one. Four keep the aperture distribution smooth for −20 to −40 dB.
const N_BAR: usize = 4;
/// First zeros of J₁ over π (Taylor's μₙ).
const MU: [f64; N_BAR] = [1.219_669_891, 2.233_130_594, 3.238_315_484, 4.241_062_864];

/// A circular aperture after Taylor (1960): uniform near side lobes at a stated level, falling further out.
#[derive(Debug, Clone, Copy)]
pub struct Taylor {
    /// Zeros uₙ of the pattern that replace the piston's, n = 1 … n̄ − 1.
    zeros: [f64; N_BAR - 1],
}

impl Taylor {
    /// Places the zeros for a peak side lobe: uₙ = σ √(A² + (n − ½)²), cosh πA = side-lobe ratio, σ = μ_n̄ / √(A² + (n̄ − ½)²).
    #[must_use]
    pub fn new(peak_side_lobe: Db) -> Self {
        let a = libm::acosh(libm::pow(10.0, -peak_side_lobe.get() / 20.0)) / PI;
        let [.., last] = MU;
        let outer = 3.5; // n̄ − ½
        let sigma = last / libm::sqrt(a * a + outer * outer);
        let zero = |n: f64| sigma * libm::sqrt(a * a + (n - 0.5) * (n - 0.5));
        Self { zeros: [zero(1.0), zero(2.0), zero(3.0)] }
    }
}

/// Amplitude of a Taylor aperture at x = k a sin θ: the piston's with its first zeros moved,
/// F(u) = 2J₁(πu)/(πu) · Π (1 − u²/uₙ²)/(1 − u²/μₙ²), u = x/π (Taylor 1960, eq. 20).
#[must_use]
pub fn taylor_amplitude(taper: &Taylor, x: f64) -> f64 {
    let u = x / PI;
    let mut value = piston_amplitude(x);
    for (zero, mu) in taper.zeros.iter().zip(MU) {
        let below = 1.0 - u * u / (mu * mu);
        if below.abs() < 1e-7 {
            // At the piston's own zero the quotient has a limit; step aside by less than the table's resolution.
            return taylor_amplitude(taper, x * (1.0 + 1e-5) + 1e-9);
        }
        value *= (1.0 - u * u / (zero * zero)) / below;
    }
    value
}

/// The least x at which an amplitude pattern has fallen to a level; levels above the first side lobe only.
#[must_use]
pub fn solve_level(amplitude: impl Fn(f64) -> f64, level: Db) -> f64 {
    let target = libm::pow(10.0, level.get() / 20.0);
    let mut high = 0.05;
    while amplitude(high) > target && high < 50.0 {
        high += 0.05;
    }
    let mut low = high - 0.05;
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if amplitude(middle) > target { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
