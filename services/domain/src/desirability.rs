//! One-sided desirability functions and their weighted geometric mean.
//!
//! Derringer, G. and Suich, R. (1980), Simultaneous optimization of several response variables, Journal of Quality
//! Technology 12(4), 214-219, doi:10.1080/00224065.1980.11980968.

/// Desirability at which the tail begins. Derringer and Suich's functions are 0 from `worthless` on, which cannot tell bad from worse.
pub const TAIL: f64 = 0.1;
/// How many spans past `worthless` the tail reaches; farther out it stays level, which no figure of a real spot comes to.
const FARTHEST: f64 = 10.0;

/// Which way is better, the limits, and how the desirability bends between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneSided {
    /// The value at which desirability is 0.
    pub worthless: f64,
    /// The value from which it is 1.
    pub ideal: f64,
    /// Exponent; 1 is a straight line.
    pub bend: f64,
}

impl OneSided {
    /// A straight line from `worthless` (0) to `ideal` (1); falling where `ideal` is the smaller of the two.
    #[must_use]
    pub const fn line(worthless: f64, ideal: f64) -> Self {
        Self { worthless, ideal, bend: 1.0 }
    }

    /// Desirability with a tail, in (0, 1]: as [`OneSided::of`] down to [`TAIL`], and from there on falling exponentially with the same
    /// slope, past `worthless` and on. Of two values that are both worthless the less bad one keeps the greater desirability.
    ///
    /// ```
    /// use domain::desirability::OneSided;
    /// let limits = OneSided::line(6.0, 1.0);
    /// assert_eq!(limits.tailed(2.0), limits.of(2.0));
    /// assert!(limits.tailed(9.0) > limits.tailed(10.0) && limits.of(9.0) == limits.of(10.0));
    /// ```
    #[must_use]
    pub fn tailed(self, value: f64) -> f64 {
        let share = ((value - self.worthless) / (self.ideal - self.worthless)).clamp(-FARTHEST, 1.0);
        let tailed = if share < TAIL { TAIL * libm::exp(share / TAIL - 1.0) } else { share };
        if self.bend == 1.0 { tailed } else { libm::pow(tailed, self.bend) }
    }

    /// Desirability of a value, in [0, 1]: `((y − L)/(T − L))^s` between the limits (Derringer and Suich 1980, equations 1 and 2).
    #[must_use]
    pub fn of(self, value: f64) -> f64 {
        let share = ((value - self.worthless) / (self.ideal - self.worthless)).clamp(0.0, 1.0);
        if self.bend == 1.0 { share } else { libm::pow(share, self.bend) }
    }
}

/// Weighted geometric mean `(Π d_i^w_i)^(1/Σ w_i)`; 0 when any desirability with weight is 0.
#[must_use]
pub fn overall(desirabilities: &[f64], weights: &[f64]) -> f64 {
    let mut logs = 0.0;
    let mut total = 0.0;
    for (&d, &weight) in desirabilities.iter().zip(weights) {
        if weight > 0.0 {
            if d <= 0.0 {
                return 0.0;
            }
            logs += weight * libm::log(d);
            total += weight;
        }
    }
    if total > 0.0 { libm::exp(logs / total) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Values of spotdesirability 0.1.1 (DMax, DMin) and of the plain geometric mean (numpy): an independent library.
    #[test]
    fn agrees_with_an_independent_library() {
        for (worthless, ideal, bend, value, expected) in [
            (0.0, 20.0, 2.0, 5.0, 0.0625),
            (-3.0, 10.0, 1.0, 12.0, 1.0),
            (-3.0, 10.0, 1.0, -5.0, 0.0),
            (0.5, 0.05, 1.0, 0.2, 0.666_666_7),
            (0.5, 0.05, 2.0, 0.2, 0.444_444_4),
        ] {
            let d = OneSided { worthless, ideal, bend }.of(value);
            assert!((d - expected).abs() < 1.0e-6, "{d} against {expected}");
        }
        let mean = overall(&[0.25, 0.6, 0.9], &[1.0; 3]);
        assert!((mean - 0.512_992_8).abs() < 1.0e-6, "{mean}");
    }

    #[test]
    fn a_worthless_criterion_without_weight_does_not_kill() {
        assert_eq!(overall(&[0.0, 1.0], &[1.0, 1.0]), 0.0);
        assert_eq!(overall(&[0.0, 1.0], &[0.0, 1.0]), 1.0);
    }

    proptest! {
        #[test]
        fn desirability_stays_in_the_unit_interval_and_follows_its_direction(
            worthless in -10.0..10.0_f64, span in 0.1..10.0_f64, a in -30.0..30.0_f64, b in -30.0..30.0_f64,
        ) {
            let rising = OneSided::line(worthless, worthless + span);
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!((0.0..=1.0).contains(&rising.of(a)));
            prop_assert!(rising.of(low) <= rising.of(high));
            prop_assert!(rising.tailed(low) <= rising.tailed(high) && rising.tailed(low) > 0.0);
            let of = rising.of(a);
            let tailed = rising.tailed(a);
            prop_assert!((of >= TAIL && tailed == of) || (of < TAIL && tailed <= TAIL), "{} beside {}", tailed, of);
            let falling = OneSided::line(worthless, worthless - span);
            prop_assert!(falling.of(low) >= falling.of(high));
        }
    }
}
