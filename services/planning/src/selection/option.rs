//! An option in numbers: everything about it that does not depend on the spot, with its tables.

use std::sync::Arc;

use acoustics::ModelError;
use acoustics::bottom::{BottomClass, nadir_strength};
use acoustics::ice::{USUAL_THICKNESS, sheet_loss};
use acoustics::interference::{Confirmer, JitterShape, Timing, compressed_pulse};
use acoustics::levels;
use acoustics::pattern::{Aperture, Pattern, Plane};
use acoustics::units::{Celsius, Db, HalfAngle, Hertz, KilogramsPerCubicMetre, MetresPerSecond, Seconds};

use super::beam::Beam;
use super::targets::{self, Strength, View};
use domain::selection::RunInput;
use domain::{BeamOption, Confirmation, PatternKind, Sensor, Source};

/// Water in which the noise is taken: it changes by less than 0.1 dB between any two lakes.
const NOISE_WATER: (Celsius, KilogramsPerCubicMetre, MetresPerSecond) =
    (Celsius::new(4.0), KilogramsPerCubicMetre::new(999.97), MetresPerSecond::new(1_421.6));

/// Points of the table of bottom strength over the half angle that a pulse lights.
const CONE_POINTS: u32 = 64;
/// Widest half angle of that table, radians: the scattering tables end at 30° grazing.
const WIDEST_CONE: f64 = std::f64::consts::FRAC_PI_3;

/// One option in numbers.
#[derive(Debug, Clone)]
pub(crate) struct PreparedOption {
    pub(crate) beam: Beam,
    pub(crate) pattern: Pattern,
    /// The widest plane of the pattern, which is what a neighbour is taken to see.
    pub(crate) plane: Arc<Plane>,
    pub(crate) frequency: Hertz,
    /// Equivalent two-way beam angle, sr.
    pub(crate) psi: f64,
    /// Source level in dB re 1 µPa m; relative to one acoustic watt without directivity when made from power.
    pub(crate) source: f64,
    /// Whether `source` is relative, and so depends on the water and on the beam's directivity.
    pub(crate) from_power: bool,
    pub(crate) threshold: f64,
    pub(crate) max_gain: f64,
    /// Thermal and receiver noise in the receiver's band.
    pub(crate) noise_level: f64,
    pub(crate) lure: Strength,
    pub(crate) fish: Strength,
    /// Length of the pulse on the display: compressed, if it is swept.
    pub(crate) pulse: f64,
    /// Length of the pulse as sent.
    pub(crate) sent: Seconds,
    pub(crate) sweep: Option<Hertz>,
    pub(crate) receiver_bandwidth: Hertz,
    pub(crate) timing: Timing,
    pub(crate) confirmation: Confirmation,
    /// How its display confirms marks of neighbours that use the same option.
    pub(crate) confirmer: Arc<Confirmer>,
    /// What a sheet of ice takes of a bounce.
    pub(crate) ice_loss: Db,
    /// Bottom strength by class over the half angle lit, at even steps of it.
    bottoms: Vec<(BottomClass, [f64; CONE_POINTS as usize])>,
}

