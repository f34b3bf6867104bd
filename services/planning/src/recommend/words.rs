//! A recommendation in sentences, for terminal, pages and papers alike.

use crate::unknown_place::has_unknown_bottom;
use domain::selection::{Failure, Others, RunInput};
use domain::{Part, Sentence};

use super::types::{
    Advice, CandidateIndex, Choice, Cost, Criterion, Decision, Firmness, Hindrance, Nowhere, PlaceIndex,
    Recommendation, Step, Total, Unknown, UnknownKind, Whereabouts,
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
    let key = match hindrance {
        Hindrance::Failure(Failure::LureGainBeyondMax { .. }) => "advise-not-lure-weak",
        Hindrance::Failure(Failure::BottomGainBeyondMax { .. }) => "advise-not-bottom-weak",
        Hindrance::Failure(Failure::LureOutsideBeam { .. }) => "advise-not-outside",
        Hindrance::Failure(Failure::NoClearGain { .. }) => "advise-not-no-gain",
        Hindrance::Failure(Failure::NoiseBeforeLure { .. }) => "advise-not-noise",
        Hindrance::Failure(Failure::LureInRingDown { .. }) => "advise-not-ring-down",
        Hindrance::AtFloor(Criterion::Coverage) => "advise-not-coverage",
        Hindrance::AtFloor(Criterion::Clutter) => "advise-not-clutter",
        Hindrance::AtFloor(Criterion::Resolution) => "advise-not-resolution",
        Hindrance::AtFloor(Criterion::Interference) => "advise-not-neighbours",
    };
    Sentence::new(key, [("place", Part::Name(place.to_owned()))])
}

