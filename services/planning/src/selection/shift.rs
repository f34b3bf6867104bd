//! What one draw of the uncertainty changes of an evaluation.

/// What one draw of the uncertainty changes; all zero, and a scale of one, for the recorded figures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perturbation {
    /// Factor on every angle of the beam.
    pub beam_scale: f64,
    /// Source level, dB.
    pub source: f64,
    /// Threshold at zero gain, dB.
    pub threshold: f64,
    /// Target strength of the lure, dB, for a target of the usual spread; one of which less is known moves in proportion.
    pub lure: f64,
    /// Target strength of the fish, dB, in the same way.
    pub fish: f64,
    /// Strength of the bottom, dB.
    pub bottom: f64,
    /// Strength of the plants, dB.
    pub plants: f64,
    /// Tilt of the transducer towards the slope and across it, radians; added to the lean of the run.
    pub tilt: [f64; 2],
    /// Loss of a bounce between bottom and ice, dB.
    pub bounce: f64,
    /// Factor on the time from ping to ping.
    pub interval: f64,
    /// Factor on how long the sensor hears nothing after its ping begins.
    pub ring_down: f64,
    /// How neighbours hang and lie; none for the worst of all ways.
    pub turned: Option<Turned>,
    /// What a display draws.
    pub display: Display,
    /// What neighbours have, where they have other units; none for whichever shows most.
    pub other: Option<OtherUnit>,
}

/// One of the ways in which all neighbours together are tried, as a number under `TURNS`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Turned(pub(crate) usize);

impl Turned {
    /// The way at a part of all, from 0 to 1.
    #[must_use]
    pub fn at(part: f64) -> Self {
        Self(super::beam::whole(part * super::beam::count(TURNS)).min(TURNS - 1))
    }
}

/// How many such ways are tried.
pub(crate) const TURNS: usize = 8;

/// What a display draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Display {
    /// What its sensor's record says.
    AsRecorded,
    /// What two pings of three show, from jittered pings: of a sensor of which no confirmation is recorded.
    Confirming,
}

impl Perturbation {
    /// No change.
    pub const NONE: Self = Self {
        beam_scale: 1.0,
        source: 0.0,
        threshold: 0.0,
        lure: 0.0,
        fish: 0.0,
        bottom: 0.0,
        plants: 0.0,
        tilt: [0.0; 2],
        bounce: 0.0,
        interval: 1.0,
        ring_down: 1.0,
        turned: None,
        display: Display::AsRecorded,
        other: None,
    };
}

/// What one draw has of neighbours: which kind they have, which unit of those that may be met, and how much louder it is than that one, dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherUnit {
    pub(crate) kind: usize,
    pub(crate) unit: usize,
    pub(crate) louder: f64,
}
