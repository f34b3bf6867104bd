//! Target strength of lures, fish and reference targets.

use std::f64::consts::PI;

use crate::error::{ModelError, water_speed, within};
use crate::units::{Angle, Hertz, Metres, MetresPerSecond, TargetStrength};

pub use crate::sphere::{Elastic, solid_sphere};

/// Materials of spheres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SphereMaterial {
    /// Tungsten carbide with 6 % cobalt.
    TungstenCarbide,
    /// Tungsten.
    Tungsten,
    /// Lead.
    Lead,
    /// Brass.
    Brass,
    /// Steel.
    Steel,
}

/// Loss factor of lead. ASSUMED: handbooks give soft lead 0.02 to 0.3 and hard lead less (L. Cremer, M. Heckl and E. E. Ungar, Structure-Borne Sound,
/// 2nd ed., 1988, table of loss factors, from memory); the other metals here lose a thousandth and less, which moves nothing.
const LEAD_LOSS: f64 = 0.05;

impl SphereMaterial {
    /// Density, wave speeds and loss. Tungsten carbide: nominal values shipped with echosms 0.24.0. The others are handbook values from memory,
    /// nominal for the metal and not for an alloy at hand.
    #[must_use]
    pub const fn elastic(self) -> Elastic {
        match self {
            Self::TungstenCarbide => Elastic { density: 14_900.0, longitudinal: 6853.0, shear: 4171.0, loss: 0.0 },
            Self::Tungsten => Elastic { density: 19_300.0, longitudinal: 5200.0, shear: 2900.0, loss: 0.0 },
            Self::Lead => Elastic { density: 11_340.0, longitudinal: 2160.0, shear: 700.0, loss: LEAD_LOSS },
            Self::Brass => Elastic { density: 8_500.0, longitudinal: 4400.0, shear: 2150.0, loss: 0.0 },
            Self::Steel => Elastic { density: 7_850.0, longitudinal: 5900.0, shear: 3200.0, loss: 0.0 },
        }
    }
}

/// Which published regression of target strength on length serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FishClass {
    /// Any fish, dorsal, frequency dependent (Love 1977).
    General,
    /// Fish with a closed swim bladder, such as perch (Foote 1987, physoclists).
    ClosedSwimBladder,
    /// Fish with an open swim bladder, such as whitefish and trout (Foote 1987, clupeoids as a stand-in).
    OpenSwimBladder,
    /// Rainbow smelt (Rudstam et al. 2003).
    Smelt,
    /// Vendace and other small whitefish (Świerzowski and Doroszczyk 2004).
    Vendace,
    /// Alewife (Warner, Rudstam and Klumb 2002).
    Alewife,
}

/// Mean dorsal target strength of a fish of total length L.
///
/// | class | TS, L in cm, f in kHz | source |
/// | --- | --- | --- |
/// | general | 19.1 lg L − 0.9 lg f − 62.0 | Love, JASA 62, 1397 (1977), <https://doi.org/10.1121/1.381672> (coefficients from memory) |
/// | closed swim bladder | 20 lg L − 67.4 | Foote, JASA 82, 981 (1987), <https://doi.org/10.1121/1.395298>, 38 kHz |
/// | open swim bladder | 20 lg L − 71.9 | same |
/// | smelt | 19.9 lg L − 67.8 | Rudstam et al., ICES J. Mar. Sci. 60, 500 (2003), 120 kHz |
/// | vendace | 20 lg L − 65.4 | Świerzowski and Doroszczyk (2004), 120 kHz |
/// | alewife | 20.53 lg L − 64.25 | Warner, Rudstam and Klumb, TAFS 131, 212 (2002) |
///
/// Validity: 1 to 200 cm, 10 to 2,000 kHz; single fish scatter by ±5 dB and more around any of them.
///
/// # Errors
/// A length or a frequency outside the validity.
///
/// ```
/// use acoustics::{target::{fish, FishClass}, units::{Hertz, Metres}};
/// let ts = fish(FishClass::ClosedSwimBladder, Metres::new(0.1), Hertz::from_khz(200.0))?;
/// assert!((ts.get() + 47.4).abs() < 1e-9);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn fish(class: FishClass, length: Metres, frequency: Hertz) -> Result<TargetStrength, ModelError> {
    const MODEL: &str = "fish target strength";
    let cm = within(MODEL, "length", length.get() * 100.0, (1.0, 200.0), "cm")?;
    let khz = within(MODEL, "frequency", frequency.to_khz(), (10.0, 2000.0), "kHz")?;
    let log_length = libm::log10(cm);
    Ok(TargetStrength::new(match class {
        FishClass::General => 19.1 * log_length - 0.9 * libm::log10(khz) - 62.0,
        FishClass::ClosedSwimBladder => 20.0 * log_length - 67.4,
        FishClass::OpenSwimBladder => 20.0 * log_length - 71.9,
        FishClass::Smelt => 19.9 * log_length - 67.8,
        FishClass::Vendace => 20.0 * log_length - 65.4,
        FishClass::Alewife => 20.53 * log_length - 64.25,
    }))
}

