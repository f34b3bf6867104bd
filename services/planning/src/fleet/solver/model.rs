//! A problem made small, and as a program.

use std::collections::BTreeMap;

use super::number::{common, float};
use super::problem::{Calendar, Problem};
use super::program::Program;

/// What a program is to reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Aim {
    /// Most anglers.
    Met,
    /// Least cost, with at least that many met.
    Cost { met: u64 },
    /// Best score, with at least that many met for at most that much.
    Score { met: u64, cost: i128 },
}

/// Jobs that differ in nothing that counts.
#[derive(Debug, Clone)]
struct Group {
    members: Vec<usize>,
    anglers: f64,
    span: (usize, usize),
    /// Sensor and score.
    choices: Vec<(usize, f64)>,
}

/// Anglers, span, and choices with the bits of their scores.
type Likeness = (u32, (usize, usize), Vec<(usize, u64)>);

/// A problem made small.
#[derive(Debug, Clone)]
pub(super) struct Model<'a> {
    problem: &'a Problem,
    calendar: &'a Calendar,
    groups: Vec<Group>,
    /// By sensor: what one more costs in units of `unit`; none where none is to be bought.
    prices: Vec<Option<i128>>,
    /// What all prices are multiples of.
    pub(super) unit: i128,
}

/// A program with where its variables are.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    pub(super) program: Program,
    /// By group: sensor and variable.
    given: Vec<Vec<(usize, usize)>>,
    /// By sensor.
    bought: Vec<Option<usize>>,
}

impl<'a> Model<'a> {
    pub(super) fn new(problem: &'a Problem, calendar: &'a Calendar) -> Self {
        let sold: Vec<bool> = (0..problem.stocks.len()).map(|sensor| worth_buying(problem, sensor)).collect();
        let mut groups: BTreeMap<Likeness, Vec<usize>> = BTreeMap::new();
        for (index, (job, span)) in problem.jobs.iter().zip(&calendar.spans).enumerate() {
            let choices = job.choices.iter().filter(|choice| {
                let ready = problem.stocks.get(choice.sensor).map_or(0, |stock| stock.ready);
                job.anglers <= ready || sold.get(choice.sensor).is_some_and(|sold| *sold)
            });
            let choices: Vec<(usize, u64)> = choices.map(|choice| (choice.sensor, choice.score.to_bits())).collect();
            if !choices.is_empty() {
                groups.entry((job.anglers, *span, choices)).or_default().push(index);
            }
        }
        let groups = groups
            .into_iter()
            .map(|((anglers, span, choices), members)| Group {
                members,
                anglers: f64::from(anglers),
                span,
                choices: choices.into_iter().map(|(sensor, score)| (sensor, f64::from_bits(score))).collect(),
            })
            .collect();
        let on_sale = |(stock, sold): (&super::Stock, &bool)| stock.price.filter(|_| *sold);
        let listed: Vec<Option<i128>> = problem.stocks.iter().zip(&sold).map(on_sale).collect();
        let unit = listed.iter().flatten().fold(0, |unit, price| common(unit, *price)).max(1);
        let prices = listed.into_iter().map(|price| price.map(|price| price / unit)).collect();
        Self { problem, calendar, groups, prices, unit }
    }

    /// How many variables its programs have.
    pub(super) fn size(&self) -> usize {
        self.groups.iter().map(|group| group.choices.len()).sum::<usize>() + self.prices.len()
    }

    /// The program of an aim.
    pub(super) fn columns(&self, aim: Aim) -> Columns {
        let mut program = Program::default();
        let mut given = Vec::with_capacity(self.groups.len());
        for group in &self.groups {
            let most = float(i128::try_from(group.members.len()).unwrap_or_default());
            let own: Vec<(usize, usize)> = group
                .choices
                .iter()
                .map(|(sensor, score)| {
                    let gain = match aim {
                        Aim::Met => group.anglers,
                        Aim::Cost { .. } => 0.0,
                        Aim::Score { .. } => group.anglers * score,
                    };
                    (*sensor, program.column(gain, most))
                })
                .collect();
            program.rows.push((own.iter().map(|(_, column)| (*column, 1.0)).collect(), most));
            given.push(own);
        }
        let bought: Vec<Option<usize>> = self
            .prices
            .iter()
            .enumerate()
            .map(|(sensor, price)| {
                let gain = if matches!(aim, Aim::Cost { .. }) { -float((*price)?) } else { 0.0 };
                price.map(|_| program.column(gain, self.most_bought(sensor)))
            })
            .collect();
        let mut columns = Columns { program, given, bought };
        self.capacity(&mut columns);
        self.limits(&mut columns, aim);
        columns
    }

    /// Units that all who could use a sensor would need at once, less those that are ready.
    fn most_bought(&self, sensor: usize) -> f64 {
        let given: Vec<Option<usize>> = self
            .problem
            .jobs
            .iter()
            .map(|job| job.choices.iter().any(|choice| choice.sensor == sensor).then_some(sensor))
            .collect();
        let peak = self.problem.peaks(self.calendar, &given).get(sensor).copied().unwrap_or_default();
        let ready = self.problem.stocks.get(sensor).map_or(0, |stock| stock.ready);
        float(i128::from(peak) - i128::from(ready)).max(0.0)
    }

