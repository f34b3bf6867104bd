//! Fleet plans: which units to buy, and which to give to whom.
//!
//! For each booking the selection runs at its spot, with its shelter, goal, lure and fish. An option serves a booking when
//! nothing disqualifies it, its score reaches the booking's least one and, in neighbours, its headroom does too; of each
//! sensor only the best option counts. A booking is met when each of its anglers gets a unit on every one of its days, all
//! of one sensor and on one option: people who share a shelter set up alike, for the headroom is that of equal units.
//! Several anglers without a shelter stand far apart and count as alone.
//!
//! Units that are ready count as owned, others don't. What is bought is what the busiest day needs over what is ready. The
//! aims come one after the other: most anglers met, least cost, best mean score; the program and its proofs are in the
//! solver. A plan does not depend on the order of sensors, options, units or bookings, nor on the number of threads.

mod cards;
mod check;
pub(crate) mod money;
mod remarks;
mod solver;
mod suit;
mod types;
mod unmet;
mod usage;

pub use types::{Assignment, DEFAULT_GAP, FleetInput, FleetPlan, Purchase, SensorDay, SetUpCard, Unmet, UnmetReason};

use jiff::civil::Date;

use crate::PlanningError;
use crate::layout::Layouts;
use domain::{Booking, Cancel, UnitState};
use money::{money, nanos};
use solver::{Choice, Job, Problem, Solution, Stock};
use suit::{Offer, best_of_each};
use usage::Usage;

/// Plans a fleet, on all threads of the current pool. `cancel` is checked now and then.
///
/// # Errors
/// Every fault of the input at once, a shelter too small for its party included; or the work is cancelled.
pub fn plan(input: &FleetInput, cancel: &Cancel) -> Result<FleetPlan, PlanningError> {
    let layouts = Layouts::default();
    let faults = input.check(&layouts);
    if !faults.is_empty() {
        return Err(PlanningError::Faults(faults));
    }
    let offers = suit::offers(input, cancel)?;
    let fleet = Fleet::new(input, &offers);
    let solution = solver::solve(&fleet.problem, cancel)?;
    cancel.check()?;
    Ok(fleet.plan(&solution, &layouts))
}

/// An input with what would serve, and the program that it makes. The program has sensors and bookings in the order of
/// their ids, so that the order of the input changes nothing.
struct Fleet<'a> {
    input: &'a FleetInput,
    offers: &'a [Vec<Offer>],
    problem: Problem,
    /// Index of the sensor by place in the program.
    sensors: Vec<usize>,
    /// Index of the booking by place in the program.
    bookings: Vec<usize>,
}

impl<'a> Fleet<'a> {
    fn new(input: &'a FleetInput, offers: &'a [Vec<Offer>]) -> Self {
        let mut sensors: Vec<usize> = (0..input.sensors.len()).collect();
        sensors.sort_by_key(|index| input.sensors.get(*index).map(|sensor| &sensor.id));
        let mut bookings: Vec<usize> = (0..input.bookings.len()).collect();
        bookings.sort_by_key(|index| input.bookings.get(*index).map(|booking| &booking.id));
        let start = first_day(input);
        let stocks = sensors.iter().map(|sensor| Stock { ready: ready(input, *sensor), price: price(input, *sensor) });
        let job = |index: &usize| {
            let (booking, offers) = (input.bookings.get(*index)?, offers.get(*index)?);
            let mut choices: Vec<Choice> = best_of_each(input, booking, offers)
                .iter()
                .filter_map(|offer| {
                    let sensor = sensors.iter().position(|sensor| *sensor == offer.sensor)?;
                    Some(Choice { sensor, score: offer.score })
                })
                .collect();
            choices.sort_by_key(|choice| choice.sensor);
            let day = |day: Date| (day - start).get_days();
            Some(Job { anglers: booking.anglers, first: day(booking.first_day), last: day(booking.last_day), choices })
        };
        let jobs = bookings.iter().filter_map(job).collect();
        let budget = input.budget.as_ref().map(nanos);
        let problem = Problem { stocks: stocks.collect(), jobs, budget, gap: input.gap };
        Self { input, offers, problem, sensors, bookings }
    }

