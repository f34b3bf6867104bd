//! The bottom: what it reflects, what it scatters back, and what it scatters towards a neighbour.

use crate::bottom_table::{self, FREQUENCIES_KHZ, GRAZING_DEG, Strengths};
use crate::error::{ModelError, within};
use crate::units::{Angle, Db, Hertz, SurfaceStrength};

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
    /// | class | taken, dB | another handbook, dB |
    /// | --- | ---: | ---: |
    /// | clay | 24.8 | 14.0 |
    /// | silt | 24.0 | 11.0 |
    /// | fine, medium, coarse sand | 12.7, 8.6, 6.5 | 9.1 |
    /// | gravel | 5.4 | 7.7 |
    ///
    /// Taken: Rayleigh coefficient from the density and sound-speed ratios of APL-UW TR 9407 / TM 2-00 (their tables of default parameters). The
    /// other column: F. B. Jensen et al., Computational Ocean Acoustics (2011), table 1.3, <https://doi.org/10.1007/978-1-4419-8678-8>. The first
    /// describes the top centimetres, which is what 50 to 800 kHz reach into unconsolidated lake mud; the second the bulk of marine
    /// sediment at low frequencies. What they differ by is the spread ([`BottomClass::reflection_spread`]). Soft mud and ooze: Wood's mixture at
    /// 90 % and 95 % porosity, 4 °C, free of gas ([`wood_reflection`]); [`GASSY_REFLECTION_LOSS`] with it.
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

    /// Spread (one standard deviation) of the reflection loss: half of what two handbooks differ by, at least 1 dB; for mud and ooze, which no
    /// handbook has, as for clay.
    #[must_use]
    pub const fn reflection_spread(self) -> Db {
        Db::new(match self {
            Self::OrganicOoze | Self::SoftMud | Self::Clay => 5.4,
            Self::Silt => 6.5,
            Self::FineSand => 1.8,
            Self::MediumSand => 1.0,
            Self::CoarseSand => 1.3,
            Self::Gravel => 1.2,
            Self::Cobble | Self::Rock => 1.0,
        })
    }

    /// Spread of the class's backscattering strength, dB.
    #[must_use]
    pub const fn strength_spread(self) -> Db {
        match self {
            Self::OrganicOoze | Self::SoftMud => SOFT_STRENGTH_SPREAD,
            Self::Clay | Self::Silt | Self::FineSand | Self::MediumSand | Self::CoarseSand => STRENGTH_SPREAD,
            Self::Gravel | Self::Cobble | Self::Rock => HARD_STRENGTH_SPREAD,
        }
    }

    /// Whether the class is soft enough to hold gas: mud that rots.
    #[must_use]
    pub const fn may_hold_gas(self) -> bool {
        matches!(self, Self::OrganicOoze | Self::SoftMud | Self::Clay | Self::Silt)
    }

    /// Backscattering strength by frequency and grazing angle; of silt for what is softer.
    const fn table(self) -> &'static Strengths {
        match self {
            Self::OrganicOoze | Self::SoftMud | Self::Clay | Self::Silt => &bottom_table::SILT,
            Self::FineSand => &bottom_table::FINE_SAND,
            Self::MediumSand => &bottom_table::MEDIUM_SAND,
            Self::CoarseSand => &bottom_table::COARSE_SAND,
            Self::Gravel => &bottom_table::GRAVEL,
            Self::Cobble => &bottom_table::COBBLE,
            Self::Rock => &bottom_table::ROCK,
        }
    }
}

const MODEL: &str = "bottom backscattering table";

/// Gas in soft mud.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Gas {
    /// None.
    No,
    /// Bubbles, a per mille of the volume or more.
    Yes,
}

/// How likely a soft bottom of which nothing is known holds gas. ASSUMED, no published figure for lakes under ice: rotting mud often does, most
/// lake bottoms do not show it.
pub const GAS_PRIOR: f64 = 0.2;

/// Reflection loss of soft mud (90 % porosity) with one per mille of gas, positive: Wood's mixture, held to [`wood_reflection`] by a test.
pub const GASSY_REFLECTION_LOSS: Db = Db::new(6.49);

/// Frequencies of the table, kHz; beyond, down to 10 and up to 2,000 kHz, the nearest row stands in and the figure counts as assumed.
pub const TABULATED_KHZ: (f64, f64) = (30.0, 1000.0);

/// Spread (one standard deviation) of the backscattering strength of sand and softer bottoms against nature, dB.
pub const STRENGTH_SPREAD: Db = Db::new(4.0);

/// The same for mud and ooze, which stand under silt by their reflection losses only.
pub const SOFT_STRENGTH_SPREAD: Db = Db::new(6.0);

/// The same for gravel and harder, where the choice of model alone makes as much: at 100 kHz the older handbook (APL-UW TR 9407, 1994) differs
/// from the table by 4.2 dB in the median and 7 dB at most, and states some 10 dB for itself; silt and sands agree within their spread.
pub const HARD_STRENGTH_SPREAD: Db = Db::new(7.0);

