//! What a tilt across the line, which one line does not show, does to the other figures.
//!
//! It lowers what every hole sees much as a weaker unit would, and bends the rest much as a wider beam would. Its prior is normal
//! about nothing. For each tilt of the prior the other figures are fitted again; a figure has about its fit, at any tilt, the
//! distribution that its profile says (the signed root of the drop is a standard normal: O. E. Barndorff-Nielsen and D. R. Cox,
//! Inference and Asymptotics (1994), section 4.4; from memory). The interval is that of the mixture over the prior.

use statrs::distribution::{ContinuousCDF, Normal};

use super::likelihood::{ACROSS, Parameters, Problem};
use super::search::Optimum;
use super::types::Estimate;
use domain::{Cancel, Cancelled};

/// Tilts at which the fit is made again, up to three spreads.
const FITS: u32 = 7;
const REACH: f64 = 3.0;
/// Equally likely tilts of the mixture, each the middle of its share.
const DRAWS: u32 = 64;
const BISECTIONS: u32 = 50;

/// One tilt of the mixture: its weight, and where the fit at that tilt lies from the fit upright.
struct Component {
    weight: f64,
    moved: [f64; Parameters::COUNT],
}

/// The estimates with the tilt across the line drawn from a prior of that spread, degrees.
pub(super) fn with_prior(
    problem: &Problem<'_>,
    optimum: &Optimum,
    upright: [Estimate; 4],
    (spread, interval): (f64, f64),
    cancel: &Cancel,
) -> Result<[Estimate; 4], Cancelled> {
    let Ok(normal) = Normal::new(0.0, 1.0) else { return Ok(upright) };
    let components = components(problem, optimum, spread, &normal, cancel)?;
    let mut index = 0;
    Ok(upright.map(|estimate| {
        let blended = if optimum.free_indices().contains(&index) {
            blend(&components, index, estimate, &normal, interval)
        } else {
            estimate
        };
        index += 1;
        blended
    }))
}

fn components(
    problem: &Problem<'_>,
    optimum: &Optimum,
    spread: f64,
    normal: &Normal,
    cancel: &Cancel,
) -> Result<Vec<Component>, Cancelled> {
    let step = REACH * spread / f64::from(FITS - 1);
    let mut from = *optimum;
    let mut fits = vec![(0.0, *optimum)];
    for index in 1..FITS {
        cancel.check()?;
        let tilt = step * f64::from(index);
        from = problem.maximise(&from.parameters.with(ACROSS, tilt), optimum.free_indices());
        fits.push((tilt, from));
    }
    let component = |draw: u32| {
        let share = 0.5 + (f64::from(draw) + 0.5) / (2.0 * f64::from(DRAWS));
        let tilt = (spread * normal.inverse_cdf(share)).min(REACH * spread);
        // Everything that a tilt across does goes by its square.
        fits.windows(2).find_map(|pair| match pair {
            [(a, before), (b, after)] if tilt <= *b => {
                let share = (tilt * tilt - a * a) / (b * b - a * a);
                let between = |x: f64, y: f64| x + (y - x) * share;
                let mut moved = [0.0; Parameters::COUNT];
                for (i, slot) in moved.iter_mut().enumerate() {
                    *slot = between(before.parameters.at(i), after.parameters.at(i)) - optimum.parameters.at(i);
                }
                let lost = between(before.log_likelihood, after.log_likelihood) - optimum.log_likelihood;
                Some(Component { weight: libm::exp(lost), moved })
            }
            _ => None,
        })
    };
    Ok((0..DRAWS).filter_map(component).collect())
}

fn blend(components: &[Component], index: usize, upright: Estimate, normal: &Normal, interval: f64) -> Estimate {
    let quantile = normal.inverse_cdf(0.5 + 0.5 * interval);
    let (under, over) = ((upright.value - upright.low) / quantile, (upright.high - upright.value) / quantile);
    let total: f64 = components.iter().map(|component| component.weight).sum();
    let below = |value: f64| {
        let one = |component: &Component| {
            let off = value - upright.value - component.moved.get(index).copied().unwrap_or(0.0);
            component.weight * normal.cdf(off / if off < 0.0 { under } else { over })
        };
        components.iter().map(one).sum::<f64>() / total
    };
    let moved = || components.iter().filter_map(|component| component.moved.get(index).copied());
    let reach = 3.0 * (under + over);
    let ends = (moved().fold(0.0, f64::min) - reach, moved().fold(0.0, f64::max) + reach);
    let at = |share: f64| {
        let (mut low, mut high) = (upright.value + ends.0, upright.value + ends.1);
        for _ in 0..BISECTIONS {
            let middle = 0.5 * (low + high);
            if below(middle) < share { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    };
    Estimate { value: at(0.5), low: at(0.5 - 0.5 * interval), high: at(0.5 + 0.5 * interval), ..upright }
}
