//! Why a booking is not met, and what would help.

use super::money::written;
use super::suit::{Offer, best_of_each};
use super::types::{FleetInput, Unmet, UnmetReason};
use super::usage::Usage;
use super::{currency, price, sensor_name};
use crate::domain::{Booking, Unit, UnitState};
use crate::wording::{beam_name, number};

/// Says why a booking is not met; `left` is what the plan leaves of the budget.
pub(super) fn explain(
    input: &FleetInput,
    offers: &[Vec<Offer>],
    usage: &Usage,
    left: Option<i128>,
    booking: usize,
) -> Option<Unmet> {
    let (record, offers) = (input.bookings.get(booking)?, offers.get(booking)?);
    let (reason, text) = nothing_serves(input, record, offers)
        .unwrap_or_else(|| too_few(input, record, &best_of_each(input, record, offers), usage, left));
    Some(Unmet { booking, reason, text })
}

/// The reason where no option is good enough; none where one is.
fn nothing_serves(input: &FleetInput, booking: &Booking, offers: &[Offer]) -> Option<(UnmetReason, String)> {
    let best = |keep: &dyn Fn(&Offer) -> bool, worth: &dyn Fn(&Offer) -> f64| {
        offers
            .iter()
            .filter(|offer| keep(offer))
            .max_by(|a, b| worth(a).total_cmp(&worth(b)).then_with(|| called(input, b).cmp(&called(input, a))))
    };
    let Some(usable) = best(&Offer::qualifies, &|offer| offer.score) else {
        // Of those that cannot be used, the one that fails in the fewest ways stands for all.
        let nearest = offers.iter().min_by(|a, b| {
            a.failures.len().cmp(&b.failures.len()).then_with(|| called(input, a).cmp(&called(input, b)))
        });
        let why = nearest.map_or_else(String::new, |offer| {
            let failure = offer.failures.first().map(crate::domain::selection::Failure::sentence);
            format!(" With {}: {}", called(input, offer), failure.unwrap_or_default())
        });
        let text = format!(
            "No option can be used there.{why} Other options, another spot{} would help.",
            if booking.shelter.is_some() && booking.anglers > 1 {
                " or a smaller party"
            } else {
                " or a stronger lure"
            }
        );
        return Some((UnmetReason::NoOptionQualifies, text));
    };
    let Some(spacious) = best(&|offer| offer.reaches_score(booking), &|offer| {
        offer.headroom.map_or(f64::INFINITY, acoustics::units::Db::get)
    }) else {
        let text = format!(
            "The best that can be used there, {}, scores {}, and {} are asked for; other options or a lower least score would help.",
            called(input, usable),
            number(usable.score, 2),
            number(booking.min_score, 2)
        );
        return Some((UnmetReason::ScoreTooLow, text));
    };
    let headroom = spacious.headroom.filter(|headroom| *headroom < booking.min_headroom)?;
    let text = format!(
        "The most headroom between neighbours that can be had there is {} dB, with {}, and {} dB are asked for; a smaller party, a larger shelter or a lower least headroom would help.",
        number(headroom.get(), 1),
        called(input, spacious),
        number(booking.min_headroom.get(), 1)
    );
    Some((UnmetReason::HeadroomTooLow, text))
}

/// The reason where something would serve, but there are too few of it.
fn too_few(
    input: &FleetInput,
    booking: &Booking,
    choices: &[&Offer],
    usage: &Usage,
    left: Option<i128>,
) -> (UnmetReason, String) {
    let missing = |sensor: usize| {
        let used = usage.peak_between(sensor, booking.first_day, booking.last_day);
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
    let idle: Vec<String> =
        choices.iter().filter_map(|offer| away(input, offer.sensor, missing(offer.sensor))).collect();
    let idle = if idle.is_empty() { String::new() } else { format!(" {}", idle.join(" ")) };
    match (on_sale, fewest) {
        (Some((cost, sensor)), _) => {
            let left = left.map_or_else(String::new, |left| {
                format!("; the plan leaves {} of the budget", written(left, currency(input)))
            });
            let text = format!(
                "{}, {}, would meet it{left}.{idle}",
                more(missing(sensor), sensor_name(input, sensor)),
                written(cost, currency(input))
            );
            (UnmetReason::BudgetTooSmall, text)
        }
        (None, Some((count, sensor))) => {
            let text = format!(
                "{} would meet it, but what would serve is not for sale and is given to others or not there.{idle}",
                more(count, sensor_name(input, sensor))
            );
            (UnmetReason::NotForSale, text)
        }
        (None, None) => (UnmetReason::NoOptionQualifies, "No option can be used there.".to_owned()),
    }
}

/// Units that are not at hand but would do.
fn away(input: &FleetInput, sensor: usize, missing: u32) -> Option<String> {
    let record = input.sensors.get(sensor)?;
    let mut serials: Vec<(&str, UnitState)> = input
        .units
        .iter()
        .filter(|unit| unit.sensor == record.id)
        .filter(|unit| matches!(unit.state, UnitState::InRepair | UnitState::OnLoan))
        .map(|Unit { serial, state, .. }| (serial.as_str(), *state))
        .collect();
    // Units in repair come back sooner than those that somebody else relies on.
    serials.sort_by_key(|(serial, state)| (*state == UnitState::OnLoan, *serial));
    let count = usize::try_from(missing).ok().filter(|count| *count > 0 && *count <= serials.len())?;
    let named: Vec<String> = serials
        .iter()
        .take(count)
        .map(|(serial, state)| {
            let place = if *state == UnitState::OnLoan { "on loan" } else { "in repair" };
            format!("{serial} ({place})")
        })
        .collect();
    Some(format!("{} of {}, were they ready in time, would meet it too.", named.join(", "), record.display_name))
}

/// `2 more units of X`.
fn more(count: u32, name: &str) -> String {
    let units = if count == 1 { "unit" } else { "units" };
    format!("{count} more {units} of {name}")
}

/// `Generic 12° (200 kHz, 12°)`.
fn called(input: &FleetInput, offer: &Offer) -> String {
    let option = input.options.get(offer.option);
    let beam = option.and_then(|place| input.sensors.get(place.sensor)?.options.get(place.option)).map(beam_name);
    format!("{} ({})", sensor_name(input, offer.sensor), beam.unwrap_or_default())
}