/// Tilts that bodies are given with: either way up to edge on, with room for rounding.
const TILT_DEG: (f64, f64) = (-90.0 - 1e-9, 90.0 + 1e-9);

/// A side of a body: positive, and no larger than anything that hangs in a lake.
fn size(model: &'static str, side: &'static str, given: Metres) -> Result<f64, ModelError> {
    within(model, side, given.get(), (1e-6, 10.0), "m")
}

/// Target strength of a flat rigid disc tilted by an angle: 20 lg(A/λ) + 20 lg |2J₁(β)/β · cos θ|, β = 2ka sin θ.
///
/// Kirchhoff approximation; Urick (1983), table 9.1. Validity: ka ≥ 1; within about 0.5 dB at normal incidence for ka ≥ 4.
///
/// # Errors
/// A disc too small for the approximation or outside 1 µm to 10 m, a tilt over a right angle, or no water: a speed outside 1,000 to 2,000 m/s.
///
/// ```
/// use acoustics::{target::disc, units::{Angle, Hertz, Metres, MetresPerSecond}};
/// let ts = disc(Metres::new(0.010), Angle::new(0.0), Hertz::from_khz(200.0), MetresPerSecond::new(1421.635))?;
/// assert!((ts.get() + 39.133).abs() < 0.01);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn disc(
    diameter: Metres,
    tilt: Angle,
    frequency: Hertz,
    speed: MetresPerSecond,
) -> Result<TargetStrength, ModelError> {
    const MODEL: &str = "flat disc target strength";
    let radius = 0.5 * size(MODEL, "diameter", diameter)?;
    let tilt = within(MODEL, "tilt", tilt.to_degrees(), TILT_DEG, "°")?.to_radians();
    let wavelength = water_speed(MODEL, speed)? / frequency.get();
    let ka = within(MODEL, "ka", 2.0 * PI * radius / wavelength, (1.0, 1e4), "")?;
    let normal = 20.0 * libm::log10(PI * radius * radius / wavelength);
    let beta = 2.0 * ka * libm::sin(tilt);
    let tilted = crate::pattern::piston_amplitude(beta).abs() * libm::cos(tilt).abs();
    Ok(TargetStrength::new(normal + 20.0 * libm::log10(tilted.max(1e-6))))
}

