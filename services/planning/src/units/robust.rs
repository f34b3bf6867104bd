//! Medians and spreads that a few bad readings do not move.

/// Standard error of a median of n normal figures over that of their spread by √n: √(π/2).
pub(super) const MEDIAN_ERROR: f64 = 1.253_314_137_315_500_3;
/// The median absolute deviation of normal figures is 1/1.4826 of their standard deviation.
const DEVIATION: f64 = 1.482_602_218_505_602;
/// What the median absolute deviation of 2 to 9 figures lacks to that of many (Croux and Rousseeuw 1992; from memory).
const SMALL: [f64; 8] = [1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107];

/// What the readings of a unit say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Level {
    pub(super) value: f64,
    /// Standard error from the readings alone.
    pub(super) error: f64,
}

/// The level of some deficits that agree, whose readings have that standard deviation: their mean.
pub(super) fn level(deficits: &[f64], reading_error: f64) -> Level {
    let count = crate::selection::count(deficits.len()).max(1.0);
    Level { value: deficits.iter().sum::<f64>() / count, error: reading_error / libm::sqrt(count) }
}

/// The median; none of nothing.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    let upper = *sorted.get(middle)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    Some(0.5 * (upper + *sorted.get(middle.checked_sub(1)?)?))
}

/// The standard deviation by the median absolute deviation; 0 of fewer than two.
pub(super) fn spread(values: &[f64]) -> f64 {
    let Some(middle) = median(values) else { return 0.0 };
    let away: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    let count = crate::selection::count(values.len());
    let factor = match values.len().checked_sub(2) {
        None => return 0.0,
        Some(index) => SMALL.get(index).copied().unwrap_or(count / (count - 0.8)),
    };
    factor * DEVIATION * median(&away).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    #[test]
    fn the_middle_of_a_worked_example() {
        // Twenty-four determinations of copper in wholemeal flour, parts per million: Analytical Methods Committee,
        // Analyst 114, 1693-1697 (1989), doi:10.1039/AN9891401693, as reprinted with MASS (data set chem); from memory.
        let copper = [
            2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2, 5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2,
            3.5, 3.6, 3.7, 3.7,
        ];
        assert!((median(&copper).unwrap() - 3.385).abs() < 1.0e-9);
        // MAD of that data set is given as 0.526 for large samples; the factor here is 24/23.2.
        assert!((spread(&copper) / (24.0 / 23.2) - 0.526).abs() < 6.0e-4, "{}", spread(&copper));
    }

    #[test]
    fn small_samples_are_not_biased() {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        for count in 2..14_usize {
            let rounds = 20_000;
            let mut sum = 0.0;
            for _ in 0..rounds {
                let values: Vec<f64> = (0..count).map(|_| StandardNormal.sample(&mut rng)).collect();
                sum += spread(&values);
            }
            let mean = sum / f64::from(rounds);
            // Standard error of the mean under 0.006; the published factors have three digits.
            assert!((mean - 1.0).abs() < 0.03, "{count}: {mean}");
        }
    }
}