    /// A row for each sensor and each day on which its units can run out.
    fn capacity(&self, columns: &mut Columns) {
        for (sensor, stock) in self.problem.stocks.iter().enumerate() {
            let users: Vec<(&Group, usize)> = self
                .groups
                .iter()
                .zip(&columns.given)
                .filter_map(|(group, own)| Some((group, own.iter().find(|(own, _)| *own == sensor)?.1)))
                .collect();
            let ready = f64::from(stock.ready);
            let mut rows: Vec<Vec<(usize, f64)>> = Vec::new();
            for day in 0..self.calendar.days {
                let runs = users.iter().filter(|(group, _)| group.span.0 <= day && day <= group.span.1);
                let row: Vec<(usize, f64)> = runs.map(|(group, column)| (*column, group.anglers)).collect();
                // Spans: a day's users that are all among another day's are so among the one before or after it.
                let among = |a: &[(usize, f64)], b: &[(usize, f64)]| a.iter().all(|term| b.contains(term));
                if rows.last().is_some_and(|last| among(&row, last)) {
                    continue;
                }
                while rows.last().is_some_and(|last| among(last, &row)) {
                    rows.pop();
                }
                rows.push(row);
            }
            for mut row in rows {
                let users = columns.program.columns.as_slice();
                let need: f64 =
                    row.iter().map(|(column, share)| share * users.get(*column).map_or(0.0, |own| own.1)).sum();
                if need > ready {
                    row.extend(columns.bought.get(sensor).copied().flatten().map(|column| (column, -1.0)));
                    columns.program.rows.push((row, ready));
                }
            }
        }
    }

    fn limits(&self, columns: &mut Columns, aim: Aim) {
        let (met, cost) = match aim {
            Aim::Met => (None, self.problem.budget),
            Aim::Cost { met } => (Some(met), self.problem.budget),
            Aim::Score { met, cost } => (Some(met), Some(cost)),
        };
        if let Some(cost) = cost {
            let spent = columns.bought.iter().zip(&self.prices);
            let spent = spent.filter_map(|(column, price)| Some(((*column)?, float((*price)?)))).collect();
            columns.program.rows.push((spent, float(cost / self.unit)));
        }
        if let Some(met) = met {
            let served = self.groups.iter().zip(&columns.given);
            let served = served.flat_map(|(group, own)| own.iter().map(|(_, column)| (*column, -group.anglers)));
            let served = served.collect();
            columns.program.rows.push((served, -float(i128::from(met))));
        }
    }

    /// An assignment as values of the variables; none where it gives what was left out as dominated.
    pub(super) fn values(&self, columns: &Columns, assigned: &[Option<usize>]) -> Option<Vec<f64>> {
        let mut values = vec![0.0; columns.program.columns.len()];
        for (group, own) in self.groups.iter().zip(&columns.given) {
            for member in &group.members {
                let Some(sensor) = assigned.get(*member).copied().flatten() else { continue };
                let (_, column) = own.iter().find(|(known, _)| *known == sensor)?;
                *values.get_mut(*column)? += 1.0;
            }
        }
        let peaks = self.problem.peaks(self.calendar, assigned);
        for ((column, stock), peak) in columns.bought.iter().zip(&self.problem.stocks).zip(peaks) {
            if let Some(value) = column.and_then(|column| values.get_mut(column)) {
                *value = float(i128::from(peak.saturating_sub(u64::from(stock.ready))));
            }
        }
        Some(values)
    }

    /// Values of the variables as an assignment: each job goes where most of it goes, the first of a group first.
    pub(super) fn assignment(&self, columns: &Columns, values: &[f64]) -> Vec<Option<usize>> {
        let mut assigned = vec![None; self.problem.jobs.len()];
        for (group, own) in self.groups.iter().zip(&columns.given) {
            let mut left: Vec<(usize, f64)> = own
                .iter()
                .map(|(sensor, column)| (*sensor, values.get(*column).copied().unwrap_or_default()))
                .collect();
            for member in &group.members {
                let Some(most) = left.iter_mut().reduce(|a, b| if b.1 > a.1 { b } else { a }) else { continue };
                // A job that less than a part of is served is not served.
                if most.1 > 0.05
                    && let Some(slot) = assigned.get_mut(*member)
                {
                    *slot = Some(most.0);
                    most.1 -= 1.0;
                }
            }
        }
        assigned
    }
}

/// Whether a sensor is for sale and no cheaper one serves every job that it would serve. With units of its own that are
/// ready the argument does not hold: a group can't be split between those and the cheaper ones.
fn worth_buying(problem: &Problem, sensor: usize) -> bool {
    let Some(stock) = problem.stocks.get(sensor) else { return false };
    let Some(price) = stock.price else { return false };
    if stock.ready > 0 {
        return true;
    }
    let serves = |job: &super::Job, sensor: usize| job.choices.iter().any(|choice| choice.sensor == sensor);
    let replaces = |other: usize| problem.jobs.iter().all(|job| !serves(job, sensor) || serves(job, other));
    let cheaper = problem.stocks.iter().enumerate().filter(|(_, other)| other.price.is_some_and(|other| other < price));
    !cheaper.map(|(other, _)| other).any(replaces)
}
