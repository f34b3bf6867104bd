//! What a recommendation is worth when inputs and weights are uncertain.
//!
//! Each spot has a random stream of its own (ChaCha8, stream number = index of the spot), so that the same seed gives the same bytes on
//! any number of threads and in chunks of any size.

pub(crate) mod conventions;
mod sample;
pub mod smaa;
pub(crate) mod spreads;

pub use spreads::{BEAMWIDTH_SPREAD, DEPTH_SPREAD, LEVEL_SPREAD, TARGET_SPREAD, TILT_SPREAD_DEG};

use acoustics::bottom::{BottomClass, GAS_PRIOR, GASSY_REFLECTION_LOSS, Gas, gas_rise};
use acoustics::cover::CANOPY_SPREAD;
use acoustics::ice::SHEET_SPREAD;
use acoustics::units::{Db, Hertz};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal, StandardUniform};

use conventions::Conventions;

use crate::selection::option::PreparedOption;
use crate::selection::shift::{Display, Perturbation, Turned};

/// Inputs that are drawn, in the order of [`Inputs::values`].
pub(crate) const INPUT_NAMES: [&str; 16] = [
    "beamwidth",
    "source level",
    "threshold of the sensor",
    "target strength of the lure",
    "target strength of the fish",
    "strength of the bottom",
    "strength of the plants",
    "depth",
    "tilt of the transducer",
    "gas in the mud",
    "loss of a bounce off bottom and ice",
    "time between pings",
    "confirmation of marks",
    "level at which the beamwidth is stated",
    "kind of the power rating",
    "ring-down of the sensor",
];

/// What a draw has in common for all options at a spot: the lake, the lure, the fish.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Common {
    pub(crate) lure: f64,
    pub(crate) fish: f64,
    pub(crate) bottom: f64,
    pub(crate) plants: f64,
    pub(crate) depth: f64,
    pub(crate) gas: Gas,
    pub(crate) ice: f64,
    pub(crate) reflection: f64,
    /// From 0 to 1, one of the ways in which neighbours hang.
    pub(crate) turned: f64,
    pub(crate) conventions: Conventions,
}

impl Common {
    pub(crate) fn draw(rng: &mut impl Rng, conventions: Conventions) -> Self {
        Self {
            conventions,
            lure: normal(rng),
            fish: normal(rng),
            bottom: normal(rng),
            plants: normal(rng),
            depth: normal(rng),
            gas: gas(rng),
            ice: normal(rng),
            reflection: normal(rng),
            turned: StandardUniform.sample(rng),
        }
    }

    /// What a bounce loses more than as recorded, dB.
    fn bounce(&self, bottom: BottomClass) -> f64 {
        let loss = bottom.reflection_loss().get();
        let bottom_loss = match self.gas {
            Gas::Yes if bottom.may_hold_gas() => GASSY_REFLECTION_LOSS.get(),
            Gas::Yes | Gas::No => (loss + bottom.reflection_spread().get() * self.reflection).max(0.0),
        };
        SHEET_SPREAD.get() * self.ice + bottom_loss - loss
    }

    /// Factor on the depth; three spreads at most, so that no draw leaves the range of the models.
    pub(crate) fn depth_factor(&self) -> f64 {
        1.0 + DEPTH_SPREAD * self.depth.clamp(-3.0, 3.0)
    }
}

/// One draw for one option: standard deviations from the recorded figures.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Inputs {
    pub(crate) common: Common,
    pub(crate) beam: f64,
    pub(crate) source: f64,
    pub(crate) threshold: f64,
    pub(crate) tilt: [f64; 2],
    pub(crate) interval: f64,
    /// From 0 to 1; low where marks are confirmed.
    pub(crate) display: f64,
    pub(crate) ring_down: f64,
}

impl Inputs {
    /// One draw; how long the sensor rings comes from a stream of its own, `ringing`, so that all that was drawn before it was stays as it was.
    pub(crate) fn draw(common: Common, rng: &mut impl Rng, ringing: &mut impl Rng) -> Self {
        Self {
            common,
            ring_down: normal(ringing),
            beam: normal(rng),
            source: normal(rng),
            threshold: normal(rng),
            tilt: [normal(rng), normal(rng)],
            interval: normal(rng),
            display: StandardUniform.sample(rng),
        }
    }

    /// What the draw changes in the kernel, of an option over a bottom.
    pub(crate) fn shift(&self, bottom: BottomClass, gear: &PreparedOption) -> Perturbation {
        let tilt = TILT_SPREAD_DEG.to_radians();
        let meant = self.common.conventions;
        Perturbation {
            // Log-normal, so that no draw turns a beam inside out.
            beam_scale: gear.unsaid.width(meant) * libm::exp(gear.spreads.beam * self.beam),
            source: gear.unsaid.power(meant) + gear.spreads.source * self.source,
            threshold: gear.spreads.threshold * self.threshold,
            lure: TARGET_SPREAD * self.common.lure,
            fish: TARGET_SPREAD * self.common.fish,
            bottom: bottom.strength_spread().get() * self.common.bottom + rise(bottom, self.common.gas),
            plants: CANOPY_SPREAD.get() * self.common.plants,
            tilt: self.tilt.map(|t| t * tilt),
            bounce: self.common.bounce(bottom),
            interval: libm::exp(gear.interval_spread * self.interval),
            ring_down: libm::exp(gear.spreads.ring_down * self.ring_down),
            turned: Some(Turned::at(self.common.turned)),
            display: if self.display < gear.may_confirm { Display::Confirming } else { Display::AsRecorded },
            other: None,
        }
    }

    /// The drawn values in the order of [`INPUT_NAMES`].
    pub(crate) fn values(&self) -> [f64; INPUT_NAMES.len()] {
        let c = self.common;
        let tilt = libm::hypot(self.tilt[0], self.tilt[1]);
        let [level, power] = c.conventions.values();
        [
            self.beam,
            self.source,
            self.threshold,
            c.lure,
            c.fish,
            c.bottom,
            c.plants,
            c.depth,
            tilt,
            f64::from(u8::from(c.gas == Gas::Yes)),
            c.ice + c.reflection,
            self.interval,
            self.display,
            level,
            power,
            self.ring_down,
        ]
    }
}

/// Whether a bottom that may hold gas does.
pub(crate) fn gas(rng: &mut impl Rng) -> Gas {
    let drawn: f64 = StandardUniform.sample(rng);
    if drawn < GAS_PRIOR { Gas::Yes } else { Gas::No }
}

/// What gas adds to the strength of a bottom, dB; it differs by 2 dB between 50 and 800 kHz.
pub(crate) fn rise(bottom: BottomClass, gas: Gas) -> f64 {
    gas_rise(bottom, gas, Hertz::from_khz(200.0)).map_or(0.0, Db::get)
}

fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}
