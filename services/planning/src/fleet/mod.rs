//! Fleet plans: which units to buy, and which to give to whom.
//!
//! For each booking the selection runs at its spot, with its shelter, goal, lure and fish. An option serves a booking when
//! nothing disqualifies it, its score reaches the booking's least one and, in neighbours, its headroom does too; of each
//! sensor only the best option counts. A booking is met when each of its anglers gets a unit on every one of its days, all
//! of one sensor and on one option: people who share a shelter set up alike, for the headroom is that of equal units.
//! Several anglers without a shelter stand far apart and count as alone.
//!
//! Bookings that share a shelter on a day are one party: what each hears is that of all of them, and all get one option.
//!
//! Units that are ready count as owned, others don't. What is bought is what the busiest day needs over what is ready. A plan
//! may keep another one, from some day on: what is out stays out, then nobody loses what was promised. The aims come one after
//! the other: these two, most anglers met, fewest changes, least cost, best mean score; the program and its proofs are in the
//! solver. A booking or a unit with a fault is left out and listed. A plan does not depend on the order of sensors, options, units or bookings, nor on the number of threads.

mod cards;
mod changes;
mod check;
pub(crate) mod money;
mod naming;
mod presence;
mod program;
mod remarks;
mod roofs;
mod sift;
mod solver;
mod suit;
mod types;
mod unmet;
mod usage;

pub use types::{
    Assignment, Change, ChangeKind, DEFAULT_GAP, FleetInput, FleetPlan, Gear, Kept, Purchase, Replan, SensorDay,
    SetUpCard, Unmet, UnmetReason,
};

use crate::layout::Layouts;
use crate::{LeftOut, PlanningError};
use domain::wording::beam_name;
use domain::{Booking, Cancel, Id};
use money::{currency, money, nanos};
use program::Fleet;
use roofs::Roofs;
use solver::Solution;
use suit::Offer;
use usage::Usage;

/// Plans a fleet, on all threads of the current pool. `cancel` is checked now and then.
///
/// # Errors
/// Every fault of the request at once, or no booking is left to plan; or the work is cancelled.
pub fn plan(input: &FleetInput, cancel: &Cancel) -> Result<FleetPlan, PlanningError> {
    let layouts = Layouts::default();
    let mut sifted = sift::sift(input, &layouts)?;
    presence::keep_what_is_lent(&mut sifted.input);
    let roofs = Roofs::new(&sifted.input);
    let offers = suit::offers(&sifted.input, &roofs, cancel)?;
    let fleet = Fleet::new(&sifted.input, &roofs, &offers);
    let solution = solver::solve(&fleet.problem, cancel)?;
    cancel.check()?;
    let mut plan = fleet.plan(&solution, &layouts);
    let known: Vec<&Id> = input.bookings.iter().map(|booking| &booking.id).collect();
    plan.changes = changes::changes(&sifted.input, (&fleet.gear(&solution), &plan.assignments), &known);
    let refused = offers.refused.iter().filter_map(|(index, faults)| {
        Some(LeftOut::new("bookings", &sifted.input.bookings.get(*index)?.id, faults.clone()))
    });
    plan.left_out = sifted.left_out.into_iter().chain(refused).collect();
    plan.remarks.extend(plan.left_out.iter().map(remarks::left_out));
    Ok(plan.of(&sifted.places))
}

impl FleetPlan {
    /// The same with bookings by their index in the input as given.
    fn of(mut self, places: &[usize]) -> Self {
        let bookings = self.assignments.iter_mut().map(|own| &mut own.booking);
        let bookings = bookings.chain(self.unmet.iter_mut().map(|own| &mut own.booking));
        for booking in bookings.chain(self.cards.iter_mut().map(|own| &mut own.booking)) {
            if let Some(place) = places.get(*booking) {
                *booking = *place;
            }
        }
        self
    }
}

impl Fleet<'_> {
    /// What each booking gets, for people.
    fn gear(&self, solution: &Solution) -> Vec<Option<Gear>> {
        let gear = |(booking, offer): (&Booking, Option<&Offer>)| {
            let place = self.input.options.get(offer?.option)?;
            let sensor = self.input.sensors.get(place.sensor)?;
            let option = sensor.options.get(place.option)?;
            Some(Gear {
                sensor: sensor.id.clone(),
                option: option.id.clone(),
                sensor_name: sensor.display_name.clone(),
                beam: beam_name(option),
                units: booking.anglers,
            })
        };
        self.input.bookings.iter().zip(self.given(solution)).map(gear).collect()
    }

    fn plan(&self, solution: &Solution, layouts: &Layouts) -> FleetPlan {
        let input = self.input;
        let currency = currency(input);
        let given = self.given(solution);
        let bought = self.bought(solution);
        let usage = Usage::new(input, &given, &bought);
        let mut named = naming::named(input, &given);
        let assignments: Vec<Assignment> = given
            .iter()
            .enumerate()
            .filter_map(|(booking, offer)| {
                let units = input.bookings.get(booking)?.anglers;
                offer.map(|offer| Assignment {
                    booking,
                    option: offer.option,
                    units,
                    named: named.get_mut(booking).map(std::mem::take).unwrap_or_default(),
                    score: offer.score,
                    headroom: offer.headroom,
                })
            })
            .collect();
        let (cost, least) = (solution.cost, solution.least_cost);
        let not_met = self.bookings.iter().copied().filter(|booking| given.get(*booking).is_some_and(Option::is_none));
        let mut not_met: Vec<usize> = not_met.collect();
        not_met.sort_unstable();
        let left = self.problem.budget.map(|budget| budget - cost);
        FleetPlan {
            purchases: self.purchases(&bought),
            cost: money(cost, currency),
            least_cost: money(least, currency),
            gap: solver::share(cost - least, cost),
            cost_is_proven: solution.met_is_proven && solution.cost_is_proven,
            score_is_proven: solution.score_is_proven,
            mean_score: mean_score(&assignments),
            unmet: not_met.into_iter().filter_map(|booking| unmet::explain(self, &usage, left, booking)).collect(),
            days: usage.days(),
            cards: self.cards(&given, layouts),
            remarks: remarks::remarks(input, solution.met_is_proven, &usage),
            assignments,
            changes: Vec::new(),
            left_out: Vec::new(),
        }
    }

    fn purchases(&self, bought: &[u32]) -> Vec<Purchase> {
        let of_sensor = |(sensor, count): (usize, &u32)| {
            let unit_price = self.input.sensors.get(sensor)?.price.clone()?;
            let cost = money(nanos(&unit_price) * i128::from(*count), Some(&unit_price.currency));
            (*count > 0).then_some(Purchase { sensor, count: *count, unit_price, cost })
        };
        bought.iter().enumerate().filter_map(of_sensor).collect()
    }

    fn cards(&self, given: &[Option<&Offer>], layouts: &Layouts) -> Vec<SetUpCard> {
        let own = given.iter().enumerate().filter_map(|(booking, offer)| Some((booking, (*offer)?)));
        own.filter_map(|(booking, offer)| cards::card(self.input, self.roofs, (booking, offer), layouts)).collect()
    }
}

/// Mean score over anglers; 0 without any.
fn mean_score(assignments: &[Assignment]) -> f64 {
    let anglers: u32 = assignments.iter().map(|own| own.units).sum();
    // In the order of the scores, so that the order of the bookings does not change a bit of the sum.
    let mut parts: Vec<f64> = assignments.iter().map(|own| f64::from(own.units) * own.score).collect();
    parts.sort_by(f64::total_cmp);
    if anglers == 0 { 0.0 } else { parts.iter().sum::<f64>() / f64::from(anglers) }
}