impl PreparedOption {
    /// Compiles an option for the targets of a run and the bottom classes that occur in it.
    pub(crate) fn new(
        input: &RunInput,
        sensor: &Sensor,
        option: &BeamOption,
        classes: &[BottomClass],
    ) -> Result<Self, ModelError> {
        let pattern = Pattern::new(&aperture(&option.pattern), option.floor.value)?;
        let frequency = option.frequency.value;
        let directivity = pattern.directivity_index();
        let (temperature, density, speed) = NOISE_WATER;
        let thermal = levels::thermal_noise(
            frequency,
            option.receiver_bandwidth.value,
            temperature,
            directivity,
            density,
            speed,
        )?;
        let (source, from_power) = match option.source {
            Source::Stated(level) => (level.value.get(), false),
            Source::Power { electrical, efficiency } => {
                (10.0 * libm::log10(electrical.value.get() * efficiency.value) + directivity.get(), true)
            }
        };
        let pulse = option.pulse_length.value;
        let sweep = option.sweep_bandwidth.map(|sweep| sweep.value);
        let timing = Timing { interval: sensor.ping_interval.value, jitter: sensor.ping_jitter.value };
        Ok(Self {
            beam: Beam::compile(&pattern),
            plane: Arc::new(pattern.widest().clone()),
            frequency,
            psi: pattern.equivalent_beam_angle().get(),
            source,
            from_power,
            threshold: sensor.threshold.value.get(),
            max_gain: sensor.max_gain.value.get(),
            noise_level: thermal.get() + sensor.receiver_noise.value.get(),
            lure: targets::strength(&input.lure.shape, View::new(option, input.lure.kind))?,
            fish: targets::strength(&input.fish.shape, View::new(option, input.fish.kind))?,
            pulse: compressed_pulse(pulse, sweep, option.receiver_bandwidth.value).get(),
            sent: pulse,
            sweep,
            receiver_bandwidth: option.receiver_bandwidth.value,
            ice_loss: sheet_loss(USUAL_THICKNESS, frequency, option.receiver_bandwidth.value)?,
            timing,
            confirmation: sensor.confirmation,
            confirmer: Arc::new(confirmer(timing, timing, sensor.confirmation)),
            bottoms: classes.iter().map(|class| Ok((*class, cones(*class, frequency)?))).collect::<Result<_, _>>()?,
            pattern,
        })
    }

    /// Strength of a bottom averaged over the cone that a pulse lights, by the half angle of that cone.
    pub(crate) fn bottom_strength(&self, class: BottomClass, half_angle: f64) -> f64 {
        let Some((_, table)) = self.bottoms.iter().find(|(known, _)| *known == class) else { return f64::NAN };
        let steps = f64::from(CONE_POINTS - 1);
        super::beam::interpolate(table, half_angle / WIDEST_CONE * steps)
    }

    /// Whether its receiver compresses a pulse of another option as it does its own.
    pub(crate) fn compresses(&self, other: &Self) -> bool {
        self.frequency == other.frequency && self.sweep == other.sweep && self.sent == other.sent
    }

    /// Pulse length on the display as time.
    pub(crate) fn pulse(&self) -> Seconds {
        Seconds::new(self.pulse)
    }
}

fn cones(class: BottomClass, frequency: Hertz) -> Result<[f64; CONE_POINTS as usize], ModelError> {
    let mut table = [0.0; CONE_POINTS as usize];
    for (index, slot) in (0..CONE_POINTS).zip(&mut table) {
        let half = f64::from(index) / f64::from(CONE_POINTS - 1) * WIDEST_CONE;
        *slot = nadir_strength(class, frequency, HalfAngle::new(half))?.get();
    }
    Ok(table)
}

/// How the display of a unit confirms marks of neighbours. Intervals are taken to lie evenly about their mean: nothing else is stated.
pub(crate) fn confirmer(own: Timing, other: Timing, confirmation: Confirmation) -> Confirmer {
    Confirmer::new(own, other, (confirmation.marks, confirmation.pings), JitterShape::Uniform)
}

/// The aperture of a pattern, without provenance.
pub(crate) fn aperture(kind: &PatternKind) -> Aperture {
    match kind {
        PatternKind::CircularPiston { beamwidth } => Aperture::CircularPiston { beamwidth: beamwidth.value },
        PatternKind::ShadedCircular { beamwidth, peak_side_lobe } => {
            Aperture::ShadedCircular { beamwidth: beamwidth.value, peak_side_lobe: peak_side_lobe.value }
        }
        PatternKind::Rectangular { along, across } => {
            Aperture::Rectangular { along: along.value, across: across.value }
        }
        PatternKind::Tabulated { points, .. } => {
            let pairs: Vec<(HalfAngle, Db)> = points.iter().map(|point| (point.angle, point.level)).collect();
            Aperture::Tabulated { points: pairs }
        }
    }
}
