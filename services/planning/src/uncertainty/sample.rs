//! The draws of one spot: rank acceptability, bands, Pareto set, and which unknown matters most.

use rand::SeedableRng as _;
use rand_chacha::ChaCha8Rng;

use super::conventions::ConventionDraws;
use super::smaa::{Tally, WeightSampler};
use super::{Common, INPUT_NAMES, Inputs};
use crate::PlanningError;
use crate::selection::{
    Body, Case, Evaluation, OtherDraws, OtherUnit, Perturbation, Prepared, Scratch, Standing, rank,
};
use crate::unknown_place::{DrawnPlace, DrawnPlaces};
use acoustics::units::Metres;
use domain::Cancel;
use domain::selection::{Band, Uncertainty};

/// Draws that the bands are read from; acceptabilities use all. The 5 % point of 4,096 draws is good to 0.3 % of the distribution.
const BAND_DRAWS: u32 = 4_096;
/// The first of the streams of how long sensors ring, one a spot: far from those of spots and places.
const RINGING: u64 = u64::MAX / 4;
/// Figures that have a band.
const BANDED: usize = 7;

/// What is gathered for one option.
struct Gathered {
    /// Values of the banded figures, one draw after another.
    bands: [Vec<f64>; BANDED],
    disqualified: u32,
    moments: Moments,
}

/// Sums for the correlation of the score with each input.
#[derive(Default)]
struct Moments {
    count: f64,
    score: f64,
    score_squared: f64,
    input: [f64; INPUT_NAMES.len()],
    input_squared: [f64; INPUT_NAMES.len()],
    product: [f64; INPUT_NAMES.len()],
}

impl Prepared {
    /// The uncertainty of every option at a spot, from the run's number of draws and its seed; empty without draws.
    ///
    /// # Errors
    /// There is no such spot, or the work is cancelled.
    pub fn uncertainty(
        &self,
        spot: usize,
        scratch: &mut Scratch,
        cancel: &Cancel,
    ) -> Result<Vec<Uncertainty>, PlanningError> {
        let draws = self.input.settings.draws;
        if draws == 0 {
            return Ok(Vec::new());
        }
        self.score_spot(spot, scratch)?;
        let pareto = pareto(scratch.figures());
        let options = self.option_count();
        let mut gathered: Vec<Gathered> = (0..options).map(|_| Gathered::new(draws.min(BAND_DRAWS))).collect();
        let mut tally = Tally::<4>::new(options);
        let sampler = WeightSampler::about(self.rules.weighing.weights.as_array());
        let mut rng = ChaCha8Rng::seed_from_u64(self.input.settings.seed);
        rng.set_stream(u64::try_from(spot).unwrap_or(u64::MAX));
        let mut ringing = ChaCha8Rng::seed_from_u64(self.input.settings.seed);
        ringing.set_stream(RINGING.saturating_add(u64::try_from(spot).unwrap_or(u64::MAX)));
        let site = self.input.spots.get(spot);
        let mut places = site.map(|site| DrawnPlaces::new(site, self.input.settings.seed, spot));
        let mut others = OtherDraws::new(&self.input);
        for (draw, conventions) in (0..draws).zip(ConventionDraws::new(self.input.settings.seed)) {
            cancel.check()?;
            let place = places.as_mut().and_then(Iterator::next);
            let other = others.next().flatten();
            let common = Common::draw(&mut rng, conventions);
            let weights = sampler.draw(&mut rng);
            let at = (spot, place, other);
            let streams = [&mut rng, &mut ringing];
            self.draw_spot(at, common, &weights, streams, scratch, &mut gathered, draw < BAND_DRAWS);
            tally.add(scratch.ranks(), &weights);
        }
        Ok(gathered
            .into_iter()
            .enumerate()
            .map(|(option, g)| {
                g.finish(tally.acceptability(option), draws, pareto.get(option).copied().unwrap_or(false))
            })
            .collect())
    }

    /// One draw: every option at the drawn depth, ranked under the drawn weights.
    #[allow(clippy::too_many_arguments, reason = "the working memory of one draw, kept out of the loop's allocations")]
    fn draw_spot(
        &self,
        (spot, drawn, other): (usize, Option<DrawnPlace>, Option<OtherUnit>),
        common: Common,
        weights: &[f64; 4],
        [rng, ringing]: [&mut ChaCha8Rng; 2],
        scratch: &mut Scratch,
        gathered: &mut [Gathered],
        keep: bool,
    ) {
        let (Some(place), Some(site), Some(drawn)) = (self.places.get(spot), self.input.spots.get(spot), drawn) else {
            return;
        };
        let site = drawn.applied(site);
        let moved = place.moved(&site, place.depth * common.depth_factor());
        scratch.relief.clear();
        scratch.relief.extend(site.relief.iter().map(|item| Body::new(item, Metres::new(moved.depth))));
        scratch.standings.clear();
        for (option, gathered) in gathered.iter_mut().enumerate() {
            let inputs = Inputs::draw(common, rng, ringing);
            let Some(case) = self.case_over(spot, option, &drawn) else { continue };
            let case = Case { place: &moved, relief: &scratch.relief, ..case };
            let shift = Perturbation { other, ..inputs.shift(site.bottom, case.gear) };
            let figures = case.evaluate(&self.rules, &shift);
            let score = figures.scored(weights);
            scratch.standings.push(Standing { score, qualified: figures.qualified });
            gathered.add(&figures, score, &inputs.values(), keep);
        }
        rank(&scratch.standings, &self.tie_order, &mut scratch.order, &mut scratch.ranks);
    }
}

