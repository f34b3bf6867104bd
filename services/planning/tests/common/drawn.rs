//! What plain beams do to each other, from the physics alone.

use acoustics::bottom::BistaticScatter;
use acoustics::ice::{USUAL_THICKNESS, sheet_loss};
use acoustics::interference::{Confirmer, HungBeam, Link, Pair, Received, ScatterTable, direct_level};
use acoustics::pattern::{Aperture, Pattern};
use acoustics::units::{Beamwidth, Db, DbPerMetre, FullAngle, Hertz, Level, Metres, Seconds, SourceLevel, WidthLevel};
use acoustics::water::WaterColumn;
use domain::BottomClass;

use crate::common;

fn beam(degrees: f64) -> Pattern {
    let full = FullAngle::from_degrees(degrees);
    let aperture = Aperture::CircularPiston { beamwidth: Beamwidth { full, at: WidthLevel::Minus3 } };
    Pattern::new(&aperture, Db::new(-40.0)).unwrap()
}

/// The threshold of `common::piston`, as it is at a gain.
pub(crate) fn threshold(gain_db: f64) -> Level {
    Level::new(150.0 - gain_db)
}

/// What a piston of `common::piston` receives of others, each a width and a distance.
pub(crate) fn received(degrees: f64, others: &[(f64, f64)], depth_m: f64) -> Received {
    let own = HungBeam::upright(std::sync::Arc::new(beam(degrees)));
    let frequency = Hertz::from_khz(200.0);
    let depth = Metres::new(depth_m);
    let spot = common::spot("a", depth_m, BottomClass::FineSand);
    let column = WaterColumn::under_ice(depth, spot.bottom_temperature);
    let speed = column.mean_sound_speed().unwrap();
    let absorption = DbPerMetre::new(column.absorption(frequency).unwrap().get());
    let medium =
        10.0 * libm::log10(column.mean_density().unwrap().get() * speed.get() / (4.0 * std::f64::consts::PI)) + 120.0;
    let confirmer = std::sync::Arc::new(Confirmer::at_once(Seconds::new(0.1)));
    let ice = sheet_loss(USUAL_THICKNESS, frequency, Hertz::from_khz(10.0)).unwrap();
    let mut received = Received::new();
    for (width, distance) in others {
        let pattern = beam(*width);
        let source = SourceLevel::new(medium + 10.0 * libm::log10(20.0) + pattern.directivity_index().get());
        let other = HungBeam::upright(std::sync::Arc::new(pattern));
        let scatter = BistaticScatter::new(BottomClass::FineSand, frequency).unwrap();
        let table = ScatterTable::new(Pair::level(other.clone(), own.clone(), scatter));
        let spacing = Metres::new(*distance);
        received.add(&Link {
            scatter: &table,
            bottom_shift: Db::new(0.0),
            spacing,
            depth,
            speed,
            absorption,
            source,
            pulse: Seconds::from_micros(100.0),
            confirmer: &confirmer,
            band_loss: Db::new(0.0),
            direct: Some(direct_level(source, &other, &own, spacing, absorption)),
            bounce_loss: ice + BottomClass::FineSand.reflection_loss(),
        });
    }
    received
}
