//! A generic sensor: one housing with one gain dial and one or more beam/frequency options.

use acoustics::units::{Beamwidth, Db, FullAngle, HalfAngle, Hertz, Level, Seconds, SourceLevel, Watts, WidthLevel};

use super::Id;

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Provenance {
    /// Printed by whoever sells it.
    Stated,
    /// Measured, for example by a beam survey.
    Measured,
    /// Assumed because nothing better is known; every result that leans on it says so.
    Assumed,
    /// Read off a chart.
    Charted,
    /// Told by somebody who should know.
    Told,
}

/// Names of where figures come from.
pub const PROVENANCES: [(&str, Provenance); 5] = [
    ("stated", Provenance::Stated),
    ("measured", Provenance::Measured),
    ("assumed", Provenance::Assumed),
    ("charted", Provenance::Charted),
    ("told", Provenance::Told),
];

/// Names of the shapes of beams.
pub const BEAM_SHAPES: [(&str, BeamShape); 4] = [
    ("circular_piston", BeamShape::CircularPiston),
    ("shaded_circular", BeamShape::ShadedCircular),
    ("rectangular", BeamShape::Rectangular),
    ("tabulated", BeamShape::Tabulated),
];

/// Names of the levels at which beamwidths are stated.
pub const WIDTH_LEVELS: [(&str, WidthLevel); 3] =
    [("minus_3_db", WidthLevel::Minus3), ("minus_6_db", WidthLevel::Minus6), ("minus_10_db", WidthLevel::Minus10)];

/// Names of the kinds of ratings of power.
pub const POWER_KINDS: [(&str, PowerKind); 3] =
    [("rms", PowerKind::Rms), ("peak", PowerKind::Peak), ("peak_to_peak", PowerKind::PeakToPeak)];

/// Names of what dials read.
pub const DIAL_SCALES: [(&str, DialScale); 3] =
    [("clock_hour", DialScale::ClockHour), ("percent", DialScale::Percent), ("step", DialScale::Step)];

/// The shape of a beam by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BeamShape {
    /// Uniform circular piston.
    CircularPiston,
    /// Circular aperture shaded for low side lobes.
    ShadedCircular,
    /// Rectangular aperture.
    Rectangular,
    /// Angle and level pairs.
    Tabulated,
}

/// A figure with its provenance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fact<T> {
    /// The figure.
    pub value: T,
    /// Where it comes from.
    pub provenance: Provenance,
}

impl<T> Fact<T> {
    /// A stated figure.
    pub const fn stated(value: T) -> Self {
        Self { value, provenance: Provenance::Stated }
    }
    /// A measured figure.
    pub const fn measured(value: T) -> Self {
        Self { value, provenance: Provenance::Measured }
    }
    /// An assumed figure.
    pub const fn assumed(value: T) -> Self {
        Self { value, provenance: Provenance::Assumed }
    }
}

/// An amount of money: ISO 4217 code, whole units and billionths, both of the same sign.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Money {
    /// Three-letter ISO 4217 code.
    pub currency: String,
    /// Whole units.
    pub units: i64,
    /// Billionths of a unit.
    pub nanos: i32,
}

/// A sensor as it is sold, described in generic terms.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensor {
    /// Resource id.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Free notes; invented data says here that it is invented.
    pub notes: String,
    /// Price, if it is for sale.
    pub price: Option<Money>,
    /// Beam/frequency options, at least one.
    pub options: Vec<BeamOption>,
    /// Echo level that just makes a mark at zero gain, T0.
    pub threshold: Fact<Level>,
    /// Greatest gain.
    pub max_gain: Fact<Db>,
    /// The dial that people turn.
    pub dial: GainDial,
    /// Noise of the receiver over the thermal noise of the water.
    pub receiver_noise: Fact<Db>,
    /// Time from ping to ping.
    pub ping_interval: Fact<Seconds>,
    /// Spread of the interval as a fraction of it, 0 for a fixed interval.
    pub ping_jitter: Fact<f64>,
    /// How many pings must agree before a mark is drawn.
    pub confirmation: Confirmation,
}

/// A mark is drawn when at least `marks` of the last `pings` show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Confirmation {
    /// m of m-of-n.
    pub marks: u32,
    /// n of m-of-n.
    pub pings: u32,
}

/// What the dial of a sensor reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DialScale {
    /// Hours and minutes of a clock face; positions are minutes from the first position, clockwise.
    ClockHour,
    /// Per cent.
    Percent,
    /// Numbered steps.
    Step,
}

