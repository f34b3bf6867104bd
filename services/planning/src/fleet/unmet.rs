//! Why a booking is not met, and what would help.

use super::money::{currency, price, written};
use super::presence;
use super::program::Fleet;
use super::roofs::begins;
use super::suit::Offer;
use super::types::{FleetInput, Unmet, UnmetReason};
use super::usage::Usage;
use domain::wording::{beam_name, number};
use domain::{Booking, Unit, UnitState};
use domain::{Part, Sentence};

/// Says why a booking is not met; `left` is what the plan leaves of the budget.
pub(super) fn explain(fleet: &Fleet<'_>, usage: &Usage, left: Option<i128>, booking: usize) -> Option<Unmet> {
    let input = fleet.input;
    let (record, offers) = (input.bookings.get(booking)?, fleet.offers.by_booking.get(booking)?);
    let choices = fleet.choices.get(booking).map(Vec::as_slice).unwrap_or_default();
    let people = fleet.roofs.people(booking);
    let (reason, mut sentences) =
        nothing_serves(input, record, offers, people).unwrap_or_else(|| too_few(input, record, choices, usage, left));
    sentences.extend(shared(fleet, record, booking, people));
    Some(Unmet { booking, reason, sentences })
}

/// Who else fishes under the same roof, where that is counted as one party.
fn shared(fleet: &Fleet<'_>, record: &Booking, booking: usize, people: u32) -> Option<Sentence> {
    let others = fleet.roofs.members(fleet.roofs.party(booking)?).filter(|other| *other != booking);
    let names = others.filter_map(|other| Some(fleet.input.bookings.get(other)?.display_name.as_str()));
    let names: Vec<&str> = names.collect();
    (people > record.anglers && !names.is_empty()).then(|| {
        let parts = [("others", Part::Name(names.join(", "))), ("people", Part::Figure(people.to_string()))];
        Sentence::new("unmet-shared", parts)
    })
}

/// The reason where no option is good enough; none where one is.
fn nothing_serves(
    input: &FleetInput,
    booking: &Booking,
    offers: &[Offer],
    people: u32,
) -> Option<(UnmetReason, Vec<Sentence>)> {
    let best = |keep: &dyn Fn(&Offer) -> bool, worth: &dyn Fn(&Offer) -> f64| {
        offers
            .iter()
            .filter(|offer| keep(offer))
            .max_by(|a, b| worth(a).total_cmp(&worth(b)).then_with(|| called(input, b).cmp(&called(input, a))))
    };
    let Some(usable) = best(&Offer::qualifies, &|offer| offer.score.min(offer.worst)) else {
        // Of those that cannot be used, the one that fails in the fewest ways stands for all.
        let nearest = offers.iter().min_by(|a, b| {
            a.failures.len().cmp(&b.failures.len()).then_with(|| called(input, a).cmp(&called(input, b)))
        });
        let why = nearest.and_then(|offer| {
            let (sensor, beam) = called(input, offer);
            offer.failures.first().map(|failure| failure.sentence_with(&sensor, &beam))
        });
        let help = if people > 1 { Sentence::plain("unmet-help-party") } else { Sentence::plain("unmet-help-lure") };
        return Some((UnmetReason::NoOptionQualifies, std::iter::once(none()).chain(why).chain([help]).collect()));
    };
    let Some(spacious) = best(&|offer| offer.reaches_score(booking), &|offer| {
        offer.headroom.map_or(f64::INFINITY, acoustics::units::Db::get)
    }) else {
        let (sensor, beam) = called(input, usable);
        let key = if usable.score < booking.min_score { "unmet-score" } else { "unmet-criterion" };
        let parts = [
            ("sensor", Part::Name(sensor)),
            ("beam", Part::Figure(beam)),
            ("score", Part::Figure(number(usable.score, 2))),
            ("worst", Part::Figure(number(usable.worst, 2))),
            ("least", Part::Figure(number(booking.min_score, 2))),
        ];
        let sentence = Sentence::new(key, parts);
        return Some((UnmetReason::ScoreTooLow, vec![sentence]));
    };
    let headroom = spacious.headroom.filter(|headroom| *headroom < booking.min_headroom)?;
    let (sensor, beam) = called(input, spacious);
    let sentence = Sentence::new(
        "unmet-headroom",
        [
            ("headroom", Part::Figure(number(headroom.get(), 1))),
            ("sensor", Part::Name(sensor)),
            ("beam", Part::Figure(beam)),
            ("least", Part::Figure(number(booking.min_headroom.get(), 1))),
        ],
    );
    Some((UnmetReason::HeadroomTooLow, vec![sentence]))
}

