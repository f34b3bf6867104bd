//! What is to be solved, and the exact worth of an answer.

use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Units of one sensor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::fleet) struct Stock {
    /// Units that are ready.
    pub(in crate::fleet) ready: u32,
    /// What one more costs, in billionths; none where there are no more.
    pub(in crate::fleet) price: Option<i128>,
}

/// Units of one sensor that are away for some days: lent, or in repair.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::fleet) struct Away {
    /// Index of the stock.
    pub(in crate::fleet) sensor: usize,
    /// How many; on no day more than there are.
    pub(in crate::fleet) units: u32,
    /// First day, as a running number.
    pub(in crate::fleet) first: i32,
    /// Last day, included.
    pub(in crate::fleet) last: i32,
}

/// How much a job holds to what it has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::fleet) enum Tie {
    /// Planned: nobody was told.
    Planned,
    /// The customer was told.
    Promised,
    /// The customer has it in hand.
    Out,
}

/// What a job has by the plan that is to be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::fleet) struct Kept {
    /// Index of the stock.
    pub(in crate::fleet) sensor: usize,
    /// How much it holds to it.
    pub(in crate::fleet) tie: Tie,
}

/// A sensor that would serve a job.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::fleet) struct Choice {
    /// Index of the stock.
    pub(in crate::fleet) sensor: usize,
    /// How well.
    pub(in crate::fleet) score: f64,
}

/// A booking in numbers.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fleet) struct Job {
    /// Units that it takes.
    pub(in crate::fleet) anglers: u32,
    /// First day, as a running number.
    pub(in crate::fleet) first: i32,
    /// Last day, included.
    pub(in crate::fleet) last: i32,
    /// What would serve, by sensor.
    pub(in crate::fleet) choices: Vec<Choice>,
    /// What it has by the plan that is to be kept.
    pub(in crate::fleet) kept: Option<Kept>,
    /// Those of one party, who fish under one roof, get one sensor or nothing.
    pub(in crate::fleet) party: Option<usize>,
}

/// What is counted over the jobs that get something, each as large as can be, one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Level {
    /// Units in the hands of customers that stay with them.
    Out,
    /// Units that were promised and are given.
    Promised,
    /// Anglers that are met.
    Met,
    /// Jobs that have what they had.
    Unchanged,
}

impl Level {
    pub(super) const ALL: [Self; 4] = [Self::Out, Self::Promised, Self::Met, Self::Unchanged];
    /// Where a change is worth some money it is weighed with the cost.
    pub(super) const PRICED: [Self; 3] = [Self::Out, Self::Promised, Self::Met];
}

impl Job {
    /// What giving it a sensor adds to a level.
    pub(super) fn gain(&self, level: Level, sensor: usize) -> u32 {
        let stays = |tie: Option<Tie>| {
            self.kept.is_some_and(|kept| kept.sensor == sensor && tie.is_none_or(|tie| kept.tie == tie))
        };
        match level {
            Level::Out if stays(Some(Tie::Out)) => self.anglers,
            Level::Promised if stays(Some(Tie::Promised)) => self.anglers,
            Level::Out | Level::Promised => 0,
            Level::Met => self.anglers,
            Level::Unchanged => u32::from(stays(None)),
        }
    }
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fleet) struct Problem {
    /// By sensor.
    pub(in crate::fleet) stocks: Vec<Stock>,
    /// By booking.
    pub(in crate::fleet) jobs: Vec<Job>,
    /// Units that are away.
    pub(in crate::fleet) away: Vec<Away>,
    /// What may be spent, in billionths.
    pub(in crate::fleet) budget: Option<i128>,
    /// What it is worth to spare one job a change, in billionths; none where no money outweighs one.
    pub(in crate::fleet) change: Option<i128>,
    /// Relative gap of the cost at which the search may stop.
    pub(in crate::fleet) gap: f64,
}

/// An answer.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fleet) struct Solution {
    /// Sensor by job; none where it is not met.
    pub(in crate::fleet) given: Vec<Option<usize>>,
    /// Units to buy by sensor: what its peak needs over what is ready.
    pub(in crate::fleet) bought: Vec<u32>,
    /// What they cost.
    pub(in crate::fleet) cost: i128,
    /// No answer that keeps and meets as many costs less; what changes are worth is counted in.
    pub(in crate::fleet) least_cost: i128,
    /// Whether it is proven that no more can be kept and no more anglers met.
    pub(in crate::fleet) met_is_proven: bool,
    /// Whether it is proven that as many cannot be kept and met for less.
    pub(in crate::fleet) cost_is_proven: bool,
    /// Whether it is proven that as many cannot be met better for as little.
    pub(in crate::fleet) score_is_proven: bool,
}

/// What an assignment is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    /// Sums by level, in the order of [`Level::ALL`].
    pub(super) levels: [u64; 4],
    pub(super) cost: i128,
    /// The cost, and what the changes are worth besides.
    pub(super) burden: i128,
    /// Sum over anglers.
    pub(super) score: f64,
}

impl Worth {
    pub(super) fn at(&self, level: Level) -> u64 {
        let [out, promised, met, unchanged] = self.levels;
        match level {
            Level::Out => out,
            Level::Promised => promised,
            Level::Met => met,
            Level::Unchanged => unchanged,
        }
    }
}

/// The days on which capacity can run out: those whose running jobs and units away are not all among another day's. Days in
/// between are implied, for all of them run over spans, and so every sensor's peak lies on one of these.
#[derive(Debug, Clone)]
pub(super) struct Calendar {
    /// By job: the first and the last of the days at which it runs.
    pub(super) spans: Vec<(usize, usize)>,
    /// How many days there are.
    pub(super) days: usize,
    /// Units that are away, by sensor and day.
    pub(super) away: Vec<Vec<u32>>,
}

