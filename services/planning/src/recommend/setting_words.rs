//! Where to set the gain and what to watch out for, in sentences without model words.

use domain::selection::Notice;
use domain::setting::{Beyond, Highest, Start};
use domain::{DialScale, Part, Sentence};

use super::types::PlaceAdvice;
use super::words::hindrance;

/// Where to start.
#[must_use]
pub fn start(start: &Start) -> Sentence {
    match start {
        Start::At(at) => Sentence::new("setting-at", "{reading}", [("reading", Part::Figure(at.reading.clone()))]),
        Start::FirstShowing { more } if more.gain.get() < 1.0 => Sentence::plain(
            "setting-start-leave",
            "Hang the lure, turn up from zero until it first shows, and leave it there.",
        ),
        Start::FirstShowing { .. } => Sentence::plain(
            "setting-start-first",
            "Hang the lure, turn up from zero until it first shows, then a little more.",
        ),
        Start::NotReached => Sentence::plain("setting-start-none", "Not here: the lure does not show."),
    }
}

/// Where never to go above.
#[must_use]
pub fn highest(highest: &Highest) -> Sentence {
    match highest {
        Highest::Alone => Sentence::plain("setting-alone", "No limit: no neighbours."),
        Highest::NoLimit => Sentence::plain("setting-no-limit", "No limit: neighbours show at no setting."),
        Highest::At(at) => Sentence::new("setting-at", "{reading}", [("reading", Part::Figure(at.reading.clone()))]),
        Highest::PastFirstShowing(room) => Sentence::new(
            "setting-past-first",
            "{room} past where the lure first showed",
            [("room", Part::Figure(room_text(room)))],
        ),
        Highest::NotHere => Sentence::plain("setting-not-here", "Not here: neighbours show first."),
    }
}

/// `12 %`, `3 steps`, `1:30 h` where the dial is known, else decibels.
pub(crate) fn room_text(room: &Beyond) -> String {
    let Some(travel) = room.travel else { return format!("{:.0} dB", room.gain.get()) };
    match travel.scale {
        DialScale::Percent => format!("{:.0} %", travel.marks),
        DialScale::Step if travel.marks < 1.5 => "1 step".to_owned(),
        DialScale::Step => format!("{:.0} steps", travel.marks),
        DialScale::ClockHour => {
            let hours = libm::floor(travel.marks / 60.0);
            format!("{hours:.0}:{:02.0} h", travel.marks - 60.0 * hours)
        }
    }
}

/// What to watch out for; reasons first where it does not work.
#[must_use]
pub fn watch_out(place: &str, advice: &PlaceAdvice) -> Vec<Sentence> {
    let reasons = advice.hindrances.iter().map(|reason| hindrance(place, *reason));
    reasons.chain(advice.finding.notices.iter().filter_map(notice)).collect()
}

/// A notice for a customer; none for what only a model cares about.
fn notice(notice: &Notice) -> Option<Sentence> {
    Some(match notice {
        Notice::LureInDeadZone { shadow, .. } => Sentence::new(
            "watch-dead-zone",
            "Lift the lure: under {height} over the bottom it is hidden.",
            [("height", Part::Figure(format!("{:.1} m", libm::ceil(10.0 * shadow.get()) / 10.0)))],
        ),
        Notice::LureDrownsInCover { .. } => Sentence::plain(
            "watch-weeds",
            "The weeds are as loud as the lure here, or louder: move the lure to tell it apart.",
        ),
        Notice::LureNearLobeEdge { .. } => {
            Sentence::plain("watch-edge", "Keep the lure close to the transducer, or it leaves the beam.")
        }
        Notice::NeighboursShow { .. } => Sentence::plain("watch-neighbours", "Neighbours show before the lure does."),
        Notice::NoCoverage => Sentence::plain("watch-no-coverage", "Fish show only right under the hole."),
        Notice::NearField { .. } => return None,
    })
}