fn none() -> Sentence {
    Sentence::plain("unmet-none")
}

/// The reason where something would serve, but there are too few of it.
fn too_few(
    input: &FleetInput,
    booking: &Booking,
    choices: &[&Offer],
    usage: &Usage,
    left: Option<i128>,
) -> (UnmetReason, Vec<Sentence>) {
    let missing = |sensor: usize| {
        let used = usage.peak_between(sensor, begins(booking, input.replan.from), booking.last_day);
        (used + booking.anglers).saturating_sub(usage.available(sensor))
    };
    let id = |sensor: usize| input.sensors.get(sensor).map(|record| &record.id);
    let on_sale = choices
        .iter()
        .filter_map(|offer| Some((price(input, offer.sensor)? * i128::from(missing(offer.sensor)), offer.sensor)))
        .min_by(|a, b| a.0.cmp(&b.0).then_with(|| id(a.1).cmp(&id(b.1))));
    // What somebody has at all is nearer at hand than what nobody has.
    let has = |sensor: usize| input.units.iter().any(|unit| Some(&unit.sensor) == id(sensor));
    let fewest = choices
        .iter()
        .map(|offer| (missing(offer.sensor), offer.sensor))
        .min_by_key(|(count, sensor)| (!has(*sensor), *count, id(*sensor)));
    let idle = choices.iter().filter_map(|offer| away(input, offer.sensor, missing(offer.sensor)));
    let (reason, sentence) = match (on_sale, fewest) {
        (Some((cost, sensor)), _) => {
            let cost = Part::Figure(written(cost, currency(input)));
            let key = if left.is_none() { "unmet-buy" } else { "unmet-buy-left" };
            let left = left.map(|left| ("left", Part::Figure(written(left, currency(input)))));
            let parts =
                more(missing(sensor), sensor_name(input, sensor)).into_iter().chain([("cost", cost)]).chain(left);
            (UnmetReason::BudgetTooSmall, Sentence::of(key, parts))
        }
        (None, Some((count, sensor))) => {
            (UnmetReason::NotForSale, Sentence::new("unmet-more", more(count, sensor_name(input, sensor))))
        }
        (None, None) => return (UnmetReason::NoOptionQualifies, vec![none()]),
    };
    (reason, std::iter::once(sentence).chain(idle).collect())
}

/// Units that are not at hand but would do.
fn away(input: &FleetInput, sensor: usize, missing: u32) -> Option<Sentence> {
    let record = input.sensors.get(sensor)?;
    let mut serials: Vec<(&str, UnitState)> = input
        .units
        .iter()
        .filter(|unit| unit.sensor == record.id && presence::is_away(input, unit))
        .map(|Unit { serial, state, .. }| (serial.as_str(), *state))
        .collect();
    // Units in repair come back sooner than those that somebody else relies on.
    serials.sort_by_key(|(serial, state)| (*state == UnitState::OnLoan, *serial));
    let count = usize::try_from(missing).ok().filter(|count| *count > 0 && *count <= serials.len())?;
    let named = |wanted: UnitState| {
        let of_state = serials.iter().take(count).filter(|(_, state)| *state == wanted);
        of_state.map(|(serial, _)| *serial).collect::<Vec<_>>().join(", ")
    };
    let (repair, loan) = (named(UnitState::InRepair), named(UnitState::OnLoan));
    let key = match (repair.is_empty(), loan.is_empty()) {
        (_, true) => "unmet-away-repair",
        (true, false) => "unmet-away-loan",
        (false, false) => "unmet-away-both",
    };
    let parts = [
        ("repair", Part::Name(repair)),
        ("loan", Part::Name(loan)),
        ("sensor", Part::Name(record.display_name.clone())),
    ];
    Some(Sentence::new(key, parts))
}

/// How many more units of which sensor.
fn more(count: u32, name: &str) -> [(&'static str, Part); 2] {
    [("count", Part::count(count)), ("sensor", Part::Name(name.to_owned()))]
}

/// Sensor and beam, such as `Generic 12°` and `200 kHz, 12°`.
fn called(input: &FleetInput, offer: &Offer) -> (String, String) {
    let option = input.options.get(offer.option);
    let beam = option.and_then(|place| input.sensors.get(place.sensor)?.options.get(place.option)).map(beam_name);
    (sensor_name(input, offer.sensor).to_owned(), beam.unwrap_or_default())
}

/// What a sensor is called.
fn sensor_name(input: &FleetInput, sensor: usize) -> &str {
    input.sensors.get(sensor).map_or("", |sensor| sensor.display_name.as_str())
}
