//! How a hand sets the gain: a start and a highest position, or what to do where these are not known.
//!
//! A position needs the threshold of the sensor and its dial. Where the threshold is assumed, the start is found on the
//! ice: the lure is hung where it will fish, and the gain turned up from zero until it first shows, then a little more. How
//! far one may go beyond that is a difference of two gains, which does not depend on the threshold.
//!
//! Every setting that is printed comes from here, with one rounding towards safety: start up, highest down.

use acoustics::units::Db;

use crate::dial::Rounding;
use crate::selection::Gains;
use crate::{DialScale, GainDial, Provenance, Sensor};

/// A little more than where the lure first shows.
pub const LITTLE_MORE: Db = Db::new(3.0);

/// Where to start.
#[derive(Debug, Clone, PartialEq)]
pub enum Start {
    /// A position of the dial.
    At(Position),
    /// Turn up from zero until the lure first shows, then so much more.
    FirstShowing {
        /// How much more.
        more: Beyond,
    },
    /// The lure or the bottom does not show at any position.
    NotReached,
}

/// Where never to go above.
#[derive(Debug, Clone, PartialEq)]
pub enum Highest {
    /// Nobody else is near.
    Alone,
    /// Neighbours show at no position of the dial.
    NoLimit,
    /// A position of the dial.
    At(Position),
    /// So far beyond the first showing of the lure.
    PastFirstShowing(Beyond),
    /// Not here: neighbours show first.
    NotHere,
}

/// A position that a hand can set.
#[derive(Debug, Clone, PartialEq)]
pub struct Position {
    /// Clock minutes, per cent or step.
    pub position: f64,
    /// As it is read aloud: `10:30`, `40 %`, `step 12`.
    pub reading: String,
}

/// A difference of two gains, rounded down.
#[derive(Debug, Clone, PartialEq)]
pub struct Beyond {
    /// Whole decibels.
    pub gain: Db,
    /// The least travel of the dial that is so many decibels somewhere on it: `2 steps`, `5 %`; none where it is under a mark.
    pub travel: Option<Travel>,
}

/// So many marks of a dial.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Travel {
    /// What is counted.
    pub scale: DialScale,
    /// Clock minutes, per cent or steps.
    pub marks: f64,
}

/// How to set a sensor at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// Where to start.
    pub start: Start,
    /// Where never to go above.
    pub highest: Highest,
}

/// How to set a sensor for some gains.
#[must_use]
pub fn setting(sensor: &Sensor, gains: &Gains) -> Setting {
    let dial = &sensor.dial;
    let last = dial.points.last().map_or(gains.max, |point| point.gain);
    let most = if last < gains.max { last } else { gains.max };
    if gains.lure > most || gains.bottom > most {
        return Setting { start: Start::NotReached, highest: limit(gains, most).unwrap_or(Highest::NotHere) };
    }
    match sensor.threshold.provenance {
        Provenance::Stated | Provenance::Measured | Provenance::Charted | Provenance::Told
            if !dial.points.is_empty() =>
        {
            known(dial, gains, most)
        }
        Provenance::Stated | Provenance::Measured | Provenance::Charted | Provenance::Told | Provenance::Assumed => {
            found_on_the_ice(dial, gains, most)
        }
    }
}

/// A limit that no position is needed for.
fn limit(gains: &Gains, most: Db) -> Option<Highest> {
    match gains.clear {
        None => Some(Highest::Alone),
        Some(clear) if clear >= most => Some(Highest::NoLimit),
        Some(_) => None,
    }
}

/// Positions of the dial; none above its end, and the start never above the highest.
fn known(dial: &GainDial, gains: &Gains, most: Db) -> Setting {
    let first = dial.points.first().map_or(Db::new(0.0), |point| point.gain);
    let working = if gains.working < first { first } else { gains.working };
    let at = |gain: Db, rounding| {
        let position = dial.rounded_position(gain, rounding)?;
        Some(Position { position, reading: dial.scale.format(position) })
    };
    let Some(start) = at(working, Rounding::Up) else {
        return Setting { start: Start::NotReached, highest: limit(gains, most).unwrap_or(Highest::NotHere) };
    };
    let highest = limit(gains, most).unwrap_or_else(|| {
        let clear = gains.clear.filter(|clear| *clear >= first);
        clear
            .and_then(|clear| at(clear, Rounding::Down))
            .filter(|highest| highest.position >= start.position)
            .map_or(Highest::NotHere, Highest::At)
    });
    Setting { start: Start::At(start), highest }
}

/// From the first showing of the lure.
fn found_on_the_ice(dial: &GainDial, gains: &Gains, most: Db) -> Setting {
    let highest = limit(gains, most).unwrap_or_else(|| match gains.clear {
        Some(clear) if clear >= gains.lure => Highest::PastFirstShowing(beyond(dial, clear - gains.lure)),
        Some(_) | None => Highest::NotHere,
    });
    let more = match &highest {
        Highest::PastFirstShowing(room) if room.gain < LITTLE_MORE => room.clone(),
        Highest::Alone | Highest::NoLimit | Highest::At(_) | Highest::PastFirstShowing(_) | Highest::NotHere => {
            beyond(dial, LITTLE_MORE)
        }
    };
    Setting { start: Start::FirstShowing { more }, highest }
}