fn not_likely(place: String, worth: &Total) -> Sentence {
    Sentence::new("advise-not-likely", [("place", Part::Name(place)), ("share", whole(100.0 * worth.works))])
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
            Advice::Take(sensor) => Sentence::new("advise-take", [("sensor", self.sensor(sensor))]),
            Advice::Keep { owned, best } => self.keep(owned, best),
            Advice::WorksNowhere => Sentence::plain("advise-nowhere"),
            Advice::NothingAffordable { cheapest } => match cheapest.and_then(|c| Some((c, self.price(c)?))) {
                Some((sensor, price)) => {
                    Sentence::new("advise-too-dear", [("sensor", self.sensor(sensor)), ("price", price)])
                }
                None => Sentence::plain("advise-no-prices"),
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
            parts.push(("points", counted(points)));
        }
        let key = match (self.choice.budget.is_some(), adds.is_some()) {
            (true, true) => "advise-keep-up-to",
            (false, true) => "advise-keep-any",
            (true, false) => "advise-keep-up-to-best",
            (false, false) => "advise-keep-best",
        };
        Sentence::of(key, parts)
    }

    fn standing(&self) -> Option<Sentence> {
        let decision = &self.answer.decision;
        let of_hundred = |share: f64| whole(100.0 * share);
        Some(match decision.firmness.as_ref()? {
            Firmness::Firm | Firmness::Likely => {
                let key = match decision.advice {
                    Advice::Keep { .. } => "advise-right-keep",
                    Advice::Take(_) | Advice::WorksNowhere | Advice::NothingAffordable { .. } => "advise-right",
                };
                Sentence::new(key, [("share", of_hundred(decision.right?))])
            }
            Firmness::TossUp { among, right } => {
                let mut parts: Parts = ["a", "b", "c"].into_iter().zip(among.iter().map(|c| self.sensor(*c))).collect();
                parts.push(("share", of_hundred(*right)));
                let key = match among.len() {
                    0 | 1 => "advise-single",
                    2 => "advise-of-two",
                    _ => "advise-of-three",
                };
                Sentence::of(key, parts)
            }
            Firmness::TooLittleKnown => Sentence::plain("advise-too-little"),
        })
    }

    fn works(&self) -> Vec<Sentence> {
        let Some(sensor) = self.answer.decision.advice.sensor() else {
            return self.answer.nowhere.iter().flat_map(|nowhere| self.nowhere(*nowhere)).collect();
        };
        let Some(row) = self.answer.worths.expected.get(sensor.0) else { return Vec::new() };
        // What is printed beside it are the settings by the recorded figures: a place counts where both let it work.
        let hindered = |place: usize| {
            self.answer.places.iter().filter(|p| p.place.0 == place).find_map(|p| p.hindrances.first().copied())
        };
        let works = |place: usize, worth: &Total| worth.likely_works() && hindered(place).is_none();
        let working = row.iter().enumerate().filter(|(place, worth)| works(*place, worth)).count();
        let mut told = vec![match (working, row.len()) {
            (_, 1) if working == 1 => Sentence::plain("advise-works-there"),
            (all, places) if all == places => Sentence::new("advise-works-all", [("places", whole(count(places)))]),
            (some, places) => {
                Sentence::new("advise-works", [("some", whole(count(some))), ("places", whole(count(places)))])
            }
        }];
        for (place, worth) in row.iter().enumerate().filter(|(place, worth)| !works(*place, worth)) {
            if let Some(nowhere) = self.answer.nowhere.iter().find(|n| n.place.0 == place) {
                told.extend(self.nowhere(*nowhere));
                continue;
            }
            let Part::Name(name) = self.place(PlaceIndex(place)) else { continue };
            told.push(match hindered(place) {
                Some(reason) => hindrance(&name, reason),
                None => not_likely(name, worth),
            });
        }
        told
    }

    /// That nothing works there, and what hinders the one that comes nearest.
    fn nowhere(&self, nowhere: Nowhere) -> Vec<Sentence> {
        let party = match self.input.shelter.as_ref().map(|shelter| &shelter.holes) {
            Some(domain::HolePlan::Party(party)) => Some(*party),
            Some(domain::HolePlan::Drilled(_)) | None => None,
        };
        let place = ("place", self.place(nowhere.place));
        let mut told = vec![match nowhere.people.zip(party) {
            Some((people, party)) => Sentence::new(
                "advise-nowhere-fewer",
                [place, ("people", Part::count(people)), ("party", Part::Figure(party.to_string()))],
            ),
            None if self.choice.budget.is_some() => Sentence::new("advise-nowhere-for-it", [place]),
            None => Sentence::new("advise-nowhere-at", [place]),
        }];
        if let Some((nearest, hindered)) = nowhere.nearest
            && let Part::Name(place) = self.place(nowhere.place)
        {
            if let Some((would, price)) = nowhere.would.and_then(|would| Some((would, self.price(would)?))) {
                told.push(Sentence::new("advise-nowhere-would", [("sensor", self.sensor(would)), ("price", price)]));
            }
            told.push(Sentence::new("advise-nearest", [("sensor", self.sensor(nearest))]));
            let worth = self.answer.worths.expected.get(nearest.0).and_then(|row| row.get(nowhere.place.0));
            let unlikely = || worth.map(|worth| not_likely(place.clone(), worth));
            told.extend(hindered.map(|reason| hindrance(&place, reason)).or_else(unlikely));
        }
        told
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
            told.push(Sentence::new("advise-within-five", [("sensor", self.sensor(within)), ("price", price)]));
        }
        // Less than a point that shows is none.
        let tells = |step: &Step| self.points_over(step.candidate, sensor) >= 0.5 || step.works > 0.005;
        match (decision.dearer.filter(tells), self.price(sensor)) {
            (Some(step), _) => told.push(self.dearer(&step)),
            (None, Some(_)) => told.push(self.narrower(sensor)),
            (None, None) => {}
        }
        if let Some(pair) = decision.pair {
            let [a, b] = pair.both.map(|c| self.sensor(c));
            told.push(Sentence::new(
                "advise-pair",
                [("a", a), ("b", b), ("price", self.bare(pair.price)), ("points", counted(points(pair.gain)))],
            ));
        }
        told
    }

    /// What more money buys where nothing that is dearer works as widely.
    fn narrower(&self, sensor: CandidateIndex) -> Sentence {
        let Decision { totals, .. } = &self.answer.decision;
        let price = |c: CandidateIndex| match self.answer.worths.costs.get(c.0) {
            Some(Cost::Price(price)) => Some(*price),
            Some(Cost::Owned) => Some(0),
            Some(Cost::Unpriced) | None => None,
        };
        let dearer = (0..totals.len()).map(CandidateIndex).filter(|c| price(*c) > price(sensor));
        let best = dearer.max_by(|a, b| self.points_over(*a, sensor).total_cmp(&self.points_over(*b, sensor)));
        match best.map(|best| (best, self.points_over(best, sensor))).filter(|(_, points)| *points >= 1.0) {
            Some((best, more)) => {
                Sentence::new("advise-dearer-narrower", [("sensor", self.sensor(best)), ("points", counted(more))])
            }
            None => Sentence::plain("advise-no-dearer"),
        }
    }

    /// By how many points one candidate stands over another in the table, where both are rounded.
    fn points_over(&self, one: CandidateIndex, other: CandidateIndex) -> f64 {
        let shown = |c: CandidateIndex| self.answer.decision.totals.get(c.0).map_or(0.0, |total| points(total.value));
        shown(one) - shown(other)
    }

    /// Place of a difference, where there are several places to choose from.
    fn whereabouts(&self, at: Whereabouts) -> Whereabouts {
        if self.input.spots.len() < 2 { Whereabouts::Spread } else { at }
    }

    /// Of two keys the one for places, or for draws where there are some.
    fn by_places(&self, places: &'static str, draws: &'static str) -> &'static str {
        if self.answer.draws == 0 { places } else { draws }
    }

    fn cheaper(&self, step: &Step) -> Sentence {
        let lower = self.answer.decision.advice.sensor().map_or(0.0, |sensor| self.points_over(sensor, step.candidate));
        let mut parts: Parts = vec![("sensor", self.sensor(step.candidate)), ("amount", self.bare(step.price))];
        let fewer = step.works < -0.005;
        if lower <= -0.5 && fewer {
            parts.push(("points", counted(-lower)));
            return Sentence::of(self.by_places("advise-cheaper-better-fewer", "advise-cheaper-better-unsurer"), parts);
        }
        if lower < 0.5 {
            return Sentence::of(
                if fewer {
                    self.by_places("advise-cheaper-fewer", "advise-cheaper-unsurer")
                } else {
                    "advise-cheaper-equal"
                },
                parts,
            );
        }
        parts.push(("points", counted(lower)));
        let (key, place) = match self.whereabouts(step.at) {
            Whereabouts::Spread => ("advise-cheaper", None),
            Whereabouts::All(place) => ("advise-cheaper-all", Some(place)),
            Whereabouts::Mostly(place) => ("advise-cheaper-mostly", Some(place)),
        };
        Sentence::of(key, parts.into_iter().chain(place.map(|place| ("place", self.place(place)))))
    }

    fn dearer(&self, step: &Step) -> Sentence {
        let more = self.answer.decision.advice.sensor().map_or(0.0, |sensor| self.points_over(step.candidate, sensor));
        let mut parts: Parts = vec![("sensor", self.sensor(step.candidate)), ("amount", self.bare(step.price))];
        if more < 0.5 {
            return Sentence::of(self.by_places("advise-dearer-places", "advise-dearer-surer"), parts);
        }
        parts.push(("points", counted(more)));
        let (key, place) = match self.whereabouts(step.at) {
            Whereabouts::Spread => ("advise-dearer", None),
            Whereabouts::All(place) => ("advise-dearer-all", Some(place)),
            Whereabouts::Mostly(place) => ("advise-dearer-mostly", Some(place)),
        };
        Sentence::of(key, parts.into_iter().chain(place.map(|place| ("place", self.place(place)))))
    }

    fn settling(&self) -> Option<Sentence> {
        let settling = self.answer.decision.settling?;
        let Unknown { kind, place } = *self.answer.unknowns.get(settling.unknown)?;
        let key = match kind {
            UnknownKind::Bottom => "advise-settle-bottom",
            UnknownKind::Depth => "advise-settle-depth",
            UnknownKind::Plants => "advise-settle-plants",
            UnknownKind::Tilt => "advise-settle-tilt",
            UnknownKind::Gas => "advise-settle-gas",
            UnknownKind::Bounce => "advise-settle-bounce",
            UnknownKind::Heading => "advise-settle-heading",
            UnknownKind::Interval => "advise-settle-interval",
            UnknownKind::Confirmation => "advise-settle-confirm",
            UnknownKind::WidthLevel => "advise-settle-level",
            UnknownKind::PowerKind => "advise-settle-power-kind",
            UnknownKind::Beamwidth => "advise-settle-beam",
            UnknownKind::SourceLevel => "advise-settle-power",
            UnknownKind::Threshold => "advise-settle-threshold",
            UnknownKind::Neighbours => "advise-settle-neighbours",
            UnknownKind::Lure => "advise-settle-lure",
            UnknownKind::Fish => "advise-settle-fish",
        };
        Some(Sentence::of(key, place.map(|place| ("place", self.place(place)))))
    }

    fn notes(&self) -> Vec<Sentence> {
        let mut notes = Vec::new();
        let unpriced =
            self.input.sensors.iter().filter(|s| s.price.is_none() && !self.choice.owned.contains(&s.id)).count();
        if unpriced > 0 && self.choice.budget.is_some() {
            notes.push(Sentence::new("advise-unpriced", [("count", whole(count(unpriced)))]));
        }
        let places = |unknown: fn(&&domain::Spot) -> bool| self.input.spots.iter().filter(unknown).count();
        for (key, some) in [
            ("advise-unknown-bottom", places(|spot| has_unknown_bottom(spot))),
            ("advise-unknown-weeds", places(|spot| spot.canopy_unknown)),
        ] {
            if some > 0 && self.answer.draws > 0 {
                notes.push(Sentence::new(key, [("count", whole(count(some)))]));
            }
        }
        if self.input.shelter.is_some() {
            notes.push(Sentence::plain(match self.input.others {
                Others::Same => "advise-same",
                Others::Given { .. } => "advise-given",
                Others::Unknown => "advise-unknown",
            }));
        }
        if self.answer.draws < self.input.settings.draws {
            notes.push(Sentence::new("advise-fewer-draws", [("count", whole(f64::from(self.answer.draws)))]));
        }
        notes
    }
}

/// Points of 100, rounded.
fn points(share: f64) -> f64 {
    libm::round(100.0 * share)
}

/// Whole points, up to a hundred, to be counted.
fn counted(points: f64) -> Part {
    Part::count((0..100_u8).find(|n| f64::from(*n) > points - 0.5).unwrap_or(100))
}

fn whole(value: f64) -> Part {
    Part::Figure(format!("{value:.0}"))
}
