//! Ranks at one spot, and how the options did over many.

use domain::selection::{Finding, OptionSummary};

/// A score this near to the best one of the spot is near best: less than the model can tell apart.
pub const NEAR_BEST: f64 = 0.05;

/// What decides a rank besides the order of the options' names.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Standing {
    /// Score; 0 when disqualified.
    pub(crate) score: f64,
    /// Whether the option may be recommended at all.
    pub(crate) qualified: bool,
}

/// Writes into `ranks` the rank of each option, 1 for the best: qualified before disqualified, then by score, then by
/// `tie_order`, the place of each option in the order of the options' resource names. `order` is working space. Ranks
/// therefore do not depend on the order in which options were asked for.
pub(crate) fn rank(standings: &[Standing], tie_order: &[u32], order: &mut Vec<u32>, ranks: &mut Vec<u32>) {
    let count = u32::try_from(standings.len()).unwrap_or(u32::MAX);
    order.clear();
    order.extend(0..count);
    order.sort_unstable_by(|&a, &b| {
        let key = |index: u32| {
            let index = usize::try_from(index).unwrap_or(usize::MAX);
            standings.get(index).copied().zip(tie_order.get(index).copied())
        };
        match (key(a), key(b)) {
            (Some((a, a_tie)), Some((b, b_tie))) => {
                b.qualified.cmp(&a.qualified).then(b.score.total_cmp(&a.score)).then(a_tie.cmp(&b_tie))
            }
            (a, b) => b.is_some().cmp(&a.is_some()),
        }
    });
    ranks.clear();
    ranks.resize(standings.len(), 0);
    for (rank, &option) in (1..).zip(order.iter()) {
        if let Some(slot) = usize::try_from(option).ok().and_then(|option| ranks.get_mut(option)) {
            *slot = rank;
        }
    }
}

/// Sums up how each option does, spot by spot, without keeping the findings.
#[derive(Debug, Clone)]
pub struct Summarizer {
    rows: Vec<Row>,
}

#[derive(Debug, Clone, Copy)]
struct Row {
    best_at: u32,
    serves: u32,
    near_best_at: u32,
    spots: u32,
    sum: f64,
    worst: f64,
}

impl Summarizer {
    /// For a run over that many options.
    #[must_use]
    pub fn new(options: usize) -> Self {
        let empty = Row { best_at: 0, serves: 0, near_best_at: 0, spots: 0, sum: 0.0, worst: f64::INFINITY };
        Self { rows: vec![empty; options] }
    }

    /// Adds the findings of one spot, in any order. Spots are to be added in the order of the run: sums of floats depend
    /// on their order, and a summary must not depend on chunks.
    pub fn add_spot(&mut self, findings: &[Finding]) {
        let best = findings.iter().map(|finding| finding.score).fold(0.0, f64::max);
        for finding in findings {
            let Some(row) = self.rows.get_mut(finding.option) else { continue };
            let qualified = finding.failures.is_empty();
            row.best_at += u32::from(qualified && finding.rank == 1);
            row.serves += u32::from(qualified);
            row.near_best_at += u32::from(qualified && finding.score >= best - NEAR_BEST);
            row.spots += 1;
            row.sum += finding.score;
            row.worst = row.worst.min(finding.score);
        }
    }

    /// The summaries, best first: by spots at which the option ranks first, then by mean score, then as asked for.
    #[must_use]
    pub fn finish(self) -> Vec<OptionSummary> {
        let mut summaries: Vec<OptionSummary> = self
            .rows
            .into_iter()
            .enumerate()
            .map(|(option, row)| OptionSummary {
                option,
                best_at: row.best_at,
                serves: row.serves,
                near_best_at: row.near_best_at,
                mean_score: if row.spots == 0 { 0.0 } else { row.sum / f64::from(row.spots) },
                worst_score: if row.spots == 0 { 0.0 } else { row.worst },
            })
            .collect();
        summaries.sort_by(|a, b| {
            b.best_at.cmp(&a.best_at).then(b.mean_score.total_cmp(&a.mean_score)).then(a.option.cmp(&b.option))
        });
        summaries
    }
}

/// The summaries of findings that stand in the order of their spots; `options` is how many options the run has.
#[must_use]
pub fn summarize(findings: &[Finding], options: usize) -> Vec<OptionSummary> {
    let mut summarizer = Summarizer::new(options);
    for spot in findings.chunk_by(|a, b| a.spot == b.spot) {
        summarizer.add_spot(spot);
    }
    summarizer.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_put_disqualified_last_and_break_ties_by_name() {
        let standing = |score, qualified| Standing { score, qualified };
        let standings =
            [standing(0.0, false), standing(0.4, true), standing(0.9, true), standing(0.4, true), standing(0.0, false)];
        let (mut order, mut ranks) = (Vec::new(), Vec::new());
        rank(&standings, &[4, 3, 2, 1, 0], &mut order, &mut ranks);
        assert_eq!(ranks, [5, 3, 1, 2, 4]);
    }
}
