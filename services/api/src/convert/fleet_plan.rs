//! Fleet plans: what is planned for, and what comes out.

use acoustics::units::{Db, Metres};
use domain::selection::{OptionRef, option_path};
use domain::wording::beam_name;
use domain::{BeamOption, Booking, Fault, FaultReason, Id, Money, Sensor};
use jiff::civil::Date;
use planning::fleet::{
    Assignment, Change, ChangeKind, FleetInput, FleetPlan, Gear, Kept, Purchase, SensorDay, SetUpCard, Unmet,
    UnmetReason,
};
use proto::v1;

use super::run::each;
use super::{Reading, fact, sentence};
use crate::names::{self, OptionName};

/// Relative gap of the cost at which the search stops, where the spec leaves it out.
const GAP: f64 = 0.01;

/// A spec whose names are read; what it names is yet to be looked up.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spec {
    /// Empty for all.
    pub(crate) bookings: Vec<Id>,
    pub(crate) options: Vec<OptionName>,
    pub(crate) budget: Option<Money>,
    pub(crate) gap: f64,
    pub(crate) from: Option<Date>,
    /// The plan to keep, as it is named; empty for none.
    pub(crate) keep: String,
    /// Bookings of that plan whose customers were not told.
    pub(crate) untold: Vec<Id>,
    pub(crate) change_worth: Option<Money>,
}

/// Reads a spec; paths are relative to it.
pub(crate) fn spec(message: &v1::FleetSpec) -> Result<Spec, Vec<Fault>> {
    let mut reading = Reading::default();
    let bookings =
        each(&mut reading, "bookings", &message.bookings, |field, name| names::parse(field, "bookings", name));
    let options = each(&mut reading, "options", &message.options, names::parse_option);
    let gap = message.gap.unwrap_or(GAP);
    if !(0.0..=0.5).contains(&gap) {
        let text = format!("gap is {gap}; accepted: 0 to 0.5; leave it out for {GAP}");
        reading.refuse("gap", FaultReason::OutOfRange, text);
    }
    let from = (!message.from_day.is_empty()).then(|| reading.day("from_day", &message.from_day));
    let untold = each(&mut reading, "untold_bookings", &message.untold_bookings, |field, name| {
        names::parse(field, "bookings", name)
    });
    for (given, field) in
        [(!message.untold_bookings.is_empty(), "untold_bookings"), (message.change_worth.is_some(), "change_worth")]
    {
        if given && message.keep.is_empty() {
            let text =
                format!("{field} is given without a plan to keep; accepted: with keep; name the plan, or leave it out");
            reading.refuse(field, FaultReason::Contradiction, text);
        }
    }
    let spec = Spec {
        bookings,
        options,
        budget: message.budget.clone().map(fact::money),
        gap,
        from,
        keep: message.keep.clone(),
        untold,
        change_worth: message.change_worth.clone().map(fact::money),
    };
    reading.finish(spec, |_| Vec::new())
}

/// Writes a plan, without name, spec and time.
pub(crate) fn to(input: &FleetInput, plan: &FleetPlan) -> v1::FleetPlan {
    v1::FleetPlan {
        purchases: plan.purchases.iter().filter_map(|purchase| purchase_to(input, purchase)).collect(),
        cost: Some(fact::money_to(&plan.cost)),
        least_cost: Some(fact::money_to(&plan.least_cost)),
        gap: plan.gap,
        cost_is_proven: plan.cost_is_proven,
        score_is_proven: plan.score_is_proven,
        mean_score: plan.mean_score,
        assignments: plan.assignments.iter().filter_map(|one| assignment_to(input, one)).collect(),
        unmet: plan.unmet.iter().filter_map(|one| unmet_to(input, one)).collect(),
        days: plan.days.iter().filter_map(|day| day_to(input, day)).collect(),
        cards: plan.cards.iter().filter_map(|card| card_to(input, plan, card)).collect(),
        changes: plan.changes.iter().map(change_to).collect(),
        left_out: plan.left_out.iter().map(super::left_out_to).collect(),
        remarks: sentence::texts(&plan.remarks),
        remark_sentences: sentence::to(&plan.remarks),
        ..v1::FleetPlan::default()
    }
}

fn option_of(input: &FleetInput, option: usize) -> Option<(&Sensor, &BeamOption)> {
    let OptionRef { sensor, option } = *input.options.get(option)?;
    let sensor = input.sensors.get(sensor)?;
    Some((sensor, sensor.options.get(option)?))
}

fn booking_name(booking: &Booking) -> String {
    names::of("bookings", &booking.id)
}

fn purchase_to(input: &FleetInput, purchase: &Purchase) -> Option<v1::Purchase> {
    let sensor = input.sensors.get(purchase.sensor)?;
    Some(v1::Purchase {
        sensor: names::of("sensors", &sensor.id),
        sensor_display_name: sensor.display_name.clone(),
        count: purchase.count,
        unit_price: Some(fact::money_to(&purchase.unit_price)),
        cost: Some(fact::money_to(&purchase.cost)),
    })
}

fn assignment_to(input: &FleetInput, one: &Assignment) -> Option<v1::FleetAssignment> {
    let booking = input.bookings.get(one.booking)?;
    let (sensor, option) = option_of(input, one.option)?;
    Some(v1::FleetAssignment {
        booking: booking_name(booking),
        booking_display_name: booking.display_name.clone(),
        option: option_path(&sensor.id, &option.id),
        sensor_display_name: sensor.display_name.clone(),
        beam: beam_name(option),
        units: one.units,
        first_day: booking.first_day.to_string(),
        last_day: booking.last_day.to_string(),
        score: one.score,
        headroom_db: one.headroom.map(Db::get),
        given: given_to(input, one),
    })
}

