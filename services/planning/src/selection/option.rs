//! An option in numbers: everything about it that does not depend on the spot, with its tables.

use std::sync::Arc;

use acoustics::ModelError;
use acoustics::bottom::BottomClass;
use acoustics::ice::{USUAL_THICKNESS, sheet_loss};
use acoustics::interference::{Confirmer, JitterShape, Timing, compressed_pulse};
use acoustics::levels;
use acoustics::pattern::{Aperture, Pattern};
use acoustics::plane_echo::{BeamOnPlane, PlaneEcho};
use acoustics::units::{
    Angle, Celsius, Db, HalfAngle, Hertz, KilogramsPerCubicMetre, Metres, MetresPerSecond, Seconds,
};

use super::beam::{Beam, LURE_RESERVE};
use super::memo::{Fingerprint, Memo};
use super::stopped::Stopped;
use super::targets::{self, Strength, View};
use crate::uncertainty::conventions::Unsaid;
use crate::uncertainty::spreads::{BEAMWIDTH_SPREAD, LEVEL_SPREAD};
use domain::selection::RunInput;
use domain::sensor::rms;
use domain::{BeamOption, Cancel, Confirmation, PatternKind, Provenance, Sensor, Source, defaults};

/// Water in which the noise is taken: it changes by less than 0.1 dB between any two lakes.
const NOISE_WATER: (Celsius, KilogramsPerCubicMetre, MetresPerSecond) =
    (Celsius::new(4.0), KilogramsPerCubicMetre::new(999.97), MetresPerSecond::new(1_421.6));

/// Spread of the logarithm of a time from ping to ping that nobody recorded: five to twenty pings a second. ASSUMED.
const INTERVAL_SPREAD: f64 = 0.35;
/// How likely a display confirms marks although nobody recorded it, and its pings move enough for that to help. ASSUMED: half of them confirm, and
/// half of those have intervals that differ.
const MAY_CONFIRM: f64 = 0.25;
const LIKELY_CONFIRMATION: Confirmation = Confirmation { marks: 2, pings: 3 };
const LIKELY_JITTER: f64 = 0.05;

/// Spread of a threshold or a source level that nobody recorded, dB. ASSUMED: two in three units of a kind lie within a turn of a hand, 6 dB, of its middle.
const ASSUMED_LEVEL_SPREAD: f64 = 6.0;
/// Spread of an electrical power that nobody recorded, dB. ASSUMED: two in three lie between 16 and 100 W.
const ASSUMED_POWER_SPREAD: f64 = 4.0;
/// Spread of an efficiency that nobody recorded, dB. ASSUMED: two in three lie between 35 and 70 %.
const ASSUMED_EFFICIENCY_SPREAD: f64 = 1.5;
/// Spread of the logarithm of a beamwidth that nobody stated. ASSUMED: within a fifth, as between the generic classes.
const ASSUMED_BEAM_SPREAD: f64 = 0.2;

/// Spread of the logarithm of a ring-down that is recorded: unit to unit, and with temperature.
const RING_DOWN_SPREAD: f64 = 0.1;
/// The same of one that nobody recorded. ASSUMED: two in three transducers of a kind ring two thirds to one and a half times as long as is usual.
const ASSUMED_RING_DOWN_SPREAD: f64 = 0.4;

/// Widest band of a pulse as a part of its frequency: what a transducer of this kind can send.
const WIDEST_BAND: f64 = 0.5;

