//! The bottom: what it reflects, what it scatters back, and what it scatters towards a neighbour.

use crate::error::{ModelError, within};
use crate::units::{Angle, Db, HalfAngle, Hertz, SurfaceStrength};

/// Bottom classes, softest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum BottomClass {
    /// Organic ooze, about 95 % water.
    OrganicOoze,
    /// Soft mud, about 90 % water.
    SoftMud,
    /// Clay.
    Clay,
    /// Silt.
    Silt,
    /// Fine sand.
    FineSand,
    /// Medium sand.
    MediumSand,
    /// Coarse sand.
    CoarseSand,
    /// Gravel.
    Gravel,
    /// Cobble.
    Cobble,
    /// Rock.
    Rock,
}

impl BottomClass {
    /// Every class, softest first.
    pub const ALL: [Self; 10] = [
        Self::OrganicOoze,
        Self::SoftMud,
        Self::Clay,
        Self::Silt,
        Self::FineSand,
        Self::MediumSand,
        Self::CoarseSand,
        Self::Gravel,
        Self::Cobble,
        Self::Rock,
    ];

    /// Reflection loss at normal incidence, positive.
    ///
    /// Rock to clay: Rayleigh coefficient from the density and sound-speed ratios of APL-UW TR 9407 / TM 2-00 (their tables of default
    /// parameters). Soft mud and ooze: Wood's mixture at 90 % and 95 % porosity, 4 °C, free of gas. Gas changes this entirely (a per
    /// mille of bubbles makes mud reflect like rock) and is not modelled.
    #[must_use]
    pub const fn reflection_loss(self) -> Db {
        Db::new(match self {
            Self::OrganicOoze => 40.01,
            Self::SoftMud => 26.27,
            Self::Clay => 24.80,
            Self::Silt => 24.01,
            Self::FineSand => 12.66,
            Self::MediumSand => 8.64,
            Self::CoarseSand => 6.52,
            Self::Gravel => 5.38,
            Self::Cobble => 3.93,
            Self::Rock => 3.05,
        })
    }

    /// Spread of the class's backscattering strength, dB.
    #[must_use]
    pub const fn strength_spread(self) -> Db {
        match self {
            Self::OrganicOoze
            | Self::SoftMud
            | Self::Clay
            | Self::Silt
            | Self::FineSand
            | Self::MediumSand
            | Self::CoarseSand => STRENGTH_SPREAD,
            Self::Gravel | Self::Cobble | Self::Rock => HARD_STRENGTH_SPREAD,
        }
    }

    /// Backscattering strength at 200 kHz (100 kHz for gravel and coarser) at the grazing angles of [`GRAZING_DEG`].
    const fn table(self) -> [f64; 7] {
        match self {
            Self::OrganicOoze | Self::SoftMud | Self::Clay | Self::Silt => {
                [-13.6, -19.1, -24.5, -26.8, -27.4, -28.4, -29.9]
            }
            Self::FineSand => [-13.5, -14.0, -15.1, -18.3, -21.0, -23.0, -23.9],
            Self::MediumSand => [-13.0, -13.1, -13.6, -15.1, -17.1, -19.5, -19.4],
            Self::CoarseSand => [-13.9, -14.0, -14.0, -14.2, -14.8, -15.9, -16.2],
            Self::Gravel => [-18.2, -18.1, -17.9, -17.2, -16.1, -13.5, -12.9],
            Self::Cobble => [-15.5, -15.5, -15.5, -15.4, -14.5, -11.4, -11.5],
            Self::Rock => [-11.6, -11.6, -11.7, -12.0, -14.1, -10.6, -13.5],
        }
    }
}

/// Grazing angles of the tables, falling from nadir.
const GRAZING_DEG: [f64; 7] = [90.0, 85.0, 80.0, 70.0, 60.0, 45.0, 30.0];
/// Silt at 100 kHz: its nadir peak is narrower and higher than at 200 kHz.
const SILT_100_KHZ: [f64; 7] = [-10.1, -19.9, -25.3, -26.9, -27.4, -28.4, -30.0];
const MODEL: &str = "bottom backscattering table";

/// Frequencies at which the table has support; outside it, within the validity of [`strength`], the nearest row is used and the
/// figure counts as assumed.
pub const TABULATED_KHZ: (f64, f64) = (100.0, 200.0);

/// Spread (one standard deviation) of the backscattering strength of sand and softer bottoms against nature, dB.
pub const STRENGTH_SPREAD: Db = Db::new(4.0);

/// The same for gravel and harder, where the choice of model alone makes as much: at 100 kHz the older handbook (APL-UW TR 9407, 1994) differs
/// from the table by 4.2 dB in the median and 7 dB at most, and states some 10 dB for itself; silt and sands agree within their spread.
pub const HARD_STRENGTH_SPREAD: Db = Db::new(7.0);

