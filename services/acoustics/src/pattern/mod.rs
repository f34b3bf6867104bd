//! Beam patterns: the one-way level B(θ) relative to the axis.
//!
//! A [`Pattern`] is built once; afterwards every look-up is a table read without allocation. Patterns of one shape scale with
//! x = k a sin θ, so a changed beamwidth is a changed scale and not a new table.

mod plane;
mod shapes;
mod tabulated;

pub use plane::Plane;
pub use shapes::{piston_amplitude, rectangle_amplitude, solve_level, taylor_amplitude};
pub use tabulated::Pchip;

use std::f64::consts::PI;

use crate::error::{ModelError, within};
use crate::units::{Beamwidth, Db, FullAngle, HalfAngle, Metres, Steradians, WidthLevel};

/// What a pattern is computed from.
#[derive(Debug, Clone, PartialEq)]
pub enum Aperture {
    /// Uniform circular piston: B = 20 lg |2 J₁(x)/x|, x = k a sin θ.
    CircularPiston {
        /// Stated beamwidth.
        beamwidth: Beamwidth,
    },
    /// Circular aperture after Taylor (1960) for a stated peak side lobe.
    ShadedCircular {
        /// Stated beamwidth.
        beamwidth: Beamwidth,
        /// Peak side lobe, −40 to −20 dB.
        peak_side_lobe: Db,
    },
    /// Uniform rectangle: sinc × sinc.
    Rectangular {
        /// Beamwidth along the first side.
        along: Beamwidth,
        /// Beamwidth along the second side.
        across: Beamwidth,
    },
    /// Angle and level pairs, joined by a monotone cubic.
    Tabulated {
        /// Rising angles from zero; levels from 0 dB.
        points: Vec<(HalfAngle, Db)>,
    },
}

/// A beam pattern with its derived figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    along: Plane,
    /// The second principal plane and the mean over azimuth; none for a round beam.
    oblong: Option<(Plane, Plane)>,
    floor: Db,
    floor_power: f64,
    equivalent_beam_angle: Steradians,
    directivity_index: Db,
    aperture_area_wavelengths: Option<f64>,
}

impl Pattern {
    /// Builds the tables of an aperture whose pattern never falls under `floor`.
    ///
    /// Validity: beamwidths 1° to 180° (of a table, at −3 dB), peak side lobe −40 to −20 dB, floor −80 to −10 dB.
    ///
    /// T. T. Taylor, IRE Trans. Antennas Propag. AP-8, 17–22 (1960), <https://doi.org/10.1109/TAP.1960.1144807>;
    /// P. M. Morse and K. U. Ingard, Theoretical Acoustics (1968), section 7.4.
    ///
    /// # Errors
    /// A figure outside the validity, or a table that is too short or not rising.
    ///
    /// ```
    /// use acoustics::pattern::{Aperture, Pattern};
    /// use acoustics::units::{Beamwidth, Db, FullAngle, WidthLevel};
    /// let beamwidth = Beamwidth { full: FullAngle::from_degrees(12.0), at: WidthLevel::Minus3 };
    /// let pattern = Pattern::new(&Aperture::CircularPiston { beamwidth }, Db::new(-40.0))?;
    /// let edge = beamwidth.full.half();
    /// assert!((pattern.level(edge).get() + 3.0).abs() < 0.01);
    /// # Ok::<(), acoustics::ModelError>(())
    /// ```
    pub fn new(aperture: &Aperture, floor: Db) -> Result<Self, ModelError> {
        let floor = Db::new(within("beam pattern", "floor", floor.get(), (-80.0, -10.0), "dB")?);
        match aperture {
            Aperture::CircularPiston { beamwidth } => {
                let (x, sine) = (solve_level(piston_amplitude, beamwidth.at.db()), half_sine(*beamwidth)?);
                Ok(Self::round(|q| piston_amplitude(q * x), sine, floor, Some(x / sine)))
            }
            Aperture::ShadedCircular { beamwidth, peak_side_lobe } => {
                let lobe = within("shaded aperture", "peak side lobe", peak_side_lobe.get(), (-40.0, -20.0), "dB")?;
                let taper = shapes::Taylor::new(Db::new(lobe));
                let (x, sine) =
                    (solve_level(|x| taylor_amplitude(&taper, x), beamwidth.at.db()), half_sine(*beamwidth)?);
                Ok(Self::round(|q| taylor_amplitude(&taper, q * x), sine, floor, Some(x / sine)))
            }
            Aperture::Rectangular { along, across } => Self::rectangle(*along, *across, floor),
            Aperture::Tabulated { points } => {
                let curve = tabulated(points)?;
                let sine = curve.reference_sine();
                Ok(Self::round(|q| curve.amplitude_at_sine((q * sine).min(1.0), floor), sine, floor, None))
            }
        }
    }

