//! A problem made small, and as a program.

use std::collections::BTreeMap;

use super::number::{common, float};
use super::problem::{Calendar, Job, Kept, Level, Problem};
use super::program::Program;

/// What a program is to reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Aim {
    /// Most of a level.
    Most(Level),
    /// Least burden.
    Burden,
    /// Best score.
    Score,
}

/// What earlier programs reached, and later ones may not undo.
#[derive(Debug, Clone, Default)]
pub(super) struct Reached {
    /// At least that much of each level.
    pub(super) levels: Vec<(Level, u64)>,
    /// At most that burden.
    pub(super) burden: Option<i128>,
}

/// Jobs that differ in nothing that counts.
#[derive(Debug, Clone)]
struct Group {
    members: Vec<usize>,
    anglers: f64,
    span: (usize, usize),
    /// Sensor and score.
    choices: Vec<(usize, f64)>,
    /// One of them: what each level counts.
    like: Job,
}

/// Anglers, span, choices with the bits of their scores, what is kept, and the party.
type Likeness = (u32, (usize, usize), Vec<(usize, u64)>, Option<Kept>, Option<usize>);

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
    /// Party, sensor, and the variable that says whether the one has the other.
    parties: Vec<(usize, usize, usize)>,
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
                groups.entry((job.anglers, *span, choices, job.kept, job.party)).or_default().push(index);
            }
        }
        let groups = groups
            .into_iter()
            .filter_map(|((anglers, span, choices, ..), members)| {
                let like = problem.jobs.get(*members.first()?)?.clone();
                let choices = choices.into_iter().map(|(sensor, score)| (sensor, f64::from_bits(score))).collect();
                Some(Group { members, anglers: f64::from(anglers), span, choices, like })
            })
            .collect();
        let on_sale = |(stock, sold): (&super::Stock, &bool)| stock.price.filter(|_| *sold);
        let listed: Vec<Option<i128>> = problem.stocks.iter().zip(&sold).map(on_sale).collect();
        let unit = listed.iter().chain([&problem.change]).flatten().fold(0, |unit, price| common(unit, *price)).max(1);
        let prices = listed.into_iter().map(|price| price.map(|price| price / unit)).collect();
        Self { problem, calendar, groups, prices, unit }
    }

    /// How many variables its programs have.
    pub(super) fn size(&self) -> usize {
        self.groups.iter().map(|group| group.choices.len()).sum::<usize>() + self.prices.len()
    }

    /// What one change is worth, in units of `unit`.
    fn change(&self) -> f64 {
        float(self.problem.change.unwrap_or_default() / self.unit)
    }

    /// The program of an aim.
    pub(super) fn columns(&self, aim: Aim, reached: &Reached) -> Columns {
        let mut program = Program::default();
        let mut given = Vec::with_capacity(self.groups.len());
        for group in &self.groups {
            let most = float(i128::try_from(group.members.len()).unwrap_or_default());
            let own: Vec<(usize, usize)> = group
                .choices
                .iter()
                .map(|(sensor, score)| {
                    let gain = match aim {
                        Aim::Most(level) => f64::from(group.like.gain(level, *sensor)),
                        Aim::Burden => self.change() * f64::from(group.like.gain(Level::Unchanged, *sensor)),
                        Aim::Score => group.anglers * score,
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
                let gain = if aim == Aim::Burden { -float((*price)?) } else { 0.0 };
                price.map(|_| program.column(gain, self.most_bought(sensor)))
            })
            .collect();
        let mut columns = Columns { program, given, bought, parties: Vec::new() };
        self.parties(&mut columns);
        self.capacity(&mut columns);
        self.limits(&mut columns, reached);
        columns
    }

    /// Those of a party get one sensor: a variable says whether a party has it, and there is one of them at most.
    fn parties(&self, columns: &mut Columns) {
        let mut known: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
        let (program, parties) = (&mut columns.program, &mut columns.parties);
        for (group, own) in self.groups.iter().zip(&columns.given) {
            let Some(party) = group.like.party else { continue };
            let most = float(i128::try_from(group.members.len()).unwrap_or_default());
            let has = known.entry(party).or_default();
            for (sensor, column) in own {
                let whole = *has.entry(*sensor).or_insert_with(|| {
                    let whole = program.column(0.0, 1.0);
                    parties.push((party, *sensor, whole));
                    whole
                });
                program.rows.push((vec![(*column, 1.0), (whole, -most)], 0.0));
            }
        }
        program.rows.extend(known.values().map(|has| (has.values().map(|column| (*column, 1.0)).collect(), 1.0)));
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
            let mut rows: Vec<(Vec<(usize, f64)>, u32)> = Vec::new();
            for day in 0..self.calendar.days {
                let runs = users.iter().filter(|(group, _)| group.span.0 <= day && day <= group.span.1);
                let row: Vec<(usize, f64)> = runs.map(|(group, column)| (*column, group.anglers)).collect();
                let day = (row, stock.ready.saturating_sub(self.calendar.away(sensor, day)));
                // Spans: a day's users that are all among another day's are so among the one before or after it.
                let among = |a: &(Vec<(usize, f64)>, u32), b: &(Vec<(usize, f64)>, u32)| {
                    a.1 >= b.1 && a.0.iter().all(|term| b.0.contains(term))
                };
                if rows.last().is_some_and(|last| among(&day, last)) {
                    continue;
                }
                while rows.last().is_some_and(|last| among(last, &day)) {
                    rows.pop();
                }
                rows.push(day);
            }
            for (mut row, ready) in rows {
                let ready = f64::from(ready);
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

    fn limits(&self, columns: &mut Columns, reached: &Reached) {
        let terms = |level: Level, share: f64| -> Vec<(usize, f64)> {
            let all = self.groups.iter().zip(&columns.given).flat_map(|(group, own)| {
                own.iter().map(move |(sensor, column)| (*column, share * f64::from(group.like.gain(level, *sensor))))
            });
            all.filter(|(_, share)| *share != 0.0).collect()
        };
        let spent = || -> Vec<(usize, f64)> {
            let spent = columns.bought.iter().zip(&self.prices);
            spent.filter_map(|(column, price)| Some(((*column)?, float((*price)?)))).collect()
        };
        let mut rows = Vec::new();
        if let Some(budget) = self.problem.budget {
            rows.push((spent(), float(budget / self.unit)));
        }
        if let Some(burden) = reached.burden {
            let kept = self.problem.change.unwrap_or_default() * i128::from(self.problem.kept());
            let spared =
                if self.problem.change.is_some() { terms(Level::Unchanged, -self.change()) } else { Vec::new() };
            rows.push(([spent(), spared].concat(), float((burden - kept).div_euclid(self.unit))));
        }
        for (level, least) in &reached.levels {
            rows.push((terms(*level, -1.0), -float(i128::from(*least))));
        }
        columns.program.rows.extend(rows);
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
        for (party, sensor, column) in &columns.parties {
            let has = |(job, own): (&Job, &Option<usize>)| job.party == Some(*party) && *own == Some(*sensor);
            if let Some(value) = values.get_mut(*column) {
                *value = if self.problem.jobs.iter().zip(assigned).any(has) { 1.0 } else { 0.0 };
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
/// ready the argument does not hold: a group can't be split between those and the cheaper ones; nor does it where somebody
/// has the sensor already, for whom another one is a change, nor where parties hold together.
fn worth_buying(problem: &Problem, sensor: usize) -> bool {
    let Some(stock) = problem.stocks.get(sensor) else { return false };
    let Some(price) = stock.price else { return false };
    if stock.ready > 0 || problem.jobs.iter().any(|job| job.kept.is_some_and(|kept| kept.sensor == sensor)) {
        return true;
    }
    let serves = |job: &Job, sensor: usize| job.choices.iter().any(|choice| choice.sensor == sensor);
    let replaces = |other: usize| problem.jobs.iter().all(|job| !serves(job, sensor) || serves(job, other));
    let cheaper = problem.stocks.iter().enumerate().filter(|(_, other)| other.price.is_some_and(|other| other < price));
    !cheaper.map(|(other, _)| other).any(replaces)
}