/// Backscattering strength S_b of a bottom class at a frequency and a grazing angle (90° is straight down).
///
/// Interpolated in grazing angle, and for silt in the logarithm of frequency between 100 and 200 kHz, from the small-slope model of
/// APL-UW TM 2-00 run at c = 1421.6 m/s. Clay, soft mud and ooze stand under silt by the difference of their reflection losses
/// ([`BottomClass::reflection_loss`]).
///
/// Validity: 30 to 1,000 kHz, 30° to 90° grazing. The model's authors intend 10 to 100 kHz; coarse classes saturate above that, and no
/// published table reaches 800 kHz, so outside [`TABULATED_KHZ`] the nearest row stands in. Nature differs by ±4 dB or more ([`BottomClass::strength_spread`]).
///
/// APL-UW TM 2-00 (2000); D. R. Jackson and M. D. Richardson, High-Frequency Seafloor Acoustics (2007),
/// <https://doi.org/10.1007/978-0-387-36945-7>; values by the open backscatter toolchain's implementation.
///
/// # Errors
/// A frequency or an angle outside the validity.
///
/// ```
/// use acoustics::{bottom::{strength, BottomClass}, units::{Angle, Hertz}};
/// let s = strength(BottomClass::FineSand, Hertz::from_khz(200.0), Angle::from_degrees(80.0))?;
/// assert!((s.get() + 15.1).abs() < 1e-9);
/// # Ok::<(), acoustics::ModelError>(())
/// ```
pub fn strength(class: BottomClass, frequency: Hertz, grazing: Angle) -> Result<SurfaceStrength, ModelError> {
    let khz = within(MODEL, "frequency", frequency.to_khz(), (30.0, 1000.0), "kHz")?;
    let angle = within(MODEL, "grazing angle", grazing.to_degrees(), (30.0 - 1e-9, 90.0 + 1e-9), "°")?;
    let fine = class <= BottomClass::Silt;
    let at_200 = interpolate(&class.table(), angle);
    let value = if fine {
        let part = (libm::log2(khz / TABULATED_KHZ.0)).clamp(0.0, 1.0);
        let at_100 = interpolate(&SILT_100_KHZ, angle);
        let below_silt = BottomClass::Silt.reflection_loss() - class.reflection_loss();
        at_100 + part * (at_200 - at_100) + below_silt.get()
    } else {
        at_200
    };
    Ok(SurfaceStrength::new(value))
}

/// Strength of the bottom in the cone that a beam lights at nadir: the mean of S_b (as power, by area) over incidence 0 to the half angle.
///
/// # Errors
/// As [`strength`]; the half angle may reach 60°.
pub fn nadir_strength(
    class: BottomClass,
    frequency: Hertz,
    half_angle: HalfAngle,
) -> Result<SurfaceStrength, ModelError> {
    const RINGS: u32 = 16;
    let edge = within(MODEL, "half angle", half_angle.to_degrees(), (0.0, 90.0), "°")?.min(60.0);
    let mut power = 0.0;
    for ring in 0..RINGS {
        // Equal-area rings: the radius grows with the square root.
        let part = libm::sqrt((f64::from(ring) + 0.5) / f64::from(RINGS));
        let s = strength(class, frequency, Angle::from_degrees(90.0 - part * edge))?;
        power += libm::pow(10.0, s.get() / 10.0);
    }
    Ok(SurfaceStrength::new(10.0 * libm::log10(power / f64::from(RINGS))))
}

fn interpolate(table: &[f64; 7], grazing_deg: f64) -> f64 {
    let pairs = GRAZING_DEG.windows(2).zip(table.windows(2));
    for (angles, values) in pairs {
        if let ([high, low], [at_high, at_low]) = (angles, values)
            && grazing_deg >= *low
        {
            return at_high + (at_low - at_high) * (high - grazing_deg).max(0.0) / (high - low);
        }
    }
    table.last().copied().unwrap_or(f64::NEG_INFINITY)
}