    fn round(amplitude: impl Fn(f64) -> f64, sine: f64, floor: Db, ka: Option<f64>) -> Self {
        let along = Plane::sample(&amplitude, sine, floor);
        let (psi, power) = hemisphere(|s, _| amplitude(s / sine), 1);
        Self {
            along,
            oblong: None,
            floor,
            floor_power: libm::pow(10.0, floor.get() / 10.0),
            equivalent_beam_angle: Steradians::new(psi),
            directivity_index: Db::new(10.0 * libm::log10(4.0 * PI / power)),
            // Area over wavelength squared: π a² / λ² = (ka)² / (4 π).
            aperture_area_wavelengths: ka.map(|ka| ka * ka / (4.0 * PI)),
        }
    }

    fn rectangle(along: Beamwidth, across: Beamwidth, floor: Db) -> Result<Self, ModelError> {
        let side = |width: Beamwidth| -> Result<(f64, f64), ModelError> {
            Ok((solve_level(rectangle_amplitude, width.at.db()), half_sine(width)?))
        };
        let ((ta, sa), (tc, sc)) = (side(along)?, side(across)?);
        let value = |s: f64, azimuth: f64| {
            rectangle_amplitude(ta * s * libm::cos(azimuth) / sa)
                * rectangle_amplitude(tc * s * libm::sin(azimuth) / sc)
        };
        let (psi, power) = hemisphere(value, AZIMUTHS);
        let mean_sine = libm::sqrt(sa * sc);
        let mean = Plane::sample(
            &|q: f64| {
                let s = (q * mean_sine).min(1.0);
                let sum: f64 = azimuths(AZIMUTHS).map(|phi| value(s, phi)).map(|a| a * a * a * a).sum();
                libm::sqrt(libm::sqrt(sum / f64::from(AZIMUTHS)))
            },
            mean_sine,
            floor,
        );
        Ok(Self {
            along: Plane::sample(&|q: f64| rectangle_amplitude(q * ta), sa, floor),
            oblong: Some((Plane::sample(&|q: f64| rectangle_amplitude(q * tc), sc, floor), mean)),
            floor,
            floor_power: libm::pow(10.0, floor.get() / 10.0),
            equivalent_beam_angle: Steradians::new(psi),
            directivity_index: Db::new(10.0 * libm::log10(4.0 * PI / power)),
            // L = 2 t / (k sin θ), so L/λ = t / (π sin θ) on each side.
            aperture_area_wavelengths: Some((ta / (PI * sa)) * (tc / (PI * sc))),
        })
    }

    /// One-way level at an angle from the axis, in the first principal plane.
    #[must_use]
    pub fn level(&self, angle: HalfAngle) -> Db {
        Db::new(self.along.level(libm::sin(angle.get()), 1.0))
    }

    /// One-way level towards an angle and an azimuth from the first principal plane.
    #[must_use]
    pub fn level_towards(&self, angle: HalfAngle, azimuth: crate::units::Angle) -> Db {
        let sine = libm::sin(angle.get());
        match &self.oblong {
            None => Db::new(self.along.level(sine, 1.0)),
            Some((across, _)) => {
                let sum = self.along.level(sine * libm::cos(azimuth.get()).abs(), 1.0)
                    + across.level(sine * libm::sin(azimuth.get()).abs(), 1.0);
                Db::new(sum.max(self.floor.get()))
            }
        }
    }

    /// One-way intensity relative to the axis, from the sines of a direction along the two sides of the aperture.
    #[must_use]
    pub fn power_towards(&self, along: f64, across: f64) -> f64 {
        match &self.oblong {
            None => self.along.power(libm::sqrt(along * along + across * across)),
            Some((other, _)) => (self.along.power(along.abs()) * other.power(across.abs())).max(self.floor_power()),
        }
    }

    /// Intensity under which the pattern never falls.
    #[must_use]
    pub fn floor_power(&self) -> f64 {
        self.floor_power
    }

    /// The first principal plane.
    #[must_use]
    pub fn along(&self) -> &Plane {
        &self.along
    }

    /// The second principal plane; the first again for a round beam.
    #[must_use]
    pub fn across(&self) -> &Plane {
        self.oblong.as_ref().map_or(&self.along, |(across, _)| across)
    }

    /// The mean over azimuth, of what comes back (b², there and back); the plane itself for a round beam.
    #[must_use]
    pub fn mean_plane(&self) -> &Plane {
        self.oblong.as_ref().map_or(&self.along, |(_, mean)| mean)
    }

    /// The wider of the two principal planes.
    #[must_use]
    pub fn widest(&self) -> &Plane {
        if self.across().reference_sine() > self.along.reference_sine() { self.across() } else { &self.along }
    }

    /// The narrower of the two principal planes.
    #[must_use]
    pub fn narrowest(&self) -> &Plane {
        if self.across().reference_sine() < self.along.reference_sine() { self.across() } else { &self.along }
    }

    /// Whether the footprint is round.
    #[must_use]
    pub fn is_round(&self) -> bool {
        self.oblong.is_none()
    }

    /// Level under which the pattern never falls.
    #[must_use]
    pub fn floor(&self) -> Db {
        self.floor
    }