/// Which units a booking gets, as far as they are owned.
fn given_to(input: &FleetInput, one: &Assignment) -> Vec<v1::GivenUnit> {
    let unit = |id: &Id| input.units.iter().find(|unit| unit.id == *id);
    one.named
        .iter()
        .filter_map(unit)
        .map(|unit| v1::GivenUnit {
            unit: names::of("units", &unit.id),
            display_name: unit.display_name.clone(),
            serial: unit.serial.clone(),
        })
        .collect()
}

fn change_to(change: &Change) -> v1::PlanChange {
    let kind = match change.kind {
        ChangeKind::Exchanged => v1::PlanChangeKind::Exchanged,
        ChangeKind::Dropped => v1::PlanChangeKind::Dropped,
        ChangeKind::Resized => v1::PlanChangeKind::Resized,
        ChangeKind::Added => v1::PlanChangeKind::Added,
        ChangeKind::Switched => v1::PlanChangeKind::Switched,
        ChangeKind::Renamed => v1::PlanChangeKind::Renamed,
        ChangeKind::Cancelled => v1::PlanChangeKind::Cancelled,
    };
    v1::PlanChange {
        booking: names::of("bookings", &change.booking),
        booking_display_name: change.display_name.clone(),
        kind: kind.into(),
        for_customer: change.kind.is_for_customer(),
        text: change.sentence.text(),
        text_sentence: Some(sentence::one(&change.sentence)),
    }
}

/// What the bookings of a stored plan have. An assignment whose names do not read is of no use to a new plan.
pub(crate) fn kept(plan: &v1::FleetPlan, untold: &[Id]) -> Vec<Kept> {
    let kept = |own: &v1::FleetAssignment| {
        let booking = names::parse("booking", "bookings", &own.booking).ok()?;
        let OptionName::One { sensor, option } = names::parse_option("option", &own.option).ok()? else { return None };
        Some(Kept {
            promised: !untold.contains(&booking),
            booking,
            display_name: own.booking_display_name.clone(),
            gear: Gear {
                sensor,
                option,
                sensor_name: own.sensor_display_name.clone(),
                beam: own.beam.clone(),
                units: own.units,
            },
            units: own.given.iter().filter_map(|unit| names::parse("unit", "units", &unit.unit).ok()).collect(),
        })
    };
    plan.assignments.iter().filter_map(kept).collect()
}

fn unmet_to(input: &FleetInput, one: &Unmet) -> Option<v1::UnmetBooking> {
    let booking = input.bookings.get(one.booking)?;
    let reason = match one.reason {
        UnmetReason::NoOptionQualifies => v1::UnmetReason::NoOptionQualifies,
        UnmetReason::ScoreTooLow => v1::UnmetReason::ScoreTooLow,
        UnmetReason::HeadroomTooLow => v1::UnmetReason::HeadroomTooLow,
        UnmetReason::NotForSale => v1::UnmetReason::NotForSale,
        UnmetReason::BudgetTooSmall => v1::UnmetReason::BudgetTooSmall,
    };
    Some(v1::UnmetBooking {
        booking: booking_name(booking),
        booking_display_name: booking.display_name.clone(),
        reason: reason.into(),
        text: one.text(),
        text_sentences: sentence::to(&one.sentences),
    })
}

fn day_to(input: &FleetInput, day: &SensorDay) -> Option<v1::SensorDay> {
    Some(v1::SensorDay {
        day: day.day.to_string(),
        sensor: names::of("sensors", &input.sensors.get(day.sensor)?.id),
        used: day.used,
        available: day.available,
    })
}

fn card_to(input: &FleetInput, plan: &FleetPlan, card: &SetUpCard) -> Option<v1::SetUpCard> {
    let booking = input.bookings.get(card.booking)?;
    let (sensor, option) = option_of(input, card.option)?;
    let spot = input.spots.iter().find(|spot| spot.id == booking.spot)?;
    let shelter = booking.shelter.as_ref().and_then(|id| input.shelters.iter().find(|shelter| shelter.id == *id));
    let place = [Some(spot.display_name.as_str()), shelter.map(|shelter| shelter.display_name.as_str())];
    Some(v1::SetUpCard {
        booking: booking_name(booking),
        booking_display_name: booking.display_name.clone(),
        place: place.into_iter().flatten().collect::<Vec<_>>().join(", "),
        sensor_display_name: sensor.display_name.clone(),
        beam: beam_name(option),
        units: card.units,
        start_gain_db: card.start_gain.get(),
        start: card.start.text(),
        start_sentence: Some(sentence::one(&card.start)),
        highest_gain_db: card.highest_gain.map(Db::get),
        highest: card.highest.as_ref().map(domain::Sentence::text).unwrap_or_default(),
        highest_sentence: card.highest.as_ref().map(sentence::one),
        hole_spacing_m: card.hole_spacing.map(Metres::get),
        hang_depth_m: card.hang_depth.get(),
        lure_height_m: card.lure_height.get(),
        steps: sentence::texts(&card.steps),
        step_sentences: sentence::to(&card.steps),
        given: plan
            .assignments
            .iter()
            .find(|own| own.booking == card.booking)
            .map_or_else(Vec::new, |own| given_to(input, own)),
        first_day: booking.first_day.to_string(),
        last_day: booking.last_day.to_string(),
    })
}
