//! What stands in for a field that was left out: the defaults that the comments of the public API promise, once for
//! every edge that reads records. A default of a sensor's figure carries the provenance `Assumed`.

use acoustics::units::{Celsius, Db, GramsPerKilogram, Hertz, Level, Metres, Seconds, Watts};

use super::{BottomClass, CanopyDensity, Confirmation, Fact, FishLayer};

/// Receiver noise over the thermal noise of the water: what a plain receiver with a tuned input reaches.
pub const RECEIVER_NOISE: Fact<Db> = Fact::assumed(Db::new(6.0));
/// Time from ping to ping: ten pings a second, so that a lifted lure does not jump on the display.
pub const PING_INTERVAL: Fact<Seconds> = Fact::assumed(Seconds::new(0.1));
/// Spread of the ping interval as a fraction of it: a fixed interval is the worst case in company.
pub const PING_JITTER: Fact<f64> = Fact::assumed(0.0);
/// Every ping draws its mark.
pub const CONFIRMATION: Confirmation = Confirmation { marks: 1, pings: 1 };
/// Side and back level of a beam pattern, relative to the axis.
pub const PATTERN_FLOOR: Fact<Db> = Fact::assumed(Db::new(-40.0));
/// Electro-acoustic efficiency, as a fraction.
pub const EFFICIENCY: Fact<f64> = Fact::assumed(0.5);

/// Echo level that just makes a mark at zero gain, in the middle of what is usual.
pub const THRESHOLD: Fact<Level> = Fact::assumed(Level::new(150.0));
/// Greatest gain of a usual display.
pub const MAX_GAIN: Fact<Db> = Fact::assumed(Db::new(70.0));
/// Electrical power of a usual unit, rms in the pulse: with the usual efficiency 20 W of sound.
pub const ELECTRICAL_POWER: Fact<Watts> = Fact::assumed(Watts::new(40.0));

/// Pulse length: twenty waves.
#[must_use]
pub fn pulse_length(frequency: Hertz) -> Fact<Seconds> {
    Fact::assumed(Seconds::new(20.0 / frequency.get()))
}

/// Receiver bandwidth: what the pulse needs, which is the larger of its own bandwidth 1/τ and the sweep.
#[must_use]
pub fn receiver_bandwidth(pulse_length: Seconds, sweep: Option<Hertz>) -> Fact<Hertz> {
    let matched = 1.0 / pulse_length.get();
    Fact::assumed(Hertz::new(sweep.map_or(matched, |sweep| sweep.get().max(matched))))
}

/// What a bottom that nobody knows is taken for in the recorded figures; draws go over all kinds of bottom.
pub const BOTTOM: BottomClass = BottomClass::MediumSand;
/// How dense plants stand of which only the height is given.
pub const CANOPY_DENSITY: CanopyDensity = CanopyDensity::Moderate;
/// Fish per cubic metre while a school is under the hole.
pub const FISH_PER_CUBIC_METRE: f64 = 0.05;
/// Radius of a hole: a common auger drills 20 cm.
pub const HOLE_RADIUS: Metres = Metres::new(0.1);
/// Water at the bottom under ice is near its greatest density.
pub const BOTTOM_TEMPERATURE: Celsius = Celsius::new(4.0);
/// Lakes are fresh unless said otherwise.
pub const SALINITY: GramsPerKilogram = GramsPerKilogram::new(0.0);
/// Acidity of a usual lake; it only matters where there is salt.
pub const PH: f64 = 7.5;

/// The layer in which fish are looked for: the lower half of the water.
#[must_use]
pub fn fish_layer(depth: Metres) -> FishLayer {
    FishLayer { top: depth * 0.5, bottom: depth, per_cubic_metre: FISH_PER_CUBIC_METRE }
}

/// Height of the lure over the bottom: half a metre, or a quarter of the depth if that is less.
#[must_use]
pub fn lure_height(depth: Metres) -> Metres {
    Metres::new((depth.get() * 0.25).min(0.5))
}

/// Least distance from a hole's centre to a wall.
pub const WALL_CLEARANCE: Metres = Metres::new(0.3);
/// Least ice between the rims of two holes.
pub const MIN_ICE_WEB: Metres = Metres::new(0.5);
/// Least score that will do for a booking: enough to fish with.
pub const MIN_SCORE: f64 = 0.3;
/// Least headroom that will do for a booking: neighbours do not show before the lure does.
pub const MIN_HEADROOM: Db = Db::new(0.0);