/// Target strength of a short rigid cylinder tilted from broadside: 10 lg(a L² / 2λ) + 20 lg |sin β / β · cos θ|, β = kL sin θ.
///
/// Urick (1983), table 9.1. Validity: ka ≥ 0.8 here; the handbook asks for ka ≫ 1, and against the exact series the formula is within 2.5 dB
/// near ka = 1 and 0.5 dB from ka = 3.5.
///
/// # Errors
/// A cylinder too thin for the form, a side outside 1 µm to 10 m, a tilt over a right angle, or no water: a speed outside 1,000 to 2,000 m/s.
///
/// ```
/// use acoustics::{target::cylinder, units::{Angle, Hertz, Metres, MetresPerSecond}};
/// let ts = cylinder(Metres::new(0.025), Metres::new(0.005), Angle::new(0.0),
///     Hertz::from_khz(455.0), MetresPerSecond::new(1421.635))?;
/// assert!((ts.get() + 36.02).abs() < 0.01);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn cylinder(
    length: Metres,
    diameter: Metres,
    tilt: Angle,
    frequency: Hertz,
    speed: MetresPerSecond,
) -> Result<TargetStrength, ModelError> {
    const MODEL: &str = "cylinder target strength";
    let radius = 0.5 * size(MODEL, "diameter", diameter)?;
    let length = size(MODEL, "length", length)?;
    let tilt = within(MODEL, "tilt", tilt.to_degrees(), TILT_DEG, "°")?.to_radians();
    let wavelength = water_speed(MODEL, speed)? / frequency.get();
    within(MODEL, "ka", 2.0 * PI * radius / wavelength, (0.8, 1e4), "")?;
    let broadside = 10.0 * libm::log10(radius * length * length / (2.0 * wavelength));
    let beta = 2.0 * PI / wavelength * length * libm::sin(tilt);
    let tilted = crate::pattern::rectangle_amplitude(beta).abs() * libm::cos(tilt).abs();
    Ok(TargetStrength::new(broadside + 20.0 * libm::log10(tilted.max(1e-6))))
}

/// Greatest deviation of a lure's size from the one stated, as a part of it. ASSUMED: lures are cast and painted, stated in whole millimetres, and no
/// ball of theirs has one radius. With less, the resonances of brass would still move a strength by 3 dB with 3 % of size.
pub const LURE_SIZE_SPREAD: f64 = 0.18;
/// Points over band and size together, and aspects over a quarter turn.
const MEAN_POINTS: usize = 33;
const ASPECTS: u32 = 96;

/// Mean target strength over the band of a pulse and some per cent of size.
///
/// A body's strength depends on frequency times size. Over the band B of the pulse, at least 1/τ, the energies add: σ_B = mean of σ over f ± B/2.
/// Over what the size may differ by, as a part of it, the levels are averaged, with the weights of a raised cosine; 0 for a ball of known size.
/// Resonances of a continuous wave, which no pulse of this length ever builds up, then no longer decide.
///
/// # Errors
/// Whatever the model says.
pub fn mean_over_band(
    frequency: Hertz,
    band: Hertz,
    size_spread: f64,
    model: impl Fn(Hertz) -> Result<TargetStrength, ModelError>,
) -> Result<TargetStrength, ModelError> {
    let half_band = (0.5 * band.get() / frequency.get()).min(0.5);
    let reach = half_band + size_spread;
    let places: [f64; MEAN_POINTS] = std::array::from_fn(|point| {
        let middle = 0.5 * crate::interference::real(MEAN_POINTS - 1);
        reach * (crate::interference::real(point) - middle) / middle
    });
    let mut powers = [0.0; MEAN_POINTS];
    for (power, place) in powers.iter_mut().zip(places) {
        let strength = model(Hertz::new(frequency.get() * (1.0 + place)))?;
        *power = libm::pow(10.0, strength.get() / 10.0);
    }
    let (mut level, mut weights) = (0.0, 0.0);
    for middle in places {
        let off = middle.abs();
        let weight = if off < size_spread {
            1.0 + libm::cos(PI * off / size_spread)
        } else {
            1e-9 * f64::from(u8::from(off < 1e-12))
        };
        if weight == 0.0 {
            continue;
        }
        let (mut power, mut parts) = (0.0, 0.0);
        for (place, here) in places.iter().zip(powers) {
            // The ends of the band count by the part that lies in it.
            let part = ((half_band - (place - middle).abs()) / (2.0 * reach)
                * crate::interference::real(MEAN_POINTS - 1)
                + 0.5)
                .clamp(0.0, 1.0);
            power += part * here;
            parts += part;
        }
        level += weight * 10.0 * libm::log10(power / parts);
        weights += weight;
    }
    Ok(TargetStrength::new(level / weights))
}

