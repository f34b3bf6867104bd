//! The water column: sound speed, density, and their mean under ice.

use crate::error::{ModelError, within};
use crate::units::{Celsius, GramsPerKilogram, KilogramsPerCubicMetre, Metres, MetresPerSecond};

/// Sound speed in pure water at atmospheric pressure after Marczak (1997).
///
/// c = Σ aᵢ Tⁱ, i = 0…5 (his eq. 7), with T in °C (ITS-90) and c in m/s.
///
/// Validity: 0 to 95 °C, 1 atm; [`WaterColumn`] adds what pressure does ([`SPEED_PER_METRE`]).
///
/// W. Marczak, J. Acoust. Soc. Am. 102(5), 2776–2779 (1997), <https://doi.org/10.1121/1.420332>.
///
/// # Errors
/// A temperature outside the validity.
///
/// ```
/// use acoustics::{units::Celsius, water::sound_speed_marczak};
/// let c = sound_speed_marczak(Celsius::new(4.0))?;
/// assert!((c.get() - 1421.6331).abs() < 1e-3);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn sound_speed_marczak(temperature: Celsius) -> Result<MetresPerSecond, ModelError> {
    let t = within("Marczak (1997) sound speed", "temperature", temperature.get(), (0.0, 95.0), "°C")?;
    Ok(MetresPerSecond::new(horner(t, [1402.385, 5.038_813, -5.799_136e-2, 3.287_156e-4, -1.398_845e-6, 2.787_860e-9])))
}

/// Sound speed in pure water after Bilaniuk and Wong (1993, 148-point fit, erratum 1996): the second support of the first.
///
/// c = Σ aᵢ Tⁱ, i = 0…5, with T in °C (ITS-90) and c in m/s.
///
/// Validity: 0 to 100 °C, 1 atm.
///
/// N. Bilaniuk and G. S. K. Wong, J. Acoust. Soc. Am. 93, 1609–1612 (1993), <https://doi.org/10.1121/1.406819>;
/// erratum 99, 3257 (1996), <https://doi.org/10.1121/1.414857>.
///
/// # Errors
/// A temperature outside the validity.
///
/// ```
/// use acoustics::{units::Celsius, water::sound_speed_bilaniuk_wong};
/// let c = sound_speed_bilaniuk_wong(Celsius::new(4.0))?;
/// assert!((c.get() - 1421.632).abs() < 1e-3);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn sound_speed_bilaniuk_wong(temperature: Celsius) -> Result<MetresPerSecond, ModelError> {
    let t = within("Bilaniuk and Wong (1993) sound speed", "temperature", temperature.get(), (0.0, 100.0), "°C")?;
    Ok(MetresPerSecond::new(horner(
        t,
        [1_402.387_44, 5.038_361_71, -5.811_729_16e-2, 3.346_381_17e-4, -1.482_596_72e-6, 3.165_850_20e-9],
    )))
}

/// Sound speed in saline water after Chen and Millero (1977) at atmospheric pressure: the UNESCO equation at p = 0.
///
/// c = C_w(T) + A(T) S + B(T) S^{3/2} + D S² (Fofonoff and Millard 1983, eqs 33–37), T converted from ITS-90 to IPTS-68 by
/// T₆₈ = 1.00024 T₉₀, S practical salinity (taken equal to g/kg, within 0.5 % for sea-salt ratios).
///
/// Validity: 0 to 40 °C, S 0 to 40. Lake salt is often carbonate or sulphate; the increment is then good to about 10 %.
///
/// C.-T. Chen and F. J. Millero, J. Acoust. Soc. Am. 62, 1129–1135 (1977), <https://doi.org/10.1121/1.381646>;
/// N. P. Fofonoff and R. C. Millard, UNESCO Tech. Pap. Mar. Sci. 44 (1983).
///
/// # Errors
/// A temperature or salinity outside the validity.
///
/// ```
/// use acoustics::{units::{Celsius, GramsPerKilogram}, water::sound_speed_unesco};
/// let fresh = sound_speed_unesco(Celsius::new(4.0), GramsPerKilogram::new(0.0))?;
/// assert!((fresh.get() - 1421.632).abs() < 2e-3);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn sound_speed_unesco(temperature: Celsius, salinity: GramsPerKilogram) -> Result<MetresPerSecond, ModelError> {
    const MODEL: &str = "UNESCO (Chen and Millero 1977) sound speed";
    let t = 1.000_24 * within(MODEL, "temperature", temperature.get(), (0.0, 40.0), "°C")?;
    let s = within(MODEL, "salinity", salinity.get(), (0.0, 40.0), "g/kg")?;
    let pure = horner(t, [1402.388, 5.037_11, -5.808_52e-2, 3.3420e-4, -1.478_00e-6, 3.1464e-9]);
    let a = horner(t, [1.389, -1.262e-2, 7.164e-5, 2.006e-6, -3.21e-8]);
    let b = horner(t, [-1.922e-2, -4.42e-5]);
    Ok(MetresPerSecond::new(pure + a * s + b * s * libm::sqrt(s) + 1.727e-3 * s * s))
}