/// A gain dial: positions against decibels, linear between. Positions of a clock face are minutes past
/// twelve o'clock on the dial, so 7:00 is 420 and, past noon, 5:00 is 1020.
#[derive(Debug, Clone, PartialEq)]
pub struct GainDial {
    /// What the positions mean.
    pub scale: DialScale,
    /// Strictly rising positions with non-falling gains; at least two.
    pub points: Vec<DialPoint>,
}

/// One marked position of a dial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DialPoint {
    /// Position: clock minutes, per cent or step.
    pub position: f64,
    /// Gain there.
    pub gain: Db,
}

/// One beam at one frequency of a sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct BeamOption {
    /// Segment of the option's resource name, unique in its sensor.
    pub id: Id,
    /// Name for people.
    pub display_name: String,
    /// Centre frequency.
    pub frequency: Fact<Hertz>,
    /// Shape of the beam.
    pub pattern: PatternKind,
    /// Level under which the pattern never falls (side and back radiation), relative to the axis; negative.
    pub floor: Fact<Db>,
    /// Source level, stated or from power.
    pub source: Source,
    /// Whether the level at which its beamwidth is stated is known; where it is not, the pattern takes −3 dB.
    pub width_level_known: bool,
    /// Length of the pulse.
    pub pulse_length: Fact<Seconds>,
    /// Swept bandwidth; none for an unmodulated pulse.
    pub sweep_bandwidth: Option<Fact<Hertz>>,
    /// Bandwidth of the receiver.
    pub receiver_bandwidth: Fact<Hertz>,
    /// How long after its ping begins it hears nothing; none for as long as its pulse and the ringing of a transducer of its frequency last.
    pub ring_down: Option<Fact<Seconds>>,
}

/// The shape of a beam.
#[derive(Debug, Clone, PartialEq)]
pub enum PatternKind {
    /// Uniform circular piston.
    CircularPiston {
        /// Stated beamwidth.
        beamwidth: Fact<Beamwidth>,
    },
    /// Circular aperture shaded for low side lobes.
    ShadedCircular {
        /// Stated beamwidth.
        beamwidth: Fact<Beamwidth>,
        /// Peak side lobe relative to the axis, −20 to −40 dB.
        peak_side_lobe: Fact<Db>,
    },
    /// Rectangular aperture.
    Rectangular {
        /// Beamwidth along the first side.
        along: Fact<Beamwidth>,
        /// Beamwidth along the second side.
        across: Fact<Beamwidth>,
    },
    /// Angle and level pairs, as a beam survey gives them.
    Tabulated {
        /// Rising angles from zero, levels relative to the axis.
        points: Vec<PatternPoint>,
        /// Where the table comes from.
        provenance: Provenance,
    },
}

/// One pair of a tabulated pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatternPoint {
    /// Angle from the axis.
    pub angle: HalfAngle,
    /// One-way level relative to the axis.
    pub level: Db,
}

/// How strong the sensor is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    /// A source level.
    Stated(Fact<SourceLevel>),
    /// Electrical power and efficiency.
    Power {
        /// Electrical power as it is rated.
        electrical: Fact<Watts>,
        /// What the rating means; none where nobody knows.
        kind: Option<PowerKind>,
        /// Fraction turned into sound.
        efficiency: Fact<f64>,
    },
}

/// What a rating of power means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PowerKind {
    /// The mean over a cycle of the pulse.
    Rms,
    /// The greatest at any moment.
    Peak,
    /// By the swing of the voltage from one peak to the other.
    PeakToPeak,
}

impl PowerKind {
    /// The mean over a cycle as a part of the rating, for a sine: its greatest power is twice the mean, and the whole swing of the voltage twice the peak,
    /// which goes by the square.
    #[must_use]
    pub const fn rms_share(self) -> f64 {
        match self {
            Self::Rms => 1.0,
            Self::Peak => 0.5,
            Self::PeakToPeak => 0.125,
        }
    }
}

/// The power in the pulse of a rating; one of which nobody knows what it means counts as it stands.
#[must_use]
pub fn rms(electrical: Watts, kind: Option<PowerKind>) -> Watts {
    Watts::new(electrical.get() * kind.map_or(1.0, PowerKind::rms_share))
}

impl PatternKind {
    /// The beamwidth that people quote for this option, if one is stated.
    #[must_use]
    pub fn quoted(&self) -> Option<FullAngle> {
        match self {
            Self::CircularPiston { beamwidth } | Self::ShadedCircular { beamwidth, .. } => Some(beamwidth.value.full),
            Self::Rectangular { along, .. } => Some(along.value.full),
            Self::Tabulated { .. } => None,
        }
    }
}
