//! Levels: source, echo, bottom echo, noise; and the gain that makes them show.

use std::f64::consts::PI;

use crate::error::{ModelError, water_density, water_speed, within};
use crate::units::{
    Celsius, Db, DbPerMetre, Hertz, KilogramsPerCubicMetre, Level, Metres, MetresPerSecond, Seconds, SourceLevel,
    Steradians, TargetStrength, Watts,
};

/// Source level of a projector from its electrical power.
///
/// SL = 10 lg(ρc / 4π) + 120 + 10 lg(P η) + DI, P in W (rms in the pulse), η efficiency 0 to 1; about 170.5 dB for 1 W in fresh
/// water at 4 °C.
///
/// A. D. Waite, Sonar for Practising Engineers, 3rd ed. (2002), eq. 2.6 with ρc of the water at hand instead of sea water's.
///
/// # Errors
/// A power or an efficiency that is not positive, an efficiency over 1, a directivity index outside 0 to 100 dB, or no water: a density
/// outside 900 to 1,400 kg/m³ or a speed outside 1,000 to 2,000 m/s.
///
/// ```
/// use acoustics::{levels::source_level, units::{Db, KilogramsPerCubicMetre, MetresPerSecond, Watts}};
/// let sl = source_level(Watts::new(1.0), 1.0, Db::new(0.0),
///     KilogramsPerCubicMetre::new(999.975), MetresPerSecond::new(1421.635))?;
/// assert!((sl.get() - 170.54).abs() < 0.01);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn source_level(
    power: Watts,
    efficiency: f64,
    directivity_index: Db,
    density: KilogramsPerCubicMetre,
    speed: MetresPerSecond,
) -> Result<SourceLevel, ModelError> {
    const MODEL: &str = "source level from power";
    let watts = within(MODEL, "power", power.get(), (1e-6, 1e5), "W")?;
    let efficiency = within(MODEL, "efficiency", efficiency, (1e-4, 1.0), "")?;
    let index = within(MODEL, "directivity index", directivity_index.get(), (0.0, 100.0), "dB")?;
    let impedance = water_density(MODEL, density)? * water_speed(MODEL, speed)?;
    let medium = 10.0 * libm::log10(impedance / (4.0 * PI)) + 120.0;
    Ok(SourceLevel::new(medium + 10.0 * libm::log10(watts * efficiency) + index))
}

/// What spreading takes on the way there and back: 40 lg r, r in m re 1 m.
#[inline]
#[must_use]
pub fn two_way_spreading(range: Metres) -> Db {
    Db::new(40.0 * libm::log10(range.get()))
}

/// Two-way transmission loss 40 lg r + 2 α r, from its spreading, which one place has in common for all options.
///
/// ```
/// use acoustics::{levels::{two_way_loss, two_way_spreading}, units::{DbPerMetre, Metres}};
/// let range = Metres::new(10.0);
/// let loss = two_way_loss(two_way_spreading(range), range, DbPerMetre::new(0.0161));
/// assert!((loss.get() - 40.322).abs() < 1e-9);
/// ```
#[inline]
#[must_use]
pub fn two_way_loss(spreading: Db, range: Metres, absorption: DbPerMetre) -> Db {
    Db::new(spreading.get() + 2.0 * absorption.get() * range.get())
}

/// The sonar equation: echo level on the sensor's face, EL = SL − 2 TL + TS + 2B, from the two-way loss 2 TL.
///
/// R. J. Urick, Principles of Underwater Sound, 3rd ed. (1983), eq. 2.1 (active equation, noise terms apart).
#[inline]
#[must_use]
pub fn echo_level(source: SourceLevel, loss: Db, strength: TargetStrength, one_way_pattern: Db) -> Level {
    Level::new(source.get() - loss.get() + strength.get() + 2.0 * one_way_pattern.get())
}

/// The same for a plane bottom: EL = SL − 20 lg h − 2αd + 10 lg(h² E), h its distance, from half the spreading to that distance, the
/// absorption over the depth and the integral over the plane ([`crate::plane_echo`]).
#[inline]
#[must_use]
pub fn bottom_echo_level(source: SourceLevel, spreading: Db, absorbed: Db, plane: Db) -> Level {
    Level::new(source.get() - 0.5 * spreading.get() - absorbed.get() + plane.get())
}

/// Area of bottom that one pulse insonifies at normal incidence: the smaller of ψ d² (beam-limited) and π d c τ (pulse-limited), m².
///
/// Urick (1983), section 8.2, with the equivalent two-way beam angle in place of a conical one.
#[must_use]
pub fn bottom_area_m2(psi: Steradians, depth: Metres, range_cell: Metres) -> f64 {
    let d = depth.get();
    (psi.get() * d * d).min(2.0 * PI * d * range_cell.get())
}