    fn plan(&self, solution: &Solution, layouts: &Layouts) -> FleetPlan {
        let input = self.input;
        let currency = currency(input);
        let given = self.given(solution);
        let bought = self.bought(solution);
        let usage = Usage::new(input, &given, &bought);
        let assignments: Vec<Assignment> = given
            .iter()
            .enumerate()
            .filter_map(|(booking, offer)| {
                let units = input.bookings.get(booking)?.anglers;
                offer.map(|offer| Assignment {
                    booking,
                    option: offer.option,
                    units,
                    score: offer.score,
                    headroom: offer.headroom,
                })
            })
            .collect();
        let (cost, least) = (solution.cost, solution.least_cost);
        let not_met = given.iter().enumerate().filter(|(_, offer)| offer.is_none()).map(|(booking, _)| booking);
        let left = self.problem.budget.map(|budget| budget - cost);
        FleetPlan {
            purchases: self.purchases(&bought),
            cost: money(cost, currency),
            least_cost: money(least, currency),
            gap: solver::share(cost - least, cost),
            cost_is_proven: solution.met_is_proven && solution.cost_is_proven,
            score_is_proven: solution.score_is_proven,
            mean_score: mean_score(&assignments),
            unmet: not_met.filter_map(|booking| unmet::explain(input, self.offers, &usage, left, booking)).collect(),
            days: usage.days(),
            cards: self.cards(&given, layouts),
            remarks: remarks::remarks(input, solution.met_is_proven, &usage),
            assignments,
        }
    }

    /// What each booking of the input gets.
    fn given(&self, solution: &Solution) -> Vec<Option<&'a Offer>> {
        let mut given = vec![None; self.input.bookings.len()];
        for (booking, own) in self.bookings.iter().zip(&solution.given) {
            let sensor = own.and_then(|place| self.sensors.get(place).copied());
            if let (Some(sensor), Some(record), Some(offers), Some(slot)) =
                (sensor, self.input.bookings.get(*booking), self.offers.get(*booking), given.get_mut(*booking))
            {
                *slot = best_of_each(self.input, record, offers).into_iter().find(|offer| offer.sensor == sensor);
            }
        }
        given
    }

    /// Units to buy by sensor of the input.
    fn bought(&self, solution: &Solution) -> Vec<u32> {
        let mut bought = vec![0; self.input.sensors.len()];
        for (sensor, count) in self.sensors.iter().zip(&solution.bought) {
            if let Some(slot) = bought.get_mut(*sensor) {
                *slot = *count;
            }
        }
        bought
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
        own.filter_map(|(booking, offer)| cards::card(self.input, booking, offer, layouts)).collect()
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

/// The first day of all bookings; the input is checked and has some.
fn first_day(input: &FleetInput) -> Date {
    input.bookings.iter().map(|booking| booking.first_day).min().unwrap_or_default()
}

/// Units of a sensor that are ready.
fn ready(input: &FleetInput, sensor: usize) -> u32 {
    let Some(record) = input.sensors.get(sensor) else { return 0 };
    let units = input.units.iter().filter(|unit| unit.sensor == record.id && unit.state == UnitState::Ready);
    u32::try_from(units.count()).unwrap_or(u32::MAX)
}

/// What one unit costs, in billionths; none where it is not for sale.
fn price(input: &FleetInput, sensor: usize) -> Option<i128> {
    input.sensors.get(sensor)?.price.as_ref().map(nanos)
}

/// The one currency of the plan; none where nothing has a price.
fn currency(input: &FleetInput) -> Option<&str> {
    let prices = input.options.iter().filter_map(|option| input.sensors.get(option.sensor)?.price.as_ref());
    input.budget.iter().chain(prices).map(|money| money.currency.as_str()).next()
}

/// What a sensor is called.
fn sensor_name(input: &FleetInput, sensor: usize) -> &str {
    input.sensors.get(sensor).map_or("", |sensor| sensor.display_name.as_str())
}

/// Whether a booking runs on a day.
fn runs(booking: &Booking, day: Date) -> bool {
    (booking.first_day..=booking.last_day).contains(&day)
}