/// How a flat or long body lies to the beam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Aspect {
    /// Face on or broadside, as a body that is hung level.
    Strongest,
    /// Any way up, as likely as any other: a body that hangs and turns on a line. ASSUMED; what a jigged lure does was not found in print.
    Any,
}

/// Spread (one standard deviation) of the strength of a body of which the aspect is not known, dB: such a body flashes between face on and edge on.
pub const ASPECT_SPREAD: f64 = 6.0;

/// Mean strength of a disc over its aspects: 10 lg ∫₀^{π/2} σ(θ) sin θ dθ, θ from the normal; for a large disc 10 lg(a²/8), its surface over 16π, a the
/// radius.
///
/// Urick (1983), table 9.1, as [`disc`].
///
/// # Errors
/// As [`disc`].
pub fn mean_disc(diameter: Metres, frequency: Hertz, speed: MetresPerSecond) -> Result<TargetStrength, ModelError> {
    mean_over_aspects(libm::sin, |tilt| disc(diameter, tilt, frequency, speed))
}

/// Mean strength of a cylinder over its aspects: 10 lg ∫₀^{π/2} σ(θ) cos θ dθ, θ from broadside.
///
/// Urick (1983), table 9.1, as [`cylinder`].
///
/// # Errors
/// As [`cylinder`].
pub fn mean_cylinder(
    length: Metres,
    diameter: Metres,
    frequency: Hertz,
    speed: MetresPerSecond,
) -> Result<TargetStrength, ModelError> {
    mean_over_aspects(libm::cos, |tilt| cylinder(length, diameter, tilt, frequency, speed))
}

fn mean_over_aspects(
    weight: impl Fn(f64) -> f64,
    strength: impl Fn(Angle) -> Result<TargetStrength, ModelError>,
) -> Result<TargetStrength, ModelError> {
    let step = 0.5 * PI / f64::from(ASPECTS);
    let mut power = 0.0;
    for index in 0..ASPECTS {
        let tilt = (f64::from(index) + 0.5) * step;
        power += weight(tilt) * libm::pow(10.0, strength(Angle::new(tilt))?.get() / 10.0);
    }
    Ok(TargetStrength::new(10.0 * libm::log10(power * step)))
}

/// Frequencies at which the regression of a class was fitted, kHz.
#[must_use]
pub const fn fitted_khz(class: FishClass) -> (f64, f64) {
    match class {
        // Love's data reach over decades of length over wavelength.
        FishClass::General => (15.0, 1000.0),
        FishClass::ClosedSwimBladder | FishClass::OpenSwimBladder => (38.0, 38.0),
        FishClass::Smelt => (70.0, 120.0),
        FishClass::Vendace => (120.0, 120.0),
        FishClass::Alewife => (70.0, 120.0),
    }
}

/// Spread added by each octave outside those frequencies, dB: regressions at 38 to 200 kHz differ by 8 dB for one length over 2.4 octaves.
const SPREAD_PER_OCTAVE: f64 = 1.5;

/// How much wider the strength of a fish is spread because its regression was fitted at other frequencies, dB; 0 inside them.
#[must_use]
pub fn fitted_elsewhere(class: FishClass, frequency: Hertz) -> f64 {
    let (low, high) = fitted_khz(class);
    let khz = frequency.to_khz();
    // A tenth of an octave is the same frequency.
    let octaves = libm::log2((low / khz).max(khz / high)).max(0.0);
    if octaves < 0.1 { 0.0 } else { SPREAD_PER_OCTAVE * octaves }
}