    /// Equivalent two-way beam angle ψ = ∫ b² dΩ over the hemisphere, b one-way intensity (ISO 18405: equivalent beam angle), by
    /// quadrature of the shape without its floor.
    #[must_use]
    pub fn equivalent_beam_angle(&self) -> Steradians {
        self.equivalent_beam_angle
    }

    /// Directivity index 10 lg (4π / ∫ b dΩ) in a rigid baffle, by quadrature of the shape without its floor.
    #[must_use]
    pub fn directivity_index(&self) -> Db {
        self.directivity_index
    }

    /// Rayleigh distance a²/λ (area / πλ for any aperture); levels nearer than that are approximate. None for a tabulated pattern.
    #[must_use]
    pub fn rayleigh_distance(&self, wavelength: Metres) -> Option<Metres> {
        self.aperture_area_wavelengths.map(|area| Metres::new(area / PI * wavelength.get()))
    }

    /// Distance (2a)²/λ, four Rayleigh distances, from which on the far-field formula holds within a per cent or two; nearer the figures are flagged. None for a
    /// tabulated pattern.
    ///
    /// J. Simmonds and D. MacLennan, Fisheries Acoustics, 2nd ed. (2005), section 2.3, <https://doi.org/10.1002/9780470995303>.
    #[must_use]
    pub fn far_field_distance(&self, wavelength: Metres) -> Option<Metres> {
        self.rayleigh_distance(wavelength).map(|distance| distance * 4.0)
    }

    /// Full width at a stated one-way level in the first principal plane.
    #[must_use]
    pub fn width(&self, at: WidthLevel) -> FullAngle {
        HalfAngle::new(libm::asin(self.along.edge_sine(-at.db().get(), 1.0))).full()
    }

    /// Peak of the first side lobe over its floor, and where it is; none when there is none over the floor.
    #[must_use]
    pub fn first_side_lobe(&self) -> Option<(HalfAngle, Db)> {
        self.along.first_side_lobe().map(|(sine, level)| (HalfAngle::new(libm::asin(sine)), Db::new(level)))
    }

    /// Angle of the first null (or of the dip before the first side lobe).
    #[must_use]
    pub fn null_to_null(&self) -> Option<FullAngle> {
        self.along.first_dip_sine().map(|sine| HalfAngle::new(libm::asin(sine)).full())
    }

    /// Intervals of angle beyond the main lobe in which the level is again at least `-drop`, for drawing.
    #[must_use]
    pub fn side_lobe_intervals(&self, drop: Db) -> Vec<(HalfAngle, HalfAngle)> {
        self.along
            .side_lobe_sines(drop.get())
            .into_iter()
            .map(|(a, b)| (HalfAngle::new(libm::asin(a)), HalfAngle::new(libm::asin(b))))
            .collect()
    }
}

/// Whether a table makes a pattern.
///
/// # Errors
/// Fewer than three pairs, a first one that is not 0 dB at 0°, angles that do not rise or pass 90°, levels over 0 dB, or a width at
/// −3 dB under 1°, which is narrower than the figures of a beam can be told for.
pub fn check_table(points: &[(HalfAngle, Db)]) -> Result<(), ModelError> {
    tabulated(points).map(|_| ())
}

/// The curve of a table that makes a pattern.
fn tabulated(points: &[(HalfAngle, Db)]) -> Result<Pchip, ModelError> {
    let curve = Pchip::pattern(points)?;
    let width = curve.width().to_degrees().min(180.0);
    within("beam pattern", "width at -3 dB", width, (1.0, 180.0), "°")?;
    Ok(curve)
}

/// Sine of half the stated width.
fn half_sine(width: Beamwidth) -> Result<f64, ModelError> {
    let degrees = within("beam pattern", "beamwidth", width.full.to_degrees(), (1.0, 180.0), "°")?;
    Ok(libm::sin(0.5 * degrees.to_radians()))
}

/// Azimuths of the rectangle's quadrature: the pattern has four-fold symmetry, so a quarter turn is enough.
const AZIMUTHS: u32 = 64;
/// Steps of the polar quadrature over a quarter turn; the nulls of a 1° beam are then still ten steps apart.
const POLAR_STEPS: u32 = 6000;

fn azimuths(count: u32) -> impl Iterator<Item = f64> {
    (0..count).map(move |i| (f64::from(i) + 0.5) * 0.5 * PI / f64::from(count))
}

/// ∫ b² dΩ and ∫ b dΩ over the hemisphere for an amplitude of (sin θ, azimuth), by the midpoint rule.
fn hemisphere(amplitude: impl Fn(f64, f64) -> f64, azimuth_count: u32) -> (f64, f64) {
    let step = 0.5 * PI / f64::from(POLAR_STEPS);
    let (mut squared, mut single) = (0.0, 0.0);
    for i in 0..POLAR_STEPS {
        let sine = libm::sin((f64::from(i) + 0.5) * step);
        for phi in azimuths(azimuth_count) {
            let a = amplitude(sine, phi);
            let b = a * a;
            single += b * sine;
            squared += b * b * sine;
        }
    }
    let weight = 2.0 * PI * step / f64::from(azimuth_count);
    (squared * weight, single * weight)
}
