//! A recommendation in sentences, for terminal, pages and papers alike.

use crate::unknown_place::has_unknown_bottom;
use domain::selection::{Failure, Others, RunInput};
use domain::{Part, Sentence};

use super::types::{
    Advice, CandidateIndex, Choice, Criterion, Firmness, Hindrance, Nowhere, PlaceIndex, Recommendation, Step, Unknown,
    UnknownKind, Whereabouts,
};
use crate::fleet::money;
use crate::selection::count;

/// What is said with a recommendation.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// What to do.
    pub headline: Sentence,
    /// How sure that is; none without draws.
    pub standing: Option<Sentence>,
    /// Where it works and where not.
    pub works: Vec<Sentence>,
    /// Price against value: cheaper, within five points, dearer, two together.
    pub money: Vec<Sentence>,
    /// What would settle it, and how to find that out.
    pub settling: Option<Sentence>,
    /// What was left out or taken for granted.
    pub notes: Vec<Sentence>,
}

/// Words a recommendation.
#[must_use]
pub fn words(answer: &Recommendation, choice: &Choice, input: &RunInput) -> Told {
    let teller = Teller { answer, choice, input };
    Told {
        headline: teller.headline(),
        standing: teller.standing(),
        works: teller.works(),
        money: teller.money(),
        settling: teller.settling(),
        notes: teller.notes(),
    }
}

/// Why a sensor does not work at a place, as the end of a sentence.
#[must_use]
pub fn hindrance(place: &str, hindrance: Hindrance) -> Sentence {
    let (key, pattern) = match hindrance {
        Hindrance::Failure(Failure::LureGainBeyondMax { .. }) => {
            ("advise-not-lure-weak", "Not at {place}: the lure does not show even at the greatest gain.")
        }
        Hindrance::Failure(Failure::BottomGainBeyondMax { .. }) => {
            ("advise-not-bottom-weak", "Not at {place}: the bottom does not show even at the greatest gain.")
        }
        Hindrance::Failure(Failure::LureOutsideBeam { .. }) => {
            ("advise-not-outside", "Not at {place}: the lure hangs outside the beam.")
        }
        Hindrance::Failure(Failure::NoClearGain { .. }) => {
            ("advise-not-no-gain", "Not at {place}: neighbours show at every setting.")
        }
        Hindrance::Failure(Failure::NoiseBeforeLure { .. }) => {
            ("advise-not-noise", "Not at {place}: noise shows before the lure does.")
        }
        Hindrance::AtFloor(Criterion::Coverage) => {
            ("advise-not-coverage", "Not at {place}: fish show only right under the hole.")
        }
        Hindrance::AtFloor(Criterion::Clutter) => {
            ("advise-not-clutter", "Not at {place}: the bottom or the weeds hide the lure.")
        }
        Hindrance::AtFloor(Criterion::Resolution) => {
            ("advise-not-resolution", "Not at {place}: the beam is so wide that fish far from the lure show beside it.")
        }
        Hindrance::AtFloor(Criterion::Interference) => {
            ("advise-not-neighbours", "Not at {place}: neighbours show before the lure does.")
        }
    };
    Sentence::new(key, pattern, [("place", Part::Name(place.to_owned()))])
}

struct Teller<'a> {
    answer: &'a Recommendation,
    choice: &'a Choice,
    input: &'a RunInput,
}

