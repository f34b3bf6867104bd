//! The selection: which beam and frequency suits a spot.
//!
//! [`Prepared`] holds everything that a batch shares, built once: compiled beams, bottom tables, what neighbours do at
//! the depths of the run. An evaluation then only reads tables and allocates nothing; text is made afterwards, from the
//! numbers. Results do not depend on the order of spots and options, on chunks, or on the number of threads.

mod assumptions;
pub(crate) mod beam;
mod figures;
mod finding;
mod hanging;
mod kernel;
mod memo;
mod neighbours;
pub(crate) mod option;
mod others;
mod prepare;
mod relief;
pub(crate) mod shift;
mod spot;
mod stopped;
mod summary;
mod targets;

pub(crate) use beam::{LURE_NOTICE, LURE_RESERVE, SEARCH_MARGIN, count};
pub use figures::Evaluation;
pub(crate) use hanging::ways;
pub(crate) use kernel::Around;
pub use neighbours::kept;
pub(crate) use neighbours::shape_of;
pub(crate) use option::{PreparedOption, aperture, confirmer};
pub(crate) use others::{OtherDraws, usual_units};
pub(crate) use prepare::LEAN_ASKED;
pub use prepare::Prepared;
use prepare::plant_strength;
pub use shift::{Display, OtherUnit, Perturbation, Turned};
pub(crate) use spot::PreparedSpot;
pub use summary::{NEAR_BEST, Summarizer, summarize};
pub(crate) use targets::{View, strength};

use rayon::prelude::*;

use crate::PlanningError;
use crate::unknown_place::DrawnPlace;
use domain::Cancel;
use domain::selection::{Finding, RunInput};
pub(crate) use kernel::{CLEARANCE, Case, Rules};
pub(crate) use relief::{Body, half_width};
pub(crate) use summary::{Standing, rank};

/// Working memory of one thread, reused from spot to spot.
#[derive(Debug, Default)]
pub struct Scratch {
    figures: Vec<Evaluation>,
    pub(crate) standings: Vec<Standing>,
    pub(crate) order: Vec<u32>,
    pub(crate) ranks: Vec<u32>,
    pub(crate) relief: Vec<Body>,
}

impl Scratch {
    /// Empty; it grows to what a run needs with the first spot.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The figures of the spot evaluated last, by option.
    #[must_use]
    pub fn figures(&self) -> &[Evaluation] {
        &self.figures
    }

    /// The ranks of the spot evaluated last, by option; 1 is the best.
    #[must_use]
    pub fn ranks(&self) -> &[u32] {
        &self.ranks
    }
}

impl Prepared {
    /// Numbers and ranks of every option at a spot, into `scratch`. Allocates nothing once `scratch` has grown.
    pub fn score_spot(&self, spot: usize, scratch: &mut Scratch) -> Result<(), PlanningError> {
        self.check_spot(spot)?;
        scratch.figures.clear();
        scratch.standings.clear();
        for option in 0..self.option_count() {
            let Some(case) = self.case(spot, option) else { continue };
            let figures = case.evaluate(&self.rules, &Perturbation::NONE);
            scratch.standings.push(Standing { score: figures.score, qualified: figures.qualified });
            scratch.figures.push(figures);
        }
        rank(&scratch.standings, &self.tie_order, &mut scratch.order, &mut scratch.ranks);
        Ok(())
    }

    /// Appends the findings of one spot, by option; with their uncertainty when the run asks for draws.
    ///
    /// # Errors
    /// There is no such spot, or the work is cancelled.
    pub fn evaluate_spot(
        &self,
        spot: usize,
        scratch: &mut Scratch,
        out: &mut Vec<Finding>,
        cancel: &Cancel,
    ) -> Result<(), PlanningError> {
        let mut drawn = self.uncertainty(spot, scratch, cancel)?.into_iter();
        self.score_spot(spot, scratch)?;
        for (option, (figures, rank)) in scratch.figures.iter().zip(&scratch.ranks).enumerate() {
            let uncertainty = drawn.next();
            out.extend(self.finding(spot, option, figures, *rank).map(|f| Finding { uncertainty, ..f }));
        }
        Ok(())
    }

    /// The findings of some spots, by spot and option, on all threads of the current pool.
    ///
    /// # Errors
    /// There is no such spot, or the work is cancelled.
    pub fn evaluate(&self, spots: std::ops::Range<usize>, cancel: &Cancel) -> Result<Vec<Finding>, PlanningError> {
        let parts: Vec<Vec<Finding>> = spots
            .into_par_iter()
            .map_init(Scratch::new, |scratch, spot| {
                cancel.check()?;
                let mut findings = Vec::with_capacity(self.option_count());
                self.evaluate_spot(spot, scratch, &mut findings, cancel).map(|()| findings)
            })
            .collect::<Result<_, _>>()?;
        Ok(parts.into_iter().flatten().collect())
    }

