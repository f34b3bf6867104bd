//! What a survey cannot tell, in sentences.

use super::types::{Estimate, SurveyFit};
use domain::BeamSurvey;
use domain::wording::number;
use domain::{Part, Sentence};

pub(super) fn cannot_tell(survey: &BeamSurvey, fit: &SurveyFit) -> Vec<Sentence> {
    let mut lines = vec![Sentence::plain("fit-cannot-across"), Sentence::plain("fit-cannot-apart")];
    let offsets = || survey.readings.iter().map(|reading| reading.offset.get());
    if offsets().all(|x| x >= 0.0) || offsets().all(|x| x <= 0.0) {
        lines.push(Sentence::plain("fit-cannot-one-side"));
    }
    lines.push(match fit.side_level_db {
        None => Sentence::plain("fit-cannot-beside"),
        Some(_) => Sentence::plain("fit-cannot-lobes"),
    });
    let half = |estimate: Estimate| 0.5 * (estimate.high - estimate.low);
    lines.push(Sentence::new(
        "fit-cannot-finer",
        precision(half(fit.beamwidth_deg), half(fit.tilt_deg), half(fit.threshold_shift_db)),
    ));
    let named = [
        ("fit-open-beamwidth", Some(fit.beamwidth_deg)),
        ("fit-open-tilt", Some(fit.tilt_deg)),
        ("fit-open-gain", Some(fit.threshold_shift_db)),
        ("fit-open-side", fit.side_level_db),
    ];
    let open = named.into_iter().filter(|(_, estimate)| estimate.is_some_and(|estimate| estimate.at_bound));
    lines.extend(open.map(|(key, _)| Sentence::plain(key)));
    lines
}

/// How fine width and tilt, degrees, and shift, dB, come out.
pub(super) fn precision(width: f64, tilt: f64, shift: f64) -> [(&'static str, Part); 3] {
    [
        ("width", Part::Figure(format!("{}°", number(width, 1)))),
        ("tilt", Part::Figure(format!("{}°", number(tilt, 1)))),
        ("shift", Part::Figure(format!("{} dB", number(shift, 1)))),
    ]
}