/// Backscattering strength S_b of a bottom class at a frequency and a grazing angle (90° is straight down).
///
/// Interpolated in grazing angle and in the logarithm of frequency from the small-slope model of APL-UW TM 2-00 run at c = 1421.6 m/s, 30 to
/// 1,000 kHz (`bottom_table`). Clay, soft mud and ooze stand under silt by the difference of their reflection losses
/// ([`BottomClass::reflection_loss`]).
///
/// Validity: 10 to 2,000 kHz, 30° to 90° grazing. The model's authors intend 10 to 100 kHz; coarse classes saturate above that. Outside
/// [`TABULATED_KHZ`] the nearest row stands in. Nature differs by ±4 dB or more ([`BottomClass::strength_spread`]).
///
/// APL-UW TM 2-00 (2000); D. R. Jackson and M. D. Richardson, High-Frequency Seafloor Acoustics (2007),
/// <https://doi.org/10.1007/978-0-387-36945-7>; values by the open backscatter toolchain's implementation (`tests/reference/bottom.py`).
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
    let khz = within(MODEL, "frequency", frequency.to_khz(), (10.0, 2000.0), "kHz")?;
    let angle = within(MODEL, "grazing angle", grazing.to_degrees(), (30.0 - 1e-9, 90.0 + 1e-9), "°")?;
    let khz = khz.clamp(TABULATED_KHZ.0, TABULATED_KHZ.1);
    let above = FREQUENCIES_KHZ.partition_point(|row| *row <= khz).clamp(1, FREQUENCIES_KHZ.len() - 1);
    let row = |index: usize| match (FREQUENCIES_KHZ.get(index), class.table().get(index)) {
        (Some(row), Some(strengths)) => (*row, interpolate(strengths, angle)),
        _ => (khz, f64::NEG_INFINITY),
    };
    let ((low, at_low), (high, at_high)) = (row(above - 1), row(above));
    let value = at_low + libm::log(khz / low) / libm::log(high / low) * (at_high - at_low);
    let below_silt = if class < BottomClass::Silt {
        BottomClass::Silt.reflection_loss() - class.reflection_loss()
    } else {
        Db::new(0.0)
    };
    Ok(SurfaceStrength::new(value + below_silt.get()))
}

/// How much stronger a bottom scatters with gas in it: it echoes as rock does, 10° off the vertical; nothing where it holds none.
///
/// Wood's mixture reflects like rock from a per mille of bubbles on (−6.5 dB of soft mud, −3 of rock); that it scatters like it is an
/// assumption, with the spread of hard bottoms.
///
/// # Errors
/// As [`strength`].
pub fn gas_rise(class: BottomClass, gas: Gas, frequency: Hertz) -> Result<Db, ModelError> {
    match gas {
        Gas::Yes if class.may_hold_gas() => {
            let at = |class| strength(class, frequency, Angle::from_degrees(80.0));
            Ok(Db::new((at(BottomClass::Rock)?.get() - at(class)?.get()).max(0.0)))
        }
        Gas::Yes | Gas::No => Ok(Db::new(0.0)),
    }
}

/// Reflection coefficient at normal incidence of a suspension of grains, water and gas bubbles after Wood (1930), signed.
///
/// ρ = Σ φᵢ ρᵢ, 1/K = Σ φᵢ/Kᵢ, c = √(K/ρ), R = (ρc − ρ₀c₀)/(ρc + ρ₀c₀); φ parts of the volume, the gas taken from what the pores hold.
///
/// Validity: frequencies under the resonance of the bubbles; above it they scatter instead. Water of 4 °C.
///
/// A. B. Wood, A Textbook of Sound (1930), p. 326.
///
/// ```
/// use acoustics::bottom::wood_reflection;
/// let mud = wood_reflection(0.9, (2000.0, 3.6e10), 0.0, 2.0e5);
/// assert!((mud - 0.049).abs() < 0.002);
/// ```
#[must_use]
pub fn wood_reflection(porosity: f64, (solid_density, solid_modulus): (f64, f64), gas: f64, pressure_pa: f64) -> f64 {
    let (water, speed) = (999.97, 1_421.6);
    let modulus = water * speed * speed;
    // Marsh gas is methane: 0.70 kg/m³ at 4 °C and one atmosphere, 1.31 times its pressure when pressed fast.
    let (gas_density, gas_modulus) = (0.70 * pressure_pa / 101_325.0, 1.31 * pressure_pa);
    let parts = [
        (1.0 - porosity, solid_density, solid_modulus),
        (porosity - gas, water, modulus),
        (gas, gas_density, gas_modulus),
    ];
    let density: f64 = parts.iter().map(|(part, density, _)| part * density).sum();
    let compliance: f64 = parts.iter().map(|(part, _, modulus)| part / modulus).sum();
    let (bottom, above) = (libm::sqrt(density / compliance), water * speed);
    (bottom - above) / (bottom + above)
}

/// Along a row of the table.
fn interpolate(row: &[f64; 21], grazing_deg: f64) -> f64 {
    let after = GRAZING_DEG.partition_point(|angle| *angle > grazing_deg).clamp(1, GRAZING_DEG.len() - 1);
    let at = |index: usize| Some((*GRAZING_DEG.get(index)?, *row.get(index)?));
    match (at(after - 1), at(after)) {
        (Some((high, at_high)), Some((low, at_low))) => {
            at_high + (at_low - at_high) * ((high - grazing_deg) / (high - low)).clamp(0.0, 1.0)
        }
        _ => f64::NEG_INFINITY,
    }
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