impl Gathered {
    fn new(kept: u32) -> Self {
        let room = usize::try_from(kept).unwrap_or(0);
        Self { bands: std::array::from_fn(|_| Vec::with_capacity(room)), disqualified: 0, moments: Moments::default() }
    }

    fn add(&mut self, f: &Evaluation, drawn: f64, inputs: &[f64; INPUT_NAMES.len()], keep: bool) {
        self.disqualified += u32::from(!f.qualified);
        self.moments.add(drawn, inputs);
        if keep {
            let values = [
                Some(drawn),
                Some(f.coverage_radius),
                Some(f.watch_footprint),
                Some(f.dead_zone_height),
                f.lure_over_vegetation,
                f.headroom,
                Some(f.working_gain),
            ];
            for (list, value) in self.bands.iter_mut().zip(values) {
                // Without neighbours there is no headroom in any draw; plants may fill a part of the cell in some draws only.
                list.extend(value);
            }
        }
    }

    fn finish(self, rank_acceptability: Vec<f64>, draws: u32, pareto: bool) -> Uncertainty {
        let nothing = Band { low: 0.0, median: 0.0, high: 0.0 };
        let [score, coverage, watch, shadow, cover, headroom, working] = self.bands.map(band);
        Uncertainty {
            rank_acceptability,
            score: score.unwrap_or(nothing),
            coverage_radius_m: coverage.unwrap_or(nothing),
            watch_footprint_m: watch.unwrap_or(nothing),
            dead_zone_height_m: shadow.unwrap_or(nothing),
            lure_over_vegetation_db: cover,
            headroom_db: headroom,
            working_gain_db: working.unwrap_or(nothing),
            disqualified: f64::from(self.disqualified) / f64::from(draws),
            pareto,
            dominant_uncertainty: self.moments.chief(),
        }
    }
}

impl Moments {
    fn add(&mut self, score: f64, inputs: &[f64; INPUT_NAMES.len()]) {
        self.count += 1.0;
        self.score += score;
        self.score_squared += score * score;
        for (((sum, squared), product), x) in
            self.input.iter_mut().zip(&mut self.input_squared).zip(&mut self.product).zip(inputs)
        {
            *sum += x;
            *squared += x * x;
            *product += x * score;
        }
    }

    /// The input whose linear effect explains most of the score's variance, and that part: the squared correlation, which for independent
    /// inputs is the first-order variance share of a linear model (A. Saltelli et al., Global Sensitivity Analysis, 2008, section 1.2.5).
    /// None when the score does not vary.
    fn chief(&self) -> Option<(String, f64)> {
        let n = self.count;
        let variance = self.score_squared / n - (self.score / n) * (self.score / n);
        if variance <= 1e-12 {
            return None;
        }
        let share = |i: usize| -> Option<f64> {
            let (sum, squared, product) = (self.input.get(i)?, self.input_squared.get(i)?, self.product.get(i)?);
            let spread = squared / n - (sum / n) * (sum / n);
            let covariance = product / n - sum / n * self.score / n;
            (spread > 0.0).then(|| covariance * covariance / (spread * variance))
        };
        let best = (0..INPUT_NAMES.len()).filter_map(|i| Some((i, share(i)?))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(((*INPUT_NAMES.get(best.0)?).to_owned(), best.1))
    }
}

/// 5, 50 and 95 % points; none without values.
fn band(mut values: Vec<f64>) -> Option<Band> {
    let mut at = |percent: usize| {
        let index = values.len().saturating_sub(1) * percent / 100;
        (!values.is_empty()).then(|| *values.select_nth_unstable_by(index, f64::total_cmp).1)
    };
    Some(Band { low: at(5)?, median: at(50)?, high: at(95)? })
}

/// For each option whether no other qualified one is at least as good in every desirability and better in one.
fn pareto(figures: &[Evaluation]) -> Vec<bool> {
    let beats = |a: &Evaluation, b: &Evaluation| {
        let pairs = || a.desirabilities().into_iter().zip(b.desirabilities());
        a.qualified && pairs().all(|(x, y)| x >= y) && pairs().any(|(x, y)| x > y)
    };
    figures.iter().map(|f| f.qualified && !figures.iter().any(|other| beats(other, f))).collect()
}
