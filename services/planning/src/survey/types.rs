//! What a fit says.

use domain::{PatternPoint, Sentence};

/// A figure with the ends of its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Whether an end is where the search ended, so that the readings do not bound the figure on that side.
    pub at_bound: bool,
}

/// A beam fitted to a survey.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyFit {
    /// Full width at −3 dB, one way.
    pub beamwidth_deg: Estimate,
    /// Tilt of the axis along the line, towards positive offsets.
    pub tilt_deg: Estimate,
    /// Level beside the main lobe; none where no reading could show it.
    pub side_level_db: Option<Estimate>,
    /// Threshold over the stated one: positive for a weaker unit.
    pub threshold_shift_db: Estimate,
    /// Scale of the detection curve that was taken.
    pub detection_scale_db: f64,
    /// Twice the log-likelihood that is missing to a model that foretells every reading.
    pub deviance: f64,
    /// Readings less fitted figures.
    pub degrees_of_freedom: u32,
    /// Share of simulated surveys of this beam that fit at least as badly; none where none were made.
    pub p_value: Option<f64>,
    /// How many readings there are.
    pub readings: u32,
    /// The measured pattern.
    pub fitted: Vec<PatternPoint>,
    /// The stated pattern at the same angles.
    pub stated: Vec<PatternPoint>,
    /// What such a survey cannot tell, in sentences.
    pub cannot_tell: Vec<Sentence>,
}

/// A fit that fits worse than so many of the simulated surveys of its own beam contradicts itself.
pub const LEAST_P: f64 = 0.05;

/// Why a fit is not sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Objection {
    /// The readings do not bound beamwidth, tilt or shift on a side.
    Open,
    /// No such beam gives such readings: the simulated surveys of it fit better.
    Contradictory,
    /// No surveys were simulated, so that nobody knows.
    Untested,
}

/// What speaks against using a fit; nothing where it is sound.
#[must_use]
pub fn objections(p_value: Option<f64>, at_bound: [bool; 3]) -> Vec<Objection> {
    let open = at_bound.contains(&true).then_some(Objection::Open);
    let fit = match p_value {
        None => Some(Objection::Untested),
        Some(p) if p < LEAST_P => Some(Objection::Contradictory),
        Some(_) => None,
    };
    open.into_iter().chain(fit).collect()
}

impl SurveyFit {
    /// What speaks against using it; nothing where it is sound.
    #[must_use]
    pub fn objections(&self) -> Vec<Objection> {
        objections(self.p_value, [self.beamwidth_deg, self.tilt_deg, self.threshold_shift_db].map(|e| e.at_bound))
    }
}