impl Calendar {
    pub(super) fn new(problem: &Problem) -> Self {
        let jobs = problem.jobs.iter().map(|job| (job.first, job.last));
        let all = jobs.clone().chain(problem.away.iter().map(|away| (away.first, away.last)));
        // A set of spans that share a day is largest just before one of them ends after another began.
        let mut events: Vec<(i32, bool)> = all.flat_map(|(first, last)| [(first, false), (last, true)]).collect();
        events.sort_unstable();
        let mut days = Vec::new();
        for pair in events.windows(2) {
            if let [(day, false), (_, true)] = pair {
                days.push(*day);
            }
        }
        let span = |(first, last): (i32, i32)| {
            let low = days.partition_point(|day| *day < first);
            let high = days.partition_point(|day| *day <= last);
            (low, high.saturating_sub(1))
        };
        let mut away = vec![vec![0; days.len()]; problem.stocks.len()];
        for absence in &problem.away {
            let (low, high) = span((absence.first, absence.last));
            let loads = away.get_mut(absence.sensor).and_then(|days| days.get_mut(low..=high));
            loads.into_iter().flatten().for_each(|load| *load += absence.units);
        }
        Self { spans: jobs.map(span).collect(), days: days.len(), away }
    }

    pub(super) fn away(&self, sensor: usize, day: usize) -> u32 {
        self.away.get(sensor).and_then(|days| days.get(day)).copied().unwrap_or_default()
    }
}

impl Problem {
    /// The levels, in their order.
    pub(super) fn levels(&self) -> &'static [Level] {
        if self.change.is_some() { &Level::PRICED } else { &Level::ALL }
    }

    /// How many jobs have something that can be kept.
    pub(super) fn kept(&self) -> u64 {
        u64::try_from(self.jobs.iter().filter(|job| job.kept.is_some()).count()).unwrap_or(u64::MAX)
    }

    /// The same with no other choice for jobs that have what they had, and for those of a party of several: what a search
    /// that moves one job at a time may touch without undoing what comes before the cost.
    pub(super) fn frozen(&self, given: &[Option<usize>]) -> Self {
        let mut frozen = self.clone();
        for (job, own) in frozen.jobs.iter_mut().zip(given) {
            let stays = own.is_some() && job.kept.map(|kept| kept.sensor) == *own;
            if stays || job.party.is_some() {
                job.choices.retain(|choice| Some(choice.sensor) == *own);
            }
        }
        frozen
    }

    /// The peak of each sensor under an assignment, exactly.
    pub(super) fn peaks(&self, calendar: &Calendar, given: &[Option<usize>]) -> Vec<u64> {
        let mut peaks = vec![0_u64; self.stocks.len()];
        for (sensor, peak) in peaks.iter_mut().enumerate() {
            let mut changes = vec![0_i64; calendar.days + 1];
            for ((job, span), own) in self.jobs.iter().zip(&calendar.spans).zip(given) {
                if *own == Some(sensor) {
                    if let Some(change) = changes.get_mut(span.0) {
                        *change += i64::from(job.anglers);
                    }
                    if let Some(change) = changes.get_mut(span.1 + 1) {
                        *change -= i64::from(job.anglers);
                    }
                }
            }
            let mut load = 0_i64;
            for (day, change) in changes.into_iter().enumerate() {
                load += change;
                let all = load + i64::from(calendar.away(sensor, day));
                *peak = (*peak).max(u64::try_from(all).unwrap_or_default());
            }
        }
        peaks
    }

    /// What an assignment is worth; none where it needs units that nobody sells, breaks the budget, gives a job what does
    /// not serve it or parts a party.
    pub(super) fn worth(&self, calendar: &Calendar, given: &[Option<usize>]) -> Option<Worth> {
        let mut worth = Worth { levels: [0; 4], cost: 0, burden: 0, score: 0.0 };
        for (stock, peak) in self.stocks.iter().zip(self.peaks(calendar, given)) {
            let missing = peak.saturating_sub(u64::from(stock.ready));
            if missing > 0 {
                worth.cost += stock.price? * i128::from(missing);
            }
        }
        if self.budget.is_some_and(|budget| worth.cost > budget) {
            return None;
        }
        let mut parties = BTreeMap::new();
        for (job, own) in self.jobs.iter().zip(given) {
            let Some(sensor) = own else { continue };
            let choice = job.choices.iter().find(|choice| choice.sensor == *sensor)?;
            if let Some(party) = job.party
                && parties.insert(party, *sensor).is_some_and(|other| other != *sensor)
            {
                return None;
            }
            for (sum, level) in worth.levels.iter_mut().zip(Level::ALL) {
                *sum += u64::from(job.gain(level, *sensor));
            }
            worth.score += f64::from(job.anglers) * choice.score;
        }
        let changes = self.kept().saturating_sub(worth.at(Level::Unchanged));
        worth.burden = worth.cost + self.change.unwrap_or_default() * i128::from(changes);
        Some(worth)
    }

    /// Which of two assignments is better: the levels one after the other, then the burden, then the score.
    pub(super) fn order(&self, a: &Worth, b: &Worth) -> Ordering {
        let levels = self.levels().iter().map(|level| a.at(*level).cmp(&b.at(*level)));
        levels.fold(Ordering::Equal, Ordering::then).then(b.burden.cmp(&a.burden)).then(a.score.total_cmp(&b.score))
    }
}