/// One option in numbers.
#[derive(Debug, Clone)]
pub(crate) struct PreparedOption {
    pub(crate) optics: Arc<Optics>,
    pub(crate) pattern: Arc<Pattern>,
    /// Of everything that its neighbours' tables depend on.
    pub(crate) fingerprint: Fingerprint,
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
    /// How long after its ping begins it hears nothing, s.
    pub(crate) ring_down: f64,
    /// Length of the pulse as sent.
    pub(crate) sent: Seconds,
    pub(crate) sweep: Option<Hertz>,
    pub(crate) receiver_bandwidth: Hertz,
    pub(crate) timing: Timing,
    pub(crate) confirmation: Confirmation,
    /// How its display confirms marks of neighbours that use the same option.
    pub(crate) confirmer: Arc<Confirmer>,
    /// The same if marks are confirmed that are not recorded to be.
    pub(crate) confirming: Arc<Confirmer>,
    /// How far its beamwidth (as a logarithm), source level and threshold may be off, the levels in dB.
    pub(crate) spreads: Spreads,
    /// What nobody says of its figures.
    pub(crate) unsaid: Unsaid,
    /// Spreads of what is not recorded: the logarithm of the interval, and how likely marks are confirmed all the same.
    pub(crate) interval_spread: f64,
    pub(crate) may_confirm: f64,
    /// What a sheet of ice of usual thickness takes of a bounce.
    pub(crate) ice_loss: Db,
    /// What sheets of the thicknesses of the run take more, dB.
    pub(crate) ice_shifts: Vec<f64>,
    /// Length of the range cell as time on its way down: half a pulse, or what the band resolves; and its logarithm.
    pub(crate) cell: f64,
    pub(crate) cell_logarithm: f64,
    /// Angle from the axis at which a lure's place costs its whole reserve, radians.
    pub(crate) lure_reach: f64,
    /// Echo of a plane bottom, by class.
    bottoms: Vec<(BottomClass, Arc<PlaneEcho>)>,
}

/// What is compiled from a pattern.
pub(crate) struct Optics {
    pub(crate) pattern: Arc<Pattern>,
    pub(crate) beam: Beam,
    on_plane: BeamOnPlane,
}

/// Some 150 KiB each.
static OPTICS: Memo<Optics> = Memo::new(128);
/// Some 50 KiB each.
static ECHOES: Memo<PlaneEcho> = Memo::new(512);

impl std::fmt::Debug for Optics {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Optics").finish_non_exhaustive()
    }
}

