//! An assignment that is being changed: loads by sensor and day, kept up to date with each move.

use super::problem::{Calendar, Problem};

/// Where each job is, and what that loads.
#[derive(Debug, Clone)]
pub(super) struct State<'a> {
    pub(super) problem: &'a Problem,
    pub(super) calendar: &'a Calendar,
    pub(super) given: Vec<Option<usize>>,
    /// By sensor and day.
    loads: Vec<Vec<u32>>,
}

impl<'a> State<'a> {
    /// Nobody has anything, and some units are away.
    pub(super) fn empty(problem: &'a Problem, calendar: &'a Calendar) -> Self {
        Self { problem, calendar, given: vec![None; problem.jobs.len()], loads: calendar.away.clone() }
    }

    /// An assignment as it is.
    pub(super) fn of(problem: &'a Problem, calendar: &'a Calendar, given: &[Option<usize>]) -> Self {
        let mut state = Self::empty(problem, calendar);
        for (job, sensor) in given.iter().enumerate() {
            state.give(job, *sensor);
        }
        state
    }

    /// Moves a job.
    pub(super) fn give(&mut self, job: usize, sensor: Option<usize>) {
        let anglers = self.anglers(job);
        let Some(own) = self.given.get_mut(job) else { return };
        let before = std::mem::replace(own, sensor);
        if let Some(days) = before.and_then(|sensor| span(&mut self.loads, self.calendar, sensor, job)) {
            days.iter_mut().for_each(|load| *load -= anglers);
        }
        if let Some(days) = sensor.and_then(|sensor| span(&mut self.loads, self.calendar, sensor, job)) {
            days.iter_mut().for_each(|load| *load += anglers);
        }
    }

    pub(super) fn anglers(&self, job: usize) -> u32 {
        self.problem.jobs.get(job).map_or(0, |job| job.anglers)
    }

    pub(super) fn peak(&self, sensor: usize) -> u32 {
        self.loads.get(sensor).and_then(|days| days.iter().copied().max()).unwrap_or_default()
    }

    /// Loads of a sensor over the days of a job.
    pub(super) fn over(&self, sensor: usize, job: usize) -> &[u32] {
        let (low, high) = self.calendar.spans.get(job).copied().unwrap_or_default();
        self.loads.get(sensor).and_then(|days| days.get(low..=high)).unwrap_or_default()
    }

    /// The first day from `from` on, going round, on which some sensor's load passes its limit.
    pub(super) fn overload(&self, limits: &[u32], from: usize) -> Option<(usize, usize)> {
        let days = self.calendar.days.max(1);
        (0..days).map(|step| (from + step) % days).find_map(|day| {
            let over = |(loads, limit): (&Vec<u32>, &u32)| loads.get(day).is_some_and(|load| load > limit);
            self.loads.iter().zip(limits).position(over).map(|sensor| (sensor, day))
        })
    }

    /// The jobs that a sensor serves on a day.
    pub(super) fn running(&self, sensor: usize, day: usize) -> impl Iterator<Item = usize> + '_ {
        let spans = self.calendar.spans.iter().zip(&self.given).enumerate();
        spans
            .filter(move |(_, ((low, high), own))| **own == Some(sensor) && (*low..=*high).contains(&day))
            .map(|(job, _)| job)
    }

    /// What a sensor's units to buy cost at a peak; none where they cannot be had.
    pub(super) fn price(&self, sensor: usize, peak: u32) -> Option<i128> {
        let stock = self.problem.stocks.get(sensor)?;
        let missing = peak.saturating_sub(stock.ready);
        if missing == 0 { Some(0) } else { Some(stock.price? * i128::from(missing)) }
    }

    /// How much more is to be paid for giving an unserved job a sensor; none where units cannot be had.
    pub(super) fn surcharge(&self, job: usize, sensor: usize) -> Option<i128> {
        let before = self.peak(sensor);
        let own = self.over(sensor, job).iter().copied().max().unwrap_or_default() + self.anglers(job);
        Some(self.price(sensor, before.max(own))? - self.price(sensor, before)?)
    }

    /// What all units to buy cost.
    pub(super) fn cost(&self) -> Option<i128> {
        (0..self.loads.len()).map(|sensor| self.price(sensor, self.peak(sensor))).sum()
    }
}

fn span<'a>(loads: &'a mut [Vec<u32>], calendar: &Calendar, sensor: usize, job: usize) -> Option<&'a mut [u32]> {
    let (low, high) = calendar.spans.get(job).copied()?;
    loads.get_mut(sensor)?.get_mut(low..=high)
}
