//! The program that an input makes, with bookings, sensors and days in numbers.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::money::{nanos, price};
use super::presence::{self, first_day};
use super::roofs::{Roofs, begins};
use super::solver::{self, Choice, Job, Problem, Solution, Stock, Tie};
use super::suit::{self, Offer, Offers};
use super::types::FleetInput;

/// An input with what would serve, and the program that it makes. The program has sensors and bookings in the order of
/// their ids, so that the order of the input changes nothing.
pub(super) struct Fleet<'a> {
    pub(super) input: &'a FleetInput,
    pub(super) roofs: &'a Roofs,
    pub(super) offers: &'a Offers,
    /// By booking of the input: the offers that it chooses from, by sensor.
    pub(super) choices: Vec<Vec<&'a Offer>>,
    pub(super) problem: Problem,
    /// Index of the sensor by place in the program.
    pub(super) sensors: Vec<usize>,
    /// Index of the booking by place in the program.
    pub(super) bookings: Vec<usize>,
}

impl<'a> Fleet<'a> {
    pub(super) fn new(input: &'a FleetInput, roofs: &'a Roofs, offers: &'a Offers) -> Self {
        let mut sensors: Vec<usize> = (0..input.sensors.len()).collect();
        sensors.sort_by_key(|index| input.sensors.get(*index).map(|sensor| &sensor.id));
        let refused: BTreeSet<usize> = offers.refused.iter().map(|(booking, _)| *booking).collect();
        let mut bookings: Vec<usize> = (0..input.bookings.len()).filter(|index| !refused.contains(index)).collect();
        bookings.sort_by_key(|index| input.bookings.get(*index).map(|booking| &booking.id));
        let stocks =
            sensors.iter().map(|sensor| Stock { ready: presence::stock(input, *sensor), price: price(input, *sensor) });
        let start = first_day(input);
        let away = sensors.iter().enumerate().map(|(place, sensor)| presence::absences(input, (*sensor, place), start));
        let problem = Problem {
            stocks: stocks.collect(),
            jobs: Vec::new(),
            away: away.flatten().collect(),
            budget: input.budget.as_ref().map(nanos),
            change: input.replan.change_worth.as_ref().map(nanos),
            gap: input.gap,
        };
        let choices = suit::choices(input, roofs, offers);
        let mut fleet = Self { input, roofs, offers, choices, problem, sensors, bookings };
        fleet.problem.jobs = fleet.bookings.iter().filter_map(|index| fleet.job(*index)).collect();
        fleet
    }

    /// A booking in numbers.
    fn job(&self, index: usize) -> Option<Job> {
        let (booking, from) = (self.input.bookings.get(index)?, self.input.replan.from);
        let start = first_day(self.input);
        let place = |sensor: usize| self.sensors.iter().position(|known| *known == sensor);
        let kept = self.kept(index);
        let mut choices: Vec<Choice> = self
            .given_choices(index)
            .filter_map(|offer| Some(Choice { sensor: place(offer.sensor)?, score: offer.score }))
            .collect();
        choices.sort_by_key(|choice| choice.sensor);
        let day = |day: Date| (day - start).get_days();
        Some(Job {
            anglers: booking.anglers,
            first: day(begins(booking, from)),
            last: day(booking.last_day),
            choices,
            kept: kept.and_then(|(sensor, tie)| Some(solver::Kept { sensor: place(sensor)?, tie })),
            party: self.roofs.party(index),
        })
    }

    /// The sensor that a booking has by the plan to keep, and how much it holds to it.
    fn kept(&self, index: usize) -> Option<(usize, Tie)> {
        let booking = self.input.bookings.get(index)?;
        let kept = self.input.replan.kept.iter().find(|kept| kept.booking == booking.id)?;
        let sensor = self.input.sensors.iter().position(|sensor| sensor.id == kept.gear.sensor)?;
        let begun = self.input.replan.from.is_some_and(|from| booking.first_day < from);
        let is_out = begun || presence::lent_to(self.input, &booking.id).next().is_some();
        let tie = match (is_out, kept.promised) {
            (true, _) => Tie::Out,
            (false, true) => Tie::Promised,
            (false, false) => Tie::Planned,
        };
        Some((sensor, tie))
    }

    /// What a booking chooses from, and what it has in hand even where that would not be given out now.
    fn given_choices(&self, index: usize) -> impl Iterator<Item = &'a Offer> + '_ {
        let own = self.choices.get(index).map(Vec::as_slice).unwrap_or_default();
        let out = self.kept(index).filter(|(_, tie)| *tie == Tie::Out).map(|(sensor, _)| sensor);
        let missing = out.filter(|sensor| own.iter().all(|offer| offer.sensor != *sensor));
        let all = self.offers.by_booking.get(index).map(Vec::as_slice).unwrap_or_default();
        let option = self.kept_option(index);
        let held = all.iter().filter(move |offer| Some(offer.sensor) == missing);
        own.iter().copied().chain(held.max_by_key(move |offer| Some(offer.option) == option))
    }

    /// The option that a booking has by the plan to keep, as an index of the input.
    fn kept_option(&self, index: usize) -> Option<usize> {
        let booking = self.input.bookings.get(index)?;
        let gear = &self.input.replan.kept.iter().find(|kept| kept.booking == booking.id)?.gear;
        self.input.options.iter().position(|place| {
            let sensor = self.input.sensors.get(place.sensor).filter(|sensor| sensor.id == gear.sensor);
            sensor.and_then(|sensor| sensor.options.get(place.option)).is_some_and(|option| option.id == gear.option)
        })
    }

    /// What each booking of the input gets.
    pub(super) fn given(&self, solution: &Solution) -> Vec<Option<&'a Offer>> {
        let mut given = vec![None; self.input.bookings.len()];
        for (booking, own) in self.bookings.iter().zip(&solution.given) {
            let sensor = own.and_then(|place| self.sensors.get(place).copied());
            if let (Some(sensor), Some(slot)) = (sensor, given.get_mut(*booking)) {
                *slot = self.given_choices(*booking).find(|offer| offer.sensor == sensor);
            }
        }
        given
    }

    /// Units to buy by sensor of the input.
    pub(super) fn bought(&self, solution: &Solution) -> Vec<u32> {
        let mut bought = vec![0; self.input.sensors.len()];
        for (sensor, count) in self.sensors.iter().zip(&solution.bought) {
            if let Some(slot) = bought.get_mut(*sensor) {
                *slot = *count;
            }
        }
        bought
    }
}