type Parts = Vec<(&'static str, Part)>;

impl Teller<'_> {
    fn sensor(&self, candidate: CandidateIndex) -> Part {
        let sensor = self.input.sensors.get(candidate.0);
        Part::Name(sensor.map_or_else(String::new, |sensor| sensor.display_name.clone()))
    }

    fn place(&self, place: PlaceIndex) -> Part {
        let spot = self.input.spots.get(place.0);
        Part::Name(spot.map_or_else(String::new, |spot| spot.display_name.clone()))
    }

    fn currency(&self) -> Option<&str> {
        let of_prices = || self.input.sensors.iter().find_map(|sensor| sensor.price.as_ref());
        self.choice.budget.as_ref().or_else(of_prices).map(|money| money.currency.as_str())
    }

    /// `120`: the currency stands at the price of the recommended sensor.
    fn bare(&self, nanos: i128) -> Part {
        let written = money::written(nanos.abs(), self.currency());
        Part::Figure(written.rsplit_once(' ').map_or(written.clone(), |(amount, _)| amount.to_owned()))
    }

    fn price(&self, candidate: CandidateIndex) -> Option<Part> {
        let price = self.input.sensors.get(candidate.0)?.price.as_ref()?;
        Some(Part::Figure(money::written(money::nanos(price), Some(&price.currency))))
    }

    fn headline(&self) -> Sentence {
        match self.answer.decision.advice {
            Advice::Take(sensor) => {
                Sentence::new("advise-take", "Take the {sensor}.", [("sensor", self.sensor(sensor))])
            }
            Advice::Keep { owned, best } => self.keep(owned, best),
            Advice::WorksNowhere => {
                Sentence::plain("advise-nowhere", "Nothing that can be had works at any of the places.")
            }
            Advice::NothingAffordable { cheapest } => match cheapest.and_then(|c| Some((c, self.price(c)?))) {
                Some((sensor, price)) => Sentence::new(
                    "advise-too-dear",
                    "The money does not reach: the cheapest is the {sensor}, {price}.",
                    [("sensor", self.sensor(sensor)), ("price", price)],
                ),
                None => {
                    Sentence::plain("advise-no-prices", "No sensor has a price that could be held against the money.")
                }
            },
        }
    }

    fn keep(&self, owned: CandidateIndex, best: Option<CandidateIndex>) -> Sentence {
        let totals = &self.answer.decision.totals;
        let value = |c: CandidateIndex| totals.get(c.0).map_or(0.0, |total| total.value);
        let mut parts: Parts = vec![("sensor", self.sensor(owned))];
        let adds = best.map(|best| (best, points(value(best) - value(owned)))).filter(|(_, points)| *points > 0.0);
        if let Some(budget) = &self.choice.budget {
            parts.push(("budget", self.bare(money::nanos(budget))));
        }
        if let Some((best, points)) = adds {
            parts.push(("best", self.sensor(best)));
            parts.push(("points", whole(points)));
        }
        let one = adds.is_some_and(|(_, points)| points < 1.5);
        let (key, pattern) = match (self.choice.budget.is_some(), adds.is_some(), one) {
            (true, true, false) => (
                "advise-keep-up-to",
                "Keep the {sensor}. Nothing up to {budget} is clearly better; the {best} adds {points} points.",
            ),
            (true, true, true) => (
                "advise-keep-up-to-one",
                "Keep the {sensor}. Nothing up to {budget} is clearly better; the {best} adds {points} point.",
            ),
            (false, true, false) => {
                ("advise-keep-any", "Keep the {sensor}. Nothing is clearly better; the {best} adds {points} points.")
            }
            (false, true, true) => {
                ("advise-keep-any-one", "Keep the {sensor}. Nothing is clearly better; the {best} adds {points} point.")
            }
            (true, false, _) => ("advise-keep-up-to-best", "Keep the {sensor}. Nothing up to {budget} is better."),
            (false, false, _) => ("advise-keep-best", "Keep the {sensor}. Nothing is better."),
        };
        Sentence::of(key, pattern, parts)
    }

    fn standing(&self) -> Option<Sentence> {
        let decision = &self.answer.decision;
        let of_hundred = |share: f64| whole(100.0 * share);
        Some(match decision.firmness.as_ref()? {
            Firmness::Firm | Firmness::Likely => Sentence::new(
                "advise-right",
                "It is right in {share} of 100 mixes of what is not known.",
                [("share", of_hundred(decision.right?))],
            ),
            Firmness::TossUp { among, right } => {
                let mut parts: Parts = ["a", "b", "c"].into_iter().zip(among.iter().map(|c| self.sensor(*c))).collect();
                parts.push(("share", of_hundred(*right)));
                let (key, pattern) = match among.len() {
                    0 | 1 => ("advise-one-of-one", "The {a} is right in {share} of 100."),
                    2 => ("advise-one-of-two", "{a} or {b}: one of them is right in {share} of 100."),
                    _ => ("advise-one-of-three", "{a}, {b} or {c}: one of them is right in {share} of 100."),
                };
                Sentence::of(key, pattern, parts)
            }
            Firmness::TooLittleKnown => Sentence::plain("advise-too-little", "Too little is known."),
        })
    }

    fn works(&self) -> Vec<Sentence> {
        let Some(sensor) = self.answer.decision.advice.sensor() else {
            return self.answer.nowhere.iter().map(|nowhere| self.nowhere(*nowhere)).collect();
        };
        let Some(row) = self.answer.worths.expected.get(sensor.0) else { return Vec::new() };
        let working = row.iter().filter(|worth| worth.likely_works()).count();
        let mut told = vec![match (working, row.len()) {
            (_, 1) if working == 1 => Sentence::plain("advise-works-there", "It works there."),
            (all, places) if all == places => Sentence::new(
                "advise-works-all",
                "It works at all {places} places.",
                [("places", whole(count(places)))],
            ),
            (some, places) => Sentence::new(
                "advise-works",
                "It works at {some} of {places} places.",
                [("some", whole(count(some))), ("places", whole(count(places)))],
            ),
        }];
        for (place, _) in row.iter().enumerate().filter(|(_, worth)| !worth.likely_works()) {
            if let Some(nowhere) = self.answer.nowhere.iter().find(|n| n.place.0 == place) {
                told.push(self.nowhere(*nowhere));
                continue;
            }
            let first = self.answer.places.iter().filter(|p| p.place.0 == place).find_map(|p| p.hindrances.first());
            let Part::Name(name) = self.place(PlaceIndex(place)) else { continue };
            told.extend(first.map(|reason| hindrance(&name, *reason)));
        }
        told
    }

    fn nowhere(&self, nowhere: Nowhere) -> Sentence {
        let party = match self.input.shelter.as_ref().map(|shelter| &shelter.holes) {
            Some(domain::HolePlan::Party(party)) => Some(*party),
            Some(domain::HolePlan::Drilled(_)) | None => None,
        };
        let place = ("place", self.place(nowhere.place));
        match nowhere.people.zip(party) {
            Some((1, party)) => Sentence::new(
                "advise-nowhere-one",
                "Nothing on the shelf works at {place}. Soonest help: one angler instead of {party}.",
                [place, ("party", whole(f64::from(party)))],
            ),
            Some((people, party)) => Sentence::new(
                "advise-nowhere-fewer",
                "Nothing on the shelf works at {place}. Soonest help: {people} anglers instead of {party}.",
                [place, ("people", whole(f64::from(people))), ("party", whole(f64::from(party)))],
            ),
            None => Sentence::new("advise-nowhere-at", "Nothing on the shelf works at {place}.", [place]),
        }
    }

    fn money(&self) -> Vec<Sentence> {
        let decision = &self.answer.decision;
        let Some(sensor) = decision.advice.sensor() else { return Vec::new() };
        let mut told = Vec::new();
        told.extend(decision.cheaper.map(|step| self.cheaper(&step)));
        let named = decision.cheaper.map(|step| step.candidate);
        if let Some(within) = decision.within_five.filter(|c| Some(*c) != named)
            && let Some(price) = self.price(within)
        {
            told.push(Sentence::new(
                "advise-within-five",
                "Cheapest within 5 points: the {sensor}, {price}.",
                [("sensor", self.sensor(within)), ("price", price)],
            ));
        }
        match (decision.dearer, self.price(sensor)) {
            (Some(step), _) => told.push(self.dearer(&step)),
            (None, Some(_)) => told.push(Sentence::plain("advise-no-dearer", "More money buys nothing here.")),
            (None, None) => {}
        }
        if let Some(pair) = decision.pair {
            let [a, b] = pair.both.map(|c| self.sensor(c));
            told.push(Sentence::new(
                "advise-pair",
                "Two do better: {a} and {b}, {price} together, {points} points more.",
                [("a", a), ("b", b), ("price", self.bare(pair.price)), ("points", whole(points(pair.gain)))],
            ));
        }
        told
    }

    /// Place of a difference, where there are several places to choose from.
    fn whereabouts(&self, at: Whereabouts) -> Whereabouts {
        if self.input.spots.len() < 2 { Whereabouts::Spread } else { at }
    }

    fn cheaper(&self, step: &Step) -> Sentence {
        let lower = points(-step.value);
        let mut parts: Parts = vec![("sensor", self.sensor(step.candidate)), ("amount", self.bare(step.price))];
        if lower < 0.5 {
            let (key, pattern) = if step.works < -0.005 {
                ("advise-cheaper-fewer", "The {sensor} costs {amount} less and works at fewer places.")
            } else {
                ("advise-cheaper-equal", "The {sensor} costs {amount} less and is as good within a point.")
            };
            return Sentence::of(key, pattern, parts);
        }
        parts.push(("points", whole(lower)));
        let (key, pattern) = match (self.whereabouts(step.at), lower < 1.5) {
            (Whereabouts::Spread, true) => {
                ("advise-cheaper-one", "The {sensor} costs {amount} less and is {points} point lower.")
            }
            (Whereabouts::Spread, false) => {
                ("advise-cheaper", "The {sensor} costs {amount} less and is {points} points lower.")
            }
            (Whereabouts::All(place), one) => {
                parts.push(("place", self.place(place)));
                if one {
                    (
                        "advise-cheaper-one-all",
                        "The {sensor} costs {amount} less and is {points} point lower, all at {place}.",
                    )
                } else {
                    (
                        "advise-cheaper-all",
                        "The {sensor} costs {amount} less and is {points} points lower, all at {place}.",
                    )
                }
            }
            (Whereabouts::Mostly(place), one) => {
                parts.push(("place", self.place(place)));
                if one {
                    (
                        "advise-cheaper-one-mostly",
                        "The {sensor} costs {amount} less and is {points} point lower, mostly at {place}.",
                    )
                } else {
                    (
                        "advise-cheaper-mostly",
                        "The {sensor} costs {amount} less and is {points} points lower, mostly at {place}.",
                    )
                }
            }
        };
        Sentence::of(key, pattern, parts)
    }

    fn dearer(&self, step: &Step) -> Sentence {
        let more = points(step.value);
        let mut parts: Parts = vec![("sensor", self.sensor(step.candidate)), ("amount", self.bare(step.price))];
        if more < 0.5 {
            return Sentence::of("advise-dearer-places", "For {amount} more the {sensor} works at more places.", parts);
        }
        parts.push(("points", whole(more)));
        let (key, pattern) = match (self.whereabouts(step.at), more < 1.5) {
            (Whereabouts::Spread, true) => ("advise-dearer-one", "{amount} more buys {points} point ({sensor})."),
            (Whereabouts::Spread, false) => ("advise-dearer", "{amount} more buys {points} points ({sensor})."),
            (Whereabouts::All(place), one) => {
                parts.push(("place", self.place(place)));
                if one {
                    ("advise-dearer-one-all", "{amount} more buys {points} point, all at {place} ({sensor}).")
                } else {
                    ("advise-dearer-all", "{amount} more buys {points} points, all at {place} ({sensor}).")
                }
            }
            (Whereabouts::Mostly(place), one) => {
                parts.push(("place", self.place(place)));
                if one {
                    ("advise-dearer-one-mostly", "{amount} more buys {points} point, mostly at {place} ({sensor}).")
                } else {
                    ("advise-dearer-mostly", "{amount} more buys {points} points, mostly at {place} ({sensor}).")
                }
            }
        };
        Sentence::of(key, pattern, parts)
    }

    fn settling(&self) -> Option<Sentence> {
        let settling = self.answer.decision.settling?;
        let Unknown { kind, place } = *self.answer.unknowns.get(settling.unknown)?;
        let (key, pattern) = match kind {
            UnknownKind::Bottom => (
                "advise-settle-bottom",
                "What would settle it: the bottom at {place}. On the ice: drop a weight; rock knocks, mud holds it.",
            ),
            UnknownKind::Depth => (
                "advise-settle-depth",
                "What would settle it: the depth at {place}. On the ice: lower a weight until the line goes slack, and measure the line.",
            ),
            UnknownKind::Plants => (
                "advise-settle-plants",
                "What would settle it: the weeds at {place}. On the ice: drag a hook over the bottom and see what it brings up.",
            ),
            UnknownKind::Tilt => (
                "advise-settle-tilt",
                "What would settle it: how upright the transducer hangs at {place}. On the ice: let it hang free of the wall of the hole.",
            ),
            UnknownKind::Gas => (
                "advise-settle-gas",
                "What would settle it: whether the mud at {place} holds gas. On the ice: stir the bottom with a weight; gas rises in bubbles.",
            ),
            UnknownKind::Beamwidth => (
                "advise-settle-beam",
                "What would settle it: the true angle of the beams. Ask the seller at which level it was measured, or survey the beam through a line of holes.",
            ),
            UnknownKind::SourceLevel => (
                "advise-settle-power",
                "What would settle it: how strong the sensors send. On the ice: hang the lure, turn up from zero, note where it first shows, and compare units.",
            ),
            UnknownKind::Threshold => (
                "advise-settle-threshold",
                "What would settle it: how sensitive the sensors are. On the ice: hang the lure, turn up from zero, note where it first shows.",
            ),
            UnknownKind::Lure => (
                "advise-settle-lure",
                "What would settle it: the echo of the lure. On the ice: try the lure that will be fished.",
            ),
            UnknownKind::Neighbours => (
                "advise-settle-neighbours",
                "What would settle it: what the others in the shelter have. Ask them for angle and frequency of their beams.",
            ),
            UnknownKind::Fish => (
                "advise-settle-fish",
                "What would settle it: the size of the fish. On the ice: measure the first ones.",
            ),
        };
        Some(Sentence::of(key, pattern, place.map(|place| ("place", self.place(place))).into_iter().collect()))
    }

    fn notes(&self) -> Vec<Sentence> {
        let mut notes = Vec::new();
        let unpriced =
            self.input.sensors.iter().filter(|s| s.price.is_none() && !self.choice.owned.contains(&s.id)).count();
        if unpriced > 0 && self.choice.budget.is_some() {
            notes.push(Sentence::new(
                "advise-unpriced",
                "Left out, as they have no price: {count}.",
                [("count", whole(count(unpriced)))],
            ));
        }
        let places = |unknown: fn(&&domain::Spot) -> bool| self.input.spots.iter().filter(unknown).count();
        for (key, text, some) in [
            (
                "advise-unknown-bottom",
                "Places whose bottom is not known: {count}; mud, sand and hard bottoms were tried.",
                places(|spot| has_unknown_bottom(spot)),
            ),
            (
                "advise-unknown-weeds",
                "Places of which nobody knows whether weeds stand there: {count}; both were tried.",
                places(|spot| spot.canopy_unknown),
            ),
        ] {
            if some > 0 && self.answer.draws > 0 {
                notes.push(Sentence::new(key, text, [("count", whole(count(some)))]));
            }
        }
        if self.input.shelter.is_some() {
            let (key, text) = match self.input.others {
                Others::Same => ("advise-same", "The neighbours are taken to use the same sensor, set the same way."),
                Others::Given { .. } => (
                    "advise-given",
                    "The neighbours are taken to have any of the sensors that are named; the settings hold beside each of them.",
                ),
                Others::Unknown => (
                    "advise-unknown",
                    "What the neighbours have is not known: the usual kinds of sensor were tried, and the settings hold beside each of them.",
                ),
            };
            notes.push(Sentence::plain(key, text));
        }
        if self.answer.draws < self.input.settings.draws {
            notes.push(Sentence::new(
                "advise-fewer-draws",
                "There are so many places and sensors that only {count} mixes of what is not known were tried.",
                [("count", whole(f64::from(self.answer.draws)))],
            ));
        }
        notes
    }
}

/// Points of 100, rounded.
fn points(share: f64) -> f64 {
    libm::round(100.0 * share)
}

fn whole(value: f64) -> Part {
    Part::Figure(format!("{value:.0}"))
}
