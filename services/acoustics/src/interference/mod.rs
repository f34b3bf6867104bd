//! Neighbours in the same shelter: how often their pulses make interference marks, and how far the gain may go up.
//!
//! Units are not synchronised, so a neighbour's pulse lands at a random range; what counts is the fraction of range cells that show
//! interference marks. The level against time after a neighbour's ping comes from three paths: direct, scattered once by the bottom, and the
//! same after further bounces between ice and bottom. [`Pair`] gives the shape of the second, which depends only on the two beams as they hang, the
//! bottom with its slope, and the spacing over the depth; [`Received`] adds everything up for one unit and answers for any threshold.

mod axis;
mod confirmation;
mod curve;
mod pair;
mod received;
mod scatter;

pub(crate) use axis::real;
pub use confirmation::{Confirmer, JitterShape, MOST_PINGS, Mark, Timing};
pub use curve::{CURVE_POINTS, Curve};
pub use pair::{BottomScatter, HungBeam, Pair};
pub use received::{Link, Received};
pub use scatter::{ScatterTable, TableBytes};

use std::f64::consts::PI;

use crate::units::{Db, DbPerMetre, Hertz, Level, Metres, Seconds, SourceLevel};

/// Bounces between bottom and ice that are followed: the first bottom return and two more. Each further one is at least 13 dB weaker
/// (7.4 dB at the ice, 3 dB at rock, 3.5 dB or more of spreading).
pub const BOUNCES: u32 = 3;

/// Level of a neighbour's pulse along the direct path, on the receiver's axis-equivalent scale: SL + B_tx(90°) + B_rx(90°) − 20 lg s − αs.
///
/// Spherical spreading over a spacing s between two transducers at the same depth; the mirror at a smooth ice underside can add up to 6 dB
/// or cancel, and is left out.
#[must_use]
pub fn direct_level(
    source: SourceLevel,
    talker: &HungBeam,
    listener: &HungBeam,
    spacing: Metres,
    absorption: DbPerMetre,
) -> Level {
    let s = spacing.get();
    Level::new(
        source.get() + talker.level_abeam(1.0) + listener.level_abeam(-1.0)
            - 20.0 * libm::log10(s)
            - absorption.get() * s,
    )
}

/// Probability that at least one of several unsynchronised neighbours makes a mark in a cell: 1 − Π (1 − Tⱼ/intervalⱼ).
///
/// The exact product for a point in range; for a gate add its length to each Tⱼ.
///
/// ```
/// use acoustics::{interference::any_mark, units::Seconds};
/// let p = any_mark([(Seconds::new(0.002), Seconds::new(0.1))]);
/// assert!((p - 0.02).abs() < 1e-12);
/// ```
#[must_use]
pub fn any_mark(times: impl IntoIterator<Item = (Seconds, Seconds)>) -> f64 {
    1.0 - times.into_iter().fold(1.0, |none, (time, interval)| none * (1.0 - (time / interval).min(1.0)))
}

/// Length of a pulse on the display: as sent, or for a sweep what its matched filter leaves of it, the inverse of the narrower of sweep and
/// receiver band.
///
/// τ_c = 1/min(B, W), B the sweep and W the band of the receiver, in Hz: the cell is cτ_c/2, and what scatters in it is as if a plain pulse of that
/// length had been sent. A sweep narrower than 1/τ is a plain pulse.
///
/// C. E. Cook and M. Bernfeld, Radar Signals (1967), section 1.3 (compression ratio BT), ISBN 978-0-89006-733-8.
#[must_use]
pub fn compressed_pulse(pulse: Seconds, sweep: Option<Hertz>, receiver_bandwidth: Hertz) -> Seconds {
    match sweep {
        Some(sweep) => Seconds::new(pulse.get().min(1.0 / sweep.get().min(receiver_bandwidth.get()))),
        None => pulse,
    }
}

/// What a compressing receiver loses of a pulse that is not like its own, against one that is: 10 lg (τ/τ_c), 0 for a plain receiver.
///
/// The threshold of a sensor holds for echoes of its own pulse, whose energy the matched filter gathers in τ_c; another pulse stays as long
/// as it is. After Cook and Bernfeld (1967), as [`compressed_pulse`].
#[must_use]
pub fn mismatch_loss(pulse: Seconds, compressed: Seconds) -> Db {
    Db::new(10.0 * libm::log10((pulse / compressed).max(1.0)))
}

/// Loss of a foreign pulse in a receiver band: −10 lg of the share of the pulse's energy inside the band, at most 60 dB.
///
/// The spectrum of a plain pulse of length τ is sinc²((f − f₀)τ), whose tail falls as 1/(2π²τ|f − f₀|) integrated; a swept pulse is taken as
/// flat over its sweep. What a matched filter rejects besides is [`mismatch_loss`].
#[must_use]
pub fn band_loss(pulse_frequency: Hertz, pulse: Seconds, sweep: Option<Hertz>, receiver: Hertz, band: Hertz) -> Db {
    /// What leaks in even without spectral overlap: receivers of this class reject by no more than this. Estimated, no published source.
    const MOST: f64 = 60.0;
    let (low, high) = (receiver.get() - 0.5 * band.get(), receiver.get() + 0.5 * band.get());
    let share = match sweep {
        Some(sweep) if sweep.get() > 1.0 / pulse.get() => {
            let (from, to) = (pulse_frequency.get() - 0.5 * sweep.get(), pulse_frequency.get() + 0.5 * sweep.get());
            ((high.min(to) - low.max(from)) / sweep.get()).max(0.0)
        }
        _ => {
            let energy = |f: f64| sinc_squared_energy((f - pulse_frequency.get()) * pulse.get());
            energy(high) - energy(low)
        }
    };
    Db::new((-10.0 * libm::log10(share.max(1e-9))).clamp(0.0, MOST))
}

/// ∫ sinc²(u) du from −∞ to x, sinc(u) = sin(πu)/(πu), by Simpson's rule inside |x| ≤ 8 and by its tail beyond.
fn sinc_squared_energy(x: f64) -> f64 {
    const CORE: f64 = 8.0;
    let tail = |x: f64| 1.0 / (2.0 * PI * PI * x);
    if x > CORE {
        return 1.0 - tail(x);
    }
    if x < -CORE {
        return tail(-x);
    }
    let steps = 256_u32;
    let h = x / f64::from(steps);
    let value = |u: f64| {
        let a = crate::pattern::rectangle_amplitude(PI * u);
        a * a
    };
    let mut sum = value(0.0) + value(x);
    for i in 1..steps {
        sum += value(f64::from(i) * h) * if i % 2 == 1 { 4.0 } else { 2.0 };
    }
    0.5 + sum * h / 3.0
}