    /// The figures of one option at one spot under a shift of the uncertain inputs.
    pub fn figures(&self, spot: usize, option: usize, shift: &Perturbation) -> Result<Evaluation, PlanningError> {
        self.check_spot(spot)?;
        let case = self.case(spot, option).ok_or_else(|| PlanningError::UnknownIndex {
            what: "option",
            given: option,
            last: self.option_count().saturating_sub(1),
        })?;
        Ok(case.evaluate(&self.rules, shift))
    }

    fn check_spot(&self, spot: usize) -> Result<(), PlanningError> {
        if spot < self.places.len() {
            return Ok(());
        }
        Err(PlanningError::UnknownIndex { what: "spot", given: spot, last: self.places.len().saturating_sub(1) })
    }

    /// One option at one spot, ready to be evaluated.
    pub(crate) fn case(&self, spot: usize, option: usize) -> Option<Case<'_>> {
        let frequency = self.frequency_of.get(option)?;
        let class = self.class_of.get(spot)?;
        let gear = self.gears.get(option)?;
        Some(Case {
            place: self.places.get(spot)?,
            gear,
            absorption: *self.absorptions.get(spot * self.frequencies + frequency)?,
            relief: self.reliefs.get(spot)?,
            plants: *self.plants.get(spot)?,
            ice_shift: self.ice_shift(spot, gear),
            around: self.around(spot, option, *class),
        })
    }

    /// What neighbours do to an option at a spot over a class of bottom.
    fn around(&self, spot: usize, option: usize, class: usize) -> Around<'_> {
        let classes = self.classes.len();
        match &self.others {
            Some(others) => others.company(spot, option, (class, classes)).map_or(Around::Nobody, Around::Others),
            None => self.clearances.get(option * classes + class).map_or(Around::Nobody, Around::Same),
        }
    }

    /// The same over what a draw has of a place of which not all is known.
    pub(crate) fn case_over(&self, spot: usize, option: usize, drawn: &DrawnPlace) -> Option<Case<'_>> {
        let class = self.classes.binary_search(&drawn.bottom).ok()?;
        let around = self.around(spot, option, class);
        Some(Case { plants: plant_strength(drawn.canopy), around, ..self.case(spot, option)? })
    }

    pub(crate) fn finding(&self, spot: usize, option: usize, figures: &Evaluation, rank: u32) -> Option<Finding> {
        let (place, gear) = (self.places.get(spot)?, self.gears.get(option)?);
        let (sensor, beam) = self.option(option)?;
        let site = self.input.spots.get(spot)?;
        Some(Finding {
            spot,
            option,
            criteria: figures.criteria(),
            gains: figures.gains(),
            desirability: figures.desirability(),
            score: figures.score,
            rank,
            failures: figures.failures(),
            assumptions: assumptions::of(
                &self.input,
                site,
                sensor,
                beam,
                gear,
                (figures, self.ice_shift(spot, gear) + gear.ice_loss.get()),
            ),
            notices: figures.notices(place, gear),
            uncertainty: None,
        })
    }

    /// What the ice of a spot takes of a bounce more than that of usual thickness, dB.
    fn ice_shift(&self, spot: usize, gear: &PreparedOption) -> f64 {
        let thickness = self.ice_of.get(spot).copied().flatten();
        thickness.and_then(|index| gear.ice_shifts.get(index)).copied().unwrap_or(0.0)
    }

    /// The hole of the shelter that is judged for one option at one spot: the worst placed; none when alone.
    #[must_use]
    pub fn worst_hole(&self, spot: usize, option: usize) -> Option<usize> {
        self.case(spot, option)?.worst_hole(&self.rules)
    }

    /// What the run was asked.
    #[must_use]
    pub fn input(&self) -> &RunInput {
        &self.input
    }

    /// How many options each spot is scored with.
    #[must_use]
    pub fn option_count(&self) -> usize {
        self.gears.len()
    }

    /// An option in numbers.
    pub(crate) fn gear(&self, option: usize) -> Option<&PreparedOption> {
        self.gears.get(option)
    }

    /// The bottom classes that occur.
    pub(crate) fn bottoms(&self) -> &[domain::BottomClass] {
        &self.classes
    }

    /// How many spots there are.
    #[must_use]
    pub fn spot_count(&self) -> usize {
        self.places.len()
    }
}