impl PreparedOption {
    /// Compiles an option for the targets of a run, the bottom classes and thicknesses of ice that occur in it, and the greatest angle that there is between its
    /// axis and the normal of a bottom.
    pub(crate) fn new(
        input: &RunInput,
        sensor: &Sensor,
        option: &BeamOption,
        classes: &[BottomClass],
        ices: &[Metres],
        steepest: Angle,
        cancel: &Cancel,
    ) -> Result<Self, Stopped> {
        let frequency = option.frequency.value;
        let pulse = option.pulse_length.value;
        let sweep = option.sweep_bandwidth.map(|sweep| sweep.value);
        // The band of the pulse fills the nulls of a pattern; a measured one had them filled when it was measured.
        let band = sweep.map_or(1.0 / pulse.get(), Hertz::get) / frequency.get();
        let band = if matches!(option.pattern, PatternKind::Tabulated { .. }) { 0.0 } else { band.min(WIDEST_BAND) };
        let of_beam = Fingerprint::new().pattern(&option.pattern, option.floor.value);
        let of_optics = of_beam.clone().figures([band, steepest.get()]);
        let optics = OPTICS.of(of_optics.key(), || {
            let pattern = Arc::new(Pattern::new(&aperture(&option.pattern), option.floor.value)?);
            let (beam, on_plane) = (Beam::compile(&pattern, band), BeamOnPlane::new(&pattern, steepest));
            Ok::<_, ModelError>(Optics { pattern, beam, on_plane })
        })?;
        cancel.check()?;
        let pattern = Arc::clone(&optics.pattern);
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
            Source::Power { electrical, kind, efficiency } => {
                (10.0 * libm::log10(rms(electrical.value, kind).get() * efficiency.value) + directivity.get(), true)
            }
        };
        let timing = Timing { interval: sensor.ping_interval.value, jitter: sensor.ping_jitter.value };
        let sheet = |thickness| sheet_loss(thickness, frequency, option.receiver_bandwidth.value);
        let ice_loss = sheet(USUAL_THICKNESS)?;
        let jittered = Timing { jitter: timing.jitter.max(LIKELY_JITTER), ..timing };
        let second = MetresPerSecond::new(1.0);
        let cell = levels::range_cell(second, pulse, sweep, option.receiver_bandwidth.value).get();
        let bottom = |class: &BottomClass| {
            cancel.check()?;
            let key = of_optics.clone().with(*class).figures([frequency.get()]).key();
            Ok::<_, Stopped>((*class, ECHOES.of(key, || PlaneEcho::new(&optics.on_plane, *class, frequency))?))
        };
        Ok(Self {
            lure_reach: optics.beam.reach(-0.5 * LURE_RESERVE),
            fingerprint: of_beam
                .figures([frequency.get(), source, pulse.get(), sweep.map_or(0.0, Hertz::get)])
                .figures([option.receiver_bandwidth.value.get(), timing.interval.get(), timing.jitter])
                .with((from_power, sensor.confirmation.marks, sensor.confirmation.pings)),
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
            ring_down: option.ring_down.map_or_else(|| levels::ring_down(pulse, frequency), |time| time.value).get(),
            sent: pulse,
            sweep,
            receiver_bandwidth: option.receiver_bandwidth.value,
            ice_loss,
            ice_shifts: ices
                .iter()
                .map(|ice| Ok((sheet(*ice)? - ice_loss).get()))
                .collect::<Result<_, ModelError>>()?,
            timing,
            confirmation: sensor.confirmation,
            confirmer: Arc::new(confirmer(timing, timing, sensor.confirmation)),
            confirming: Arc::new(confirmer(jittered, jittered, LIKELY_CONFIRMATION)),
            spreads: Spreads::new(sensor, option),
            unsaid: Unsaid::new(option, &pattern),
            interval_spread: if sensor.ping_interval.provenance == Provenance::Assumed { INTERVAL_SPREAD } else { 0.0 },
            may_confirm: if sensor.confirmation == defaults::CONFIRMATION { MAY_CONFIRM } else { 0.0 },
            cell,
            cell_logarithm: libm::log10(cell),
            bottoms: classes.iter().map(bottom).collect::<Result<_, _>>()?,
            pattern,
            optics,
        })
    }

    /// Echo of a plane bottom of a class of the run.
    pub(crate) fn plane_echo(&self, class: BottomClass) -> Option<&PlaneEcho> {
        self.bottoms.iter().find(|(known, _)| *known == class).map(|(_, echo)| echo.as_ref())
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

/// Standard deviations of an option's figures: narrow where they are stated or measured, wide where they are assumed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spreads {
    pub(crate) beam: f64,
    pub(crate) source: f64,
    pub(crate) threshold: f64,
    /// Of the logarithm.
    pub(crate) ring_down: f64,
}

impl Spreads {
    fn new(sensor: &Sensor, option: &BeamOption) -> Self {
        let wide = |provenance, spread: f64| if provenance == Provenance::Assumed { spread } else { 0.0 };
        let beam = match &option.pattern {
            PatternKind::CircularPiston { beamwidth } | PatternKind::ShadedCircular { beamwidth, .. } => {
                beamwidth.provenance
            }
            PatternKind::Rectangular { along, .. } => along.provenance,
            PatternKind::Tabulated { provenance, .. } => *provenance,
        };
        let source = match option.source {
            Source::Stated(level) => wide(level.provenance, ASSUMED_LEVEL_SPREAD),
            Source::Power { electrical, efficiency, kind: _ } => libm::hypot(
                wide(electrical.provenance, ASSUMED_POWER_SPREAD),
                wide(efficiency.provenance, ASSUMED_EFFICIENCY_SPREAD),
            ),
        };
        let threshold = wide(sensor.threshold.provenance, ASSUMED_LEVEL_SPREAD);
        Self {
            beam: libm::hypot(BEAMWIDTH_SPREAD, wide(beam, ASSUMED_BEAM_SPREAD)),
            source: libm::hypot(LEVEL_SPREAD, source),
            threshold: libm::hypot(LEVEL_SPREAD, threshold),
            ring_down: match option.ring_down {
                Some(time) if time.provenance != Provenance::Assumed => RING_DOWN_SPREAD,
                Some(_) | None => ASSUMED_RING_DOWN_SPREAD,
            },
        }
    }
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