/// Density of water at atmospheric pressure: UNESCO EOS-80 (Millero and Poisson 1981).
///
/// ρ = ρ_w(T) + A(T) S + B(T) S^{3/2} + C S², T in °C (IPTS-68), S practical salinity, ρ in kg/m³.
///
/// Validity: 0 to 40 °C, S 0 to 42.
///
/// F. J. Millero and A. Poisson, Deep-Sea Res. 28A, 625–629 (1981), <https://doi.org/10.1016/0198-0149(81)90122-9>.
///
/// # Errors
/// A temperature or salinity outside the validity.
///
/// ```
/// use acoustics::{units::{Celsius, GramsPerKilogram}, water::density};
/// let rho = density(Celsius::new(4.0), GramsPerKilogram::new(0.0))?;
/// assert!((rho.get() - 999.975).abs() < 0.01);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn density(temperature: Celsius, salinity: GramsPerKilogram) -> Result<KilogramsPerCubicMetre, ModelError> {
    const MODEL: &str = "EOS-80 density";
    let t = 1.000_24 * within(MODEL, "temperature", temperature.get(), (0.0, 40.0), "°C")?;
    let s = within(MODEL, "salinity", salinity.get(), (0.0, 42.0), "g/kg")?;
    let pure = horner(t, [999.842_594, 6.793_952e-2, -9.095_290e-3, 1.001_685e-4, -1.120_083e-6, 6.536_332e-9]);
    let a = horner(t, [8.244_93e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9]);
    let b = horner(t, [-5.724_66e-3, 1.0227e-4, -1.6546e-6]);
    Ok(KilogramsPerCubicMetre::new(pure + a * s + b * s * libm::sqrt(s) + 4.8314e-4 * s * s))
}

/// Sound speed by the model that fits: Marczak in fresh water, UNESCO where there is salt.
///
/// # Errors
/// Whatever the chosen model says.
pub fn sound_speed(temperature: Celsius, salinity: GramsPerKilogram) -> Result<MetresPerSecond, ModelError> {
    if salinity.get() == 0.0 { sound_speed_marczak(temperature) } else { sound_speed_unesco(temperature, salinity) }
}

/// Horner's scheme, lowest coefficient first.
fn horner<const N: usize>(x: f64, coefficients: [f64; N]) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, a| sum * x + a)
}

/// The water under the ice, from the transducer face to the bottom.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterColumn {
    /// Depth of the column.
    pub depth: Metres,
    /// Temperature at the top; 0 °C under ice.
    pub surface_temperature: Celsius,
    /// Temperature at the bottom; about 4 °C at most under ice, since the column is inversely stratified.
    pub bottom_temperature: Celsius,
    /// Salinity, uniform.
    pub salinity: GramsPerKilogram,
    /// Acidity; only matters where there is salt.
    pub ph: f64,
    /// A measured profile of (depth, temperature) with rising depths, used instead of the straight line between top and bottom.
    pub profile: Vec<(Metres, Celsius)>,
}

