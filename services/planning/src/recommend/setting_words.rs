//! Where to set the gain and what to watch out for, in sentences without model words.

use acoustics::units::Metres;
use domain::selection::Notice;
use domain::setting::{Beyond, Highest, Start};
use domain::{DialScale, Part, Sentence};

use super::types::{Beside, PlaceAdvice};
use super::words::hindrance;

/// Where to start; a dash where neighbours show before.
#[must_use]
pub fn start(start: &Start, highest: &Highest) -> Sentence {
    match start {
        _ if *highest == Highest::NotHere => Sentence::plain("setting-start-not-here"),
        Start::At(at) => Sentence::new("setting-at", [("reading", Part::Figure(at.reading.clone()))]),
        Start::FirstShowing { more } if more.gain.get() < 1.0 => Sentence::plain("setting-start-leave"),
        Start::FirstShowing { .. } => Sentence::plain("setting-start-first"),
        Start::NotReached => Sentence::plain("setting-start-none"),
    }
}

/// Where never to go above.
#[must_use]
pub fn highest(highest: &Highest) -> Sentence {
    match highest {
        Highest::Alone => Sentence::plain("setting-alone"),
        Highest::NoLimit => Sentence::plain("setting-no-limit"),
        Highest::At(at) => Sentence::new("setting-at", [("reading", Part::Figure(at.reading.clone()))]),
        Highest::PastFirstShowing(room) if no_room(room) => Sentence::plain("setting-at-first"),
        Highest::PastFirstShowing(room) => {
            Sentence::new("setting-past-first", [("room", Part::Figure(room_text(room)))])
        }
        Highest::NotHere => Sentence::plain("setting-not-here"),
    }
}

/// Whether nothing is left once rounded: "0 dB past" is no instruction.
pub(crate) fn no_room(room: &Beyond) -> bool {
    room.travel.map_or(room.gain.get(), |travel| travel.marks) < 0.5
}

/// `12 %`, `3 steps`, `1:30 h` where the dial is known, else decibels.
#[must_use]
pub fn room_text(room: &Beyond) -> String {
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
    let beside = match advice.beside {
        Beside::All => None,
        Beside::Share(share) if share > ALL_BUT_OWN => Some(Sentence::plain("watch-not-like-own")),
        Beside::Share(share) => {
            let of_ten = Part::Figure(whole_tenths(share).to_string());
            Some(Sentence::new("watch-some-neighbours", [("of_ten", of_ten)]))
        }
    };
    let plants = advice.finding.criteria.lure_over_vegetation;
    let near = plants.is_some_and(|over| (0.0..HARDLY).contains(&over.get()));
    let weeds = near.then(|| Sentence::plain("watch-weeds-near"));
    reasons.chain(beside).chain(advice.finding.notices.iter().filter_map(notice)).chain(weeds).collect()
}

/// A mark so little louder than the weeds is hard to tell from them, dB: the margin by which a lure must pass its threshold.
const HARDLY: f64 = 3.0;

/// From this share on it is only beside units like its own that no setting holds.
const ALL_BUT_OWN: f64 = 0.999;

/// A share in tenths, rounded down.
fn whole_tenths(share: f64) -> u8 {
    (0..=10).rev().find(|tenths| f64::from(*tenths) <= 10.0 * share + 1.0e-9).unwrap_or(0)
}

/// A notice for a customer; none for what only a model cares about.
fn notice(notice: &Notice) -> Option<Sentence> {
    Some(match notice {
        Notice::LureInDeadZone { shadow, .. } => Sentence::new(
            "watch-dead-zone",
            [("height", Part::Length(Metres::new(libm::ceil(10.0 * shadow.get()) / 10.0)))],
        ),
        Notice::LureDrownsInCover { .. } => Sentence::plain("watch-weeds"),
        Notice::LureNearLobeEdge { .. } => Sentence::plain("watch-edge"),
        Notice::NeighboursShow { .. } => Sentence::plain("watch-neighbours"),
        Notice::NoCoverage => Sentence::plain("watch-no-coverage"),
        Notice::NearField { .. } => return None,
    })
}