/// A difference of gains in whole decibels and in marks of a dial, both rounded down.
fn beyond(dial: &GainDial, gain: Db) -> Beyond {
    let whole = libm::floor(gain.get() + 1.0e-9);
    let steepest = dial
        .points
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] => Some((b.gain - a.gain).get() / (b.position - a.position)),
            _ => None,
        })
        .fold(0.0, f64::max);
    let mark = dial.scale.mark();
    let marks = if steepest > 0.0 { libm::floor(whole / steepest / mark + 1.0e-9) * mark } else { 0.0 };
    let travel = (marks > 0.0).then_some(Travel { scale: dial.scale, marks });
    Beyond { gain: Db::new(whole), travel }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{DialPoint, Fact};
    use acoustics::units::Level;
    use proptest::prelude::*;

    fn steps(last: f64) -> GainDial {
        let points = [(0.0, 0.0), (10.0, last)];
        GainDial {
            scale: DialScale::Step,
            points: points.map(|(position, gain)| DialPoint { position, gain: Db::new(gain) }).to_vec(),
        }
    }

    fn sensor(last: f64, threshold: Fact<Level>) -> Sensor {
        Sensor {
            id: crate::Id::parse("s").unwrap(),
            display_name: String::new(),
            notes: String::new(),
            price: None,
            options: Vec::new(),
            threshold,
            max_gain: Fact::stated(Db::new(70.0)),
            dial: steps(last),
            receiver_noise: Fact::stated(Db::new(6.0)),
            ping_interval: Fact::stated(acoustics::units::Seconds::new(0.1)),
            ping_jitter: Fact::stated(0.0),
            confirmation: crate::Confirmation { marks: 1, pings: 1 },
        }
    }

    fn gains(lure: f64, bottom: f64, clear: Option<f64>) -> Gains {
        Gains {
            lure: Db::new(lure),
            bottom: Db::new(bottom),
            working: Db::new(lure.max(bottom)),
            clear: clear.map(Db::new),
            search: Db::new(60.0),
            max: Db::new(70.0),
        }
    }

    fn stated() -> Fact<Level> {
        Fact::stated(Level::new(150.0))
    }

    fn read(setting: &Setting) -> (String, String) {
        let start = match &setting.start {
            Start::At(at) => at.reading.clone(),
            Start::FirstShowing { more } => format!("first +{}", more.gain.get()),
            Start::NotReached => "not reached".to_owned(),
        };
        let highest = match &setting.highest {
            Highest::At(at) => at.reading.clone(),
            Highest::PastFirstShowing(room) => format!("first +{}", room.gain.get()),
            other => format!("{other:?}"),
        };
        (start, highest)
    }

    #[test]
    fn positions_are_rounded_towards_safety_and_stay_on_the_dial() {
        for (lure, clear, start, highest) in [
            (20.0, Some(50.0), "step 3", "step 7"),
            (22.0, Some(48.0), "step 4", "step 6"),
            (22.0, None, "step 4", "Alone"),
            (22.0, Some(78.0), "step 4", "NoLimit"),
            (22.0, Some(70.0), "step 4", "NoLimit"),
            // 22 dB rounds up to 28, 27 dB down to 21: nothing is left between.
            (22.0, Some(27.0), "step 4", "NotHere"),
            (22.0, Some(-4.0), "step 4", "NotHere"),
            (71.0, Some(50.0), "not reached", "NotHere"),
        ] {
            let told = read(&setting(&sensor(70.0, stated()), &gains(lure, 0.0, clear)));
            assert_eq!(told, (start.to_owned(), highest.to_owned()), "{lure} {clear:?}");
        }
    }

    #[test]
    fn without_a_threshold_the_lure_tells_where_to_start() {
        let assumed = Fact::assumed(Level::new(150.0));
        for (lure, clear, start, highest) in [
            (20.0, Some(45.9), "first +3", "first +25"),
            (20.0, Some(22.5), "first +2", "first +2"),
            (20.0, Some(19.0), "first +3", "NotHere"),
            (20.0, None, "first +3", "Alone"),
            (20.0, Some(80.0), "first +3", "NoLimit"),
        ] {
            let told = read(&setting(&sensor(70.0, assumed), &gains(lure, 0.0, clear)));
            assert_eq!(told, (start.to_owned(), highest.to_owned()), "{lure} {clear:?}");
        }
        // 7 dB a step: 25 dB are three whole steps, 3 dB none.
        let Setting { start, highest } = setting(&sensor(70.0, assumed), &gains(20.0, 0.0, Some(45.9)));
        let travel = Some(Travel { scale: DialScale::Step, marks: 3.0 });
        assert!(matches!(highest, Highest::PastFirstShowing(Beyond { travel: t, .. }) if t == travel));
        assert!(matches!(start, Start::FirstShowing { more: Beyond { travel: None, .. } }));
    }

    proptest! {
        #[test]
        fn start_is_never_above_highest_nor_either_beyond_the_dial(
            lure in 0.0..80.0_f64, bottom in 0.0..80.0_f64, clear in -10.0..90.0_f64, last in 30.0..70.0_f64, known: bool,
        ) {
            let threshold = if known { stated() } else { Fact::assumed(Level::new(150.0)) };
            let sensor = sensor(last, threshold);
            let gains = gains(lure, bottom, Some(clear));
            let setting = setting(&sensor, &gains);
            if let Start::At(start) = &setting.start {
                prop_assert!(start.position <= 10.0);
                prop_assert!(sensor.dial.gain_at(start.position).unwrap().get() >= gains.working.get() - 1e-6);
                if let Highest::At(highest) = &setting.highest {
                    prop_assert!(start.position <= highest.position);
                    prop_assert!(sensor.dial.gain_at(highest.position).unwrap().get() <= clear + 1e-6);
                }
            }
            if let (Start::FirstShowing { more }, Highest::PastFirstShowing(room)) = (&setting.start, &setting.highest) {
                prop_assert!(more.gain <= room.gain);
                prop_assert!(room.gain.get() <= clear - lure + 1e-6);
            }
        }
    }
}
