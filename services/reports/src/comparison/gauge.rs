//! The gain window of an option on the sensor's own dial.

use acoustics::units::Db;
use domain::Sensor;
use domain::dial::Rounding;
use domain::selection::Gains;
use domain::setting::{Highest, Setting, Start, setting};
use planning::recommend::{highest, room_text, start};
use schemars::JsonSchema;
use serde::Serialize;

use super::names::MAX_NAME;
use crate::wording::Wording;

#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Gauge {
    /// End of the scale, dB.
    max: f64,
    /// Marked positions of the dial.
    ticks: Vec<Tick>,
    /// Gains, dB.
    lure: f64,
    bottom: f64,
    working: f64,
    search: f64,
    clear: Option<f64>,
    /// The same as a hand sets them.
    working_text: String,
    search_text: String,
    clear_text: Option<String>,
    /// How to find them on the ice, where the threshold of the sensor or its dial is not known: then no figure here is a setting.
    found: Option<String>,
}

#[derive(Debug, Serialize, JsonSchema)]
struct Tick {
    gain: f64,
    label: String,
}

/// Most labels on a strip of the page's width.
const MOST_TICKS: usize = 11;

pub(super) fn gauge(sensor: &Sensor, gains: &Gains, say: Wording<'_>) -> Gauge {
    let max = gains.max.get();
    let span = |g: Db| g.get().clamp(0.0, max);
    Gauge {
        max,
        ticks: ticks(sensor, max, say),
        lure: span(gains.lure),
        bottom: span(gains.bottom),
        working: span(gains.working),
        search: span(gains.search),
        clear: gains.clear.map(span),
        working_text: dial_text(sensor, gains.working, say),
        // Rounded down: searching must not pass what keeps neighbours away.
        search_text: reading(
            sensor,
            Db::new(gains.search.get().max(gains.working.get().min(max))),
            Rounding::Down,
            say,
        ),
        clear_text: gains.clear.map(|g| limit_text(sensor, g, say)),
        found: found(sensor, gains, say),
    }
}

fn found(sensor: &Sensor, gains: &Gains, say: Wording<'_>) -> Option<String> {
    let Setting { start: at, highest: most } = setting(sensor, gains);
    match at {
        Start::At(_) | Start::NotReached => None,
        Start::FirstShowing { .. } => Some(format!(
            "{}: {} {}: {}",
            say.word("col-start"),
            say.sentence(&start(&at, &most)),
            say.word("col-limit"),
            say.sentence(&highest(&most))
        )),
    }
}

/// Marked positions, thinned so that labels keep apart.
fn ticks(sensor: &Sensor, max: f64, say: Wording<'_>) -> Vec<Tick> {
    let points = &sensor.dial.points;
    let (Some(first), Some(last)) = (points.first(), points.last()) else { return Vec::new() };
    let span = last.position - first.position;
    let step = match sensor.dial.scale {
        domain::DialScale::ClockHour => 60.0,
        domain::DialScale::Percent | domain::DialScale::Step => span / 10.0,
    };
    let mut ticks: Vec<Tick> = Vec::new();
    let mut position = first.position;
    while position <= last.position + 1e-9 && ticks.len() < MOST_TICKS {
        if let Some(gain) = sensor.dial.gain_at(position.min(last.position)) {
            let apart = ticks.last().is_none_or(|t| gain.get() - t.gain >= max / 14.0);
            if gain.get() <= max + 1e-9 && apart {
                ticks
                    .push(Tick { gain: gain.get(), label: say.figures(&sensor.dial.scale.format(position), MAX_NAME) });
            }
        }
        position += step;
    }
    ticks
}

/// Where to set the dial for at least a gain: `10:30 on the dial`, or the decibels where the dial does not say.
pub(super) fn dial_text(sensor: &Sensor, gain: Db, say: Wording<'_>) -> String {
    reading(sensor, gain, Rounding::Up, say)
}

/// Where the dial must not pass: rounded down.
pub(super) fn limit_text(sensor: &Sensor, gain: Db, say: Wording<'_>) -> String {
    if gain.get() < 0.0 { say.word("limit-none") } else { reading(sensor, gain, Rounding::Down, say) }
}

/// Where to start, in a word where that is found on the ice.
pub(super) fn start_text(sensor: &Sensor, gains: &Gains, say: Wording<'_>) -> String {
    match setting(sensor, gains).start {
        Start::At(_) | Start::NotReached => dial_text(sensor, gains.working, say),
        Start::FirstShowing { .. } => say.word("start-first"),
    }
}

/// Where never to go above, as far past the first showing of the lure where that is all that is known.
pub(super) fn highest_text(sensor: &Sensor, gains: &Gains, say: Wording<'_>) -> String {
    match setting(sensor, gains).highest {
        Highest::PastFirstShowing(room) => say.say("limit-first", [("room", say.figures(&room_text(&room), MAX_NAME))]),
        Highest::NotHere => say.word("limit-not-here"),
        Highest::NoLimit => say.word("limit-no-limit"),
        Highest::At(_) | Highest::Alone => gains.clear.map_or_else(String::new, |gain| limit_text(sensor, gain, say)),
    }
}

fn reading(sensor: &Sensor, gain: Db, rounding: Rounding, say: Wording<'_>) -> String {
    let lowest = sensor.dial.points.first().map_or(0.0, |p| p.gain.get());
    let highest = sensor.dial.points.last().map_or(gain.get(), |p| p.gain.get());
    if gain.get() > highest + 1e-9 && rounding == Rounding::Up {
        return say.say("beyond-dial-by", [("gain", say.db(gain.get() - highest, 0))]);
    }
    let gain = Db::new(gain.get().clamp(lowest, highest));
    match sensor.dial.reading(gain, rounding) {
        Some(reading) => say.figures(&reading, MAX_NAME),
        None => say.db(gain.get(), 0),
    }
}
