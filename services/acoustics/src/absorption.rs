//! Absorption of sound by water.

use crate::error::{ModelError, within};
use crate::units::{Celsius, DbPerMetre, GramsPerKilogram, Hertz, Metres};
use crate::water::{WaterColumn, sound_speed};

/// Absorption after Francois and Garrison (1982): boric acid, magnesium sulphate and pure water.
///
/// α = A₁P₁ f₁f²/(f₁²+f²) + A₂P₂ f₂f²/(f₂²+f²) + A₃P₃ f², dB/km with f in kHz (part II, eqs 5–11). At S = 0 the two relaxation terms
/// vanish and only A₃P₃f² is left. A₃ has one branch up to 20 °C and another above it.
///
/// Symbols: T °C, S g/kg, D depth in m, pH; P₃ = 1 − 3.83·10⁻⁵ D + 4.9·10⁻¹⁰ D².
///
/// Validity: 0.2 to 2,000 kHz (stated to 1,000 kHz for sea water; the pure-water term is a plain f² law), −2 to 30 °C, S 0 to 40, 0 to 500 m
/// here; about 5 %.
///
/// R. E. Francois and G. R. Garrison, J. Acoust. Soc. Am. 72, 896–907, <https://doi.org/10.1121/1.388170>, and
/// 72, 1879–1890 (1982), <https://doi.org/10.1121/1.388673>.
///
/// # Errors
/// An input outside the validity.
///
/// ```
/// use acoustics::{absorption::francois_garrison, units::{Celsius, GramsPerKilogram, Hertz, Metres}};
/// let alpha = francois_garrison(
///     Hertz::from_khz(200.0), Celsius::new(4.0), GramsPerKilogram::new(0.0), Metres::new(0.0), 7.5)?;
/// assert!((alpha.get() * 1e3 - 16.149).abs() < 0.01); // dB/km
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn francois_garrison(
    frequency: Hertz,
    temperature: Celsius,
    salinity: GramsPerKilogram,
    depth: Metres,
    ph: f64,
) -> Result<DbPerMetre, ModelError> {
    const MODEL: &str = "Francois and Garrison (1982) absorption";
    let f = within(MODEL, "frequency", frequency.to_khz(), (0.2, 2000.0), "kHz")?;
    let t = within(MODEL, "temperature", temperature.get(), (-2.0, 30.0), "°C")?;
    let s = within(MODEL, "salinity", salinity.get(), (0.0, 40.0), "g/kg")?;
    let d = within(MODEL, "depth", depth.get(), (0.0, 500.0), "m")?;
    let f_squared = f * f;
    let relaxation = if s > 0.0 {
        let ph = within(MODEL, "pH", ph, (6.0, 9.5), "")?;
        let kelvin = t + 273.0;
        let c = 1412.0 + 3.21 * t + 1.19 * s + 0.0167 * d;
        let f1 = 2.8 * libm::sqrt(s / 35.0) * libm::pow(10.0, 4.0 - 1245.0 / kelvin);
        let a1 = 8.86 / c * libm::pow(10.0, 0.78 * ph - 5.0);
        let f2 = 8.17 * libm::pow(10.0, 8.0 - 1990.0 / kelvin) / (1.0 + 0.0018 * (s - 35.0));
        let a2 = 21.44 * s / c * (1.0 + 0.025 * t);
        let p2 = 1.0 - 1.37e-4 * d + 6.2e-9 * d * d;
        a1 * f1 * f_squared / (f1 * f1 + f_squared) + a2 * p2 * f2 * f_squared / (f2 * f2 + f_squared)
    } else {
        0.0
    };
    let a3 = if t <= 20.0 {
        4.937e-4 - 2.59e-5 * t + 9.11e-7 * t * t - 1.50e-8 * t * t * t
    } else {
        3.964e-4 - 1.146e-5 * t + 1.45e-7 * t * t - 6.5e-10 * t * t * t
    };
    let p3 = 1.0 - 3.83e-5 * d + 4.9e-10 * d * d;
    Ok(DbPerMetre::new((relaxation + a3 * p3 * f_squared) * 1e-3))
}

/// Absorption of fresh water after Fisher and Simmons (1977): the second support of the pure-water term.
///
/// α = (55.9 − 2.37 T + 4.77·10⁻² T² − 3.48·10⁻⁴ T³)·10⁻¹⁵ f² Np/m at one atmosphere, f in Hz; 1 Np = 8.686 dB.
///
/// Validity: 0 to 30 °C, 10 to 2,000 kHz here. The coefficients come from public copies; a library that names the same source gives up to
/// 2 % more at 20 °C, and the paper itself was not at hand to settle it. Lakes under ice lie at 0 to 4 °C, where the two agree to 0.3 %.
///
/// F. H. Fisher and V. P. Simmons, J. Acoust. Soc. Am. 62, 558–564 (1977), <https://doi.org/10.1121/1.381574>.
///
/// # Errors
/// An input outside the validity.
///
/// ```
/// use acoustics::{absorption::fisher_simmons, units::{Celsius, Hertz}};
/// let alpha = fisher_simmons(Hertz::from_khz(100.0), Celsius::new(0.0))?;
/// assert!((alpha.get() * 1e3 - 4.858).abs() < 0.01); // dB/km
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn fisher_simmons(frequency: Hertz, temperature: Celsius) -> Result<DbPerMetre, ModelError> {
    const MODEL: &str = "Fisher and Simmons (1977) absorption";
    let f = within(MODEL, "frequency", frequency.to_khz(), (10.0, 2000.0), "kHz")? * 1e3;
    let t = within(MODEL, "temperature", temperature.get(), (0.0, 30.0), "°C")?;
    let pressure_atm = 1.0;
    let pressure = 1.0 - 3.84e-4 * pressure_atm + 7.57e-8 * pressure_atm * pressure_atm;
    let nepers = (55.9 - 2.37 * t + 4.77e-2 * t * t - 3.48e-4 * t * t * t) * 1e-15 * f * f * pressure;
    Ok(DbPerMetre::new(nepers * 20.0 * std::f64::consts::LOG10_E))
}

impl WaterColumn {
    /// Mean absorption of the column: Francois and Garrison at the mean temperature and half the depth.
    ///
    /// # Errors
    /// An input outside the model's validity.
    pub fn absorption(&self, frequency: Hertz) -> Result<DbPerMetre, ModelError> {
        // The sound-speed model's own validity is checked too, so that both errors surface in one place.
        sound_speed(self.mean_temperature(), self.salinity)?;
        francois_garrison(frequency, self.mean_temperature(), self.salinity, self.depth * 0.5, self.ph)
    }
}