/// Rayleigh reflection coefficient of a fluid bottom, magnitude.
///
/// R = (m cos t − √(n² − sin² t)) / (m cos t + √(n² − sin² t)), m = ρ₂/ρ₁, n = (c₁/c₂)(1 + iδ), t incidence from the normal,
/// δ = attenuation per wavelength / 54.575 dB.
///
/// F. B. Jensen et al., Computational Ocean Acoustics, 2nd ed. (2011), eq. 1.51 and table 1.3, <https://doi.org/10.1007/978-1-4419-8678-8>.
///
/// ```
/// use acoustics::{bottom::rayleigh_reflection, units::Angle};
/// let r = rayleigh_reflection(1.9, 1.1, 0.8 / 54.575, Angle::new(0.0)); // sand
/// assert!((r - 0.3528).abs() < 1e-3);
/// ```
#[must_use]
pub fn rayleigh_reflection(density_ratio: f64, speed_ratio: f64, loss_tangent: f64, incidence: Angle) -> f64 {
    let (sine, cosine) = (libm::sin(incidence.get()), libm::cos(incidence.get()));
    // n² with n = (1 + iδ)/(c₂/c₁)
    let scale = 1.0 / (speed_ratio * speed_ratio);
    let (re, im) = (scale * (1.0 - loss_tangent * loss_tangent) - sine * sine, scale * 2.0 * loss_tangent);
    // Principal square root of re + i im.
    let modulus = libm::hypot(re, im);
    let root_re = libm::sqrt(0.5 * (modulus + re).max(0.0));
    let root_im = libm::sqrt(0.5 * (modulus - re).max(0.0));
    let a = density_ratio * cosine;
    libm::hypot(a - root_re, root_im) / libm::hypot(a + root_re, root_im)
}

/// Reflection loss of the ice underside at normal incidence, positive: |R| = 0.4286 of a smooth water–ice half-space.
///
/// Ice Ih at 0 °C: 916.72 kg/m³, 3824 m/s (SeaFreeze 1.1.3, Journaux et al. 2020, <https://doi.org/10.1029/2019JE006176>); rough or
/// skeletal ice reflects less, air-backed thin ice more.
pub const ICE_UNDERSIDE_LOSS: Db = Db::new(7.36);

/// How a bottom scatters from one direction into another: a facet lobe around the local mirror direction and a diffuse part.
///
/// S(β) = S_f exp(−tan²β / tan²σ) + S_d (cos θᵢ cos θₛ)^p, β the angle between the vertical and the bisector of the two directions;
/// p = 1 is Lambert's law, p = 0 for classes whose backscatter does not fall towards grazing. Fitted to [`strength`] at 90°, 80°
/// and 45° so that it returns the same backscatter there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BistaticScatter {
    /// Facet part at β = 0, as a ratio.
    pub facet: f64,
    /// tan² σ of the facet slopes.
    pub tan2_sigma: f64,
    /// Diffuse part, as a ratio.
    pub diffuse: f64,
    /// Whether the diffuse part follows Lambert's law.
    pub lambert: bool,
}

impl BistaticScatter {
    /// The scatter of a class at a frequency.
    ///
    /// # Errors
    /// As [`strength`].
    pub fn new(class: BottomClass, frequency: Hertz) -> Result<Self, ModelError> {
        let at = |degrees: f64| -> Result<f64, ModelError> {
            Ok(libm::pow(10.0, strength(class, frequency, Angle::from_degrees(degrees))?.get() / 10.0))
        };
        let (nadir, near, oblique) = (at(90.0)?, at(80.0)?, at(45.0)?);
        // Lambert's law at 45° grazing: sin² 45° = ½.
        let lambert = 2.0 * oblique < nadir;
        let diffuse = if lambert { 2.0 * oblique } else { nadir.min(oblique) };
        let facet = nadir - diffuse;
        let cos2 = |degrees: f64| libm::pow(libm::sin(degrees.to_radians()), if lambert { 2.0 } else { 0.0 });
        let near_facet = near - diffuse * cos2(80.0);
        let tangent = libm::tan(10.0_f64.to_radians());
        let tan2_sigma = if near_facet > 1e-3 * facet && near_facet < facet {
            tangent * tangent / libm::log(facet / near_facet)
        } else {
            // The lobe has died away by 10°: take 85°, where the tables still show it.
            let near = at(85.0)? - diffuse * cos2(85.0);
            let tangent = libm::tan(5.0_f64.to_radians());
            if near > 0.0 && near < facet { tangent * tangent / libm::log(facet / near) } else { tangent * tangent }
        };
        Ok(Self { facet, tan2_sigma, diffuse, lambert })
    }

    /// Scattering strength as a ratio, from tan² β and the product of the cosines of the two directions with the vertical.
    #[must_use]
    pub fn ratio(&self, tan2_beta: f64, cosines: f64) -> f64 {
        let exponent = tan2_beta / self.tan2_sigma;
        // Past 37 the lobe is under the last bit of the diffuse part (e⁻³⁷ < 2⁻⁵³); most of the bottom lies there.
        let facet = if exponent < 37.0 { self.facet * libm::exp(-exponent) } else { 0.0 };
        facet + self.diffuse * if self.lambert { cosines } else { 1.0 }
    }
}