/// The least gain at which an echo passes the threshold at zero gain by a margin; not under zero.
#[inline]
#[must_use]
pub fn least_gain(threshold: Level, margin: Db, echo: Level) -> Db {
    Db::new((threshold.get() + margin.get() - echo.get()).max(0.0))
}

/// Thermal noise of the water in a band, as a plane wave on the axis of a receiver with a directivity index.
///
/// NL = 10 lg(4π k_B T ρ f² / c) + 120 + 10 lg W − DI, T in K, W bandwidth in Hz (Mellen 1952, eq. 7, in SI).
///
/// Validity: 10 to 2,000 kHz, −2 to 40 °C.
///
/// R. H. Mellen, J. Acoust. Soc. Am. 24, 478–480 (1952), <https://doi.org/10.1121/1.1906924>.
///
/// # Errors
/// A frequency, a bandwidth or a temperature outside the validity; an index or a water that [`source_level`] refuses, too.
///
/// ```
/// use acoustics::levels::thermal_noise;
/// use acoustics::units::{Celsius, Db, Hertz, KilogramsPerCubicMetre, MetresPerSecond};
/// let nl = thermal_noise(Hertz::from_khz(200.0), Hertz::new(1.0), Celsius::new(4.0), Db::new(0.0),
///     KilogramsPerCubicMetre::new(999.975), MetresPerSecond::new(1421.635))?;
/// assert!((nl.get() - 31.31).abs() < 0.02);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn thermal_noise(
    frequency: Hertz,
    bandwidth: Hertz,
    temperature: Celsius,
    directivity_index: Db,
    density: KilogramsPerCubicMetre,
    speed: MetresPerSecond,
) -> Result<Level, ModelError> {
    const MODEL: &str = "Mellen (1952) thermal noise";
    const BOLTZMANN: f64 = 1.380_649e-23;
    let f = within(MODEL, "frequency", frequency.to_khz(), (10.0, 2000.0), "kHz")? * 1e3;
    let band = within(MODEL, "bandwidth", bandwidth.get(), (1.0, 2e6), "Hz")?;
    let kelvin = within(MODEL, "temperature", temperature.get(), (-2.0, 40.0), "°C")? + 273.15;
    let index = within(MODEL, "directivity index", directivity_index.get(), (0.0, 100.0), "dB")?;
    let (rho, c) = (water_density(MODEL, density)?, water_speed(MODEL, speed)?);
    let spectral = 10.0 * libm::log10(4.0 * PI * BOLTZMANN * kelvin * rho * f * f / c) + 120.0;
    Ok(Level::new(spectral + 10.0 * libm::log10(band) - index))
}

/// Quality of a transducer that is damped for pulses of some twenty periods. ASSUMED: leaflets do not state it.
pub const RINGING: f64 = 12.0;
/// How far the ringing has to fall before an echo shows, dB: from the drive to a threshold at working gain. ASSUMED.
pub const RINGING_FALL: Db = Db::new(120.0);

/// How long after its ping begins a sensor hears nothing: its pulse and the ringing of its transducer.
///
/// t = τ + Q ln(10) F/20 / (π f): an oscillator of quality Q rings as e^(−π f t/Q), F the fall in dB.
///
/// L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed. (2000), section 1.6 (damped oscillations).
///
/// ```
/// use acoustics::{levels::ring_down, units::{Hertz, Seconds}};
/// let t = ring_down(Seconds::from_micros(100.0), Hertz::from_khz(200.0));
/// assert!((t.to_micros() - 363.9).abs() < 0.1); // a quarter of a metre of water
/// ```
#[must_use]
pub fn ring_down(pulse: Seconds, frequency: Hertz) -> Seconds {
    let ringing = RINGING * std::f64::consts::LN_10 * RINGING_FALL.get() / 20.0 / (PI * frequency.get());
    Seconds::new(pulse.get() + ringing)
}

/// Length of the range cell: the larger of cτ/2 and c/2B for a swept pulse (whose matched filter resolves c/2B), cτ/2 without a sweep.
///
/// For a swept pulse the matched filter compresses the pulse, so its length no longer matters; without a sweep the bandwidth of
/// the receiver may still be the narrower limit.
#[must_use]
pub fn range_cell(speed: MetresPerSecond, pulse: Seconds, sweep: Option<Hertz>, receiver_bandwidth: Hertz) -> Metres {
    let by_band = |band: Hertz| 0.5 * speed.get() / band.get();
    Metres::new(match sweep {
        Some(sweep) => by_band(sweep).max(by_band(receiver_bandwidth)),
        None => (0.5 * speed.get() * pulse.get()).max(by_band(receiver_bandwidth)),
    })
}