/// What a metre of water over it adds to the speed, m/s: ∂c/∂p = 1.606 m/s per MPa at 4 °C times 9.81 kPa per metre (IAPWS-95).
///
/// W. Wagner and A. Pruß, J. Phys. Chem. Ref. Data 31, 387 (2002), <https://doi.org/10.1063/1.1461829>.
pub const SPEED_PER_METRE: f64 = 0.015_75;

/// Steps of the profile integral; doubling them moves the mean by less than 1 mm/s.
const PROFILE_STEPS: u32 = 64;

impl WaterColumn {
    /// A fresh column under ice: 0 °C at the top, the given temperature at the bottom.
    #[must_use]
    pub fn under_ice(depth: Metres, bottom_temperature: Celsius) -> Self {
        Self {
            depth,
            surface_temperature: Celsius::new(0.0),
            bottom_temperature,
            salinity: GramsPerKilogram::new(0.0),
            ph: 7.5,
            profile: Vec::new(),
        }
    }

    /// Temperature at a fraction of the depth, 0 at the top and 1 at the bottom.
    #[must_use]
    pub fn temperature_at(&self, fraction: f64) -> Celsius {
        let z = fraction * self.depth.get();
        let mut above = (0.0, self.surface_temperature.get());
        for (depth, temperature) in &self.profile {
            if depth.get() >= z {
                return between(above, (depth.get(), temperature.get()), z);
            }
            above = (depth.get(), temperature.get());
        }
        between(above, (self.depth.get(), self.bottom_temperature.get()), z)
    }

    /// Mean temperature over the column, °C.
    #[must_use]
    pub fn mean_temperature(&self) -> Celsius {
        let sum: f64 = midpoints().map(|f| self.temperature_at(f).get()).sum();
        Celsius::new(sum / f64::from(PROFILE_STEPS))
    }

    /// The sound speed that turns travel time into depth: the harmonic mean c_h = d / ∫ dz / c(z).
    ///
    /// # Errors
    /// A temperature or salinity outside the sound-speed model, a depth that is not 0 to 1,000 m: farther down the speed does not rise evenly with it.
    ///
    /// ```
    /// use acoustics::{units::{Celsius, Metres}, water::WaterColumn};
    /// let column = WaterColumn::under_ice(Metres::new(10.0), Celsius::new(4.0));
    /// let c = column.mean_sound_speed()?.get();
    /// assert!((c - 1412.2).abs() < 0.1); // a fixed 1421.6 m/s (4 °C) would read 0.7 % deep
    /// # Ok::<(), acoustics::ModelError>(())
    /// ```
    pub fn mean_sound_speed(&self) -> Result<MetresPerSecond, ModelError> {
        let depth = within("mean sound speed of a column", "depth", self.depth.get(), (0.0, 1_000.0), "m")?;
        let mut slowness = 0.0;
        for f in midpoints() {
            let pressed = SPEED_PER_METRE * f * depth;
            slowness += 1.0 / (sound_speed(self.temperature_at(f), self.salinity)?.get() + pressed);
        }
        Ok(MetresPerSecond::new(f64::from(PROFILE_STEPS) / slowness))
    }

    /// Density at the mean temperature.
    ///
    /// # Errors
    /// A temperature or salinity outside the density model.
    pub fn mean_density(&self) -> Result<KilogramsPerCubicMetre, ModelError> {
        density(self.mean_temperature(), self.salinity)
    }
}

/// Midpoints of equal steps over the column.
fn midpoints() -> impl Iterator<Item = f64> {
    (0..PROFILE_STEPS).map(|i| (f64::from(i) + 0.5) / f64::from(PROFILE_STEPS))
}

/// The straight line between two points of a profile.
fn between((z0, t0): (f64, f64), (z1, t1): (f64, f64), z: f64) -> Celsius {
    Celsius::new(if z1 > z0 { t0 + (t1 - t0) * (z - z0) / (z1 - z0) } else { t1 })
}
