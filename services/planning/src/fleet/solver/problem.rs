//! What is to be solved, and the exact worth of an answer.

/// Units of one sensor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::fleet) struct Stock {
    /// Units that are ready.
    pub(in crate::fleet) ready: u32,
    /// What one more costs, in billionths; none where there are no more.
    pub(in crate::fleet) price: Option<i128>,
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
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::fleet) struct Problem {
    /// By sensor.
    pub(in crate::fleet) stocks: Vec<Stock>,
    /// By booking.
    pub(in crate::fleet) jobs: Vec<Job>,
    /// What may be spent, in billionths.
    pub(in crate::fleet) budget: Option<i128>,
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
    /// No answer that meets as many costs less.
    pub(in crate::fleet) least_cost: i128,
    /// Whether it is proven that no more anglers can be met.
    pub(in crate::fleet) met_is_proven: bool,
    /// Whether it is proven that as many cannot be met for less.
    pub(in crate::fleet) cost_is_proven: bool,
    /// Whether it is proven that as many cannot be met better for as little.
    pub(in crate::fleet) score_is_proven: bool,
}

/// What an assignment is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    pub(super) met: u64,
    pub(super) cost: i128,
    /// Sum over anglers.
    pub(super) score: f64,
}

/// The days on which capacity can run out: those whose running jobs are not all among another day's. Days in between are
/// implied, for jobs run over spans, and so every sensor's peak lies on one of these.
#[derive(Debug, Clone)]
pub(super) struct Calendar {
    /// By job: the first and the last of the days at which it runs.
    pub(super) spans: Vec<(usize, usize)>,
    /// How many days there are.
    pub(super) days: usize,
}

impl Calendar {
    pub(super) fn new(jobs: &[Job]) -> Self {
        // A set of spans that share a day is largest just before one of them ends after another began.
        let mut events: Vec<(i32, bool)> = jobs.iter().flat_map(|job| [(job.first, false), (job.last, true)]).collect();
        events.sort_unstable();
        let mut days = Vec::new();
        for pair in events.windows(2) {
            if let [(day, false), (_, true)] = pair {
                days.push(*day);
            }
        }
        let spans = jobs
            .iter()
            .map(|job| {
                let low = days.partition_point(|day| *day < job.first);
                let high = days.partition_point(|day| *day <= job.last);
                (low, high.saturating_sub(1))
            })
            .collect();
        Self { spans, days: days.len() }
    }
}

impl Problem {
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
            for change in changes {
                load += change;
                *peak = (*peak).max(u64::try_from(load).unwrap_or_default());
            }
        }
        peaks
    }

    /// What an assignment is worth; none where it needs units that nobody sells, breaks the budget or gives a job what does
    /// not serve it.
    pub(super) fn worth(&self, calendar: &Calendar, given: &[Option<usize>]) -> Option<Worth> {
        let mut worth = Worth { met: 0, cost: 0, score: 0.0 };
        for (stock, peak) in self.stocks.iter().zip(self.peaks(calendar, given)) {
            let missing = peak.saturating_sub(u64::from(stock.ready));
            if missing > 0 {
                worth.cost += stock.price? * i128::from(missing);
            }
        }
        if self.budget.is_some_and(|budget| worth.cost > budget) {
            return None;
        }
        for (job, own) in self.jobs.iter().zip(given) {
            let Some(sensor) = own else { continue };
            let choice = job.choices.iter().find(|choice| choice.sensor == *sensor)?;
            worth.met += u64::from(job.anglers);
            worth.score += f64::from(job.anglers) * choice.score;
        }
        Some(worth)
    }
}
