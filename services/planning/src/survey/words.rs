//! What a survey cannot tell, in sentences.

use super::SurveyFit;
use crate::domain::BeamSurvey;
use crate::wording::number;

pub(super) fn cannot_tell(survey: &BeamSurvey, fit: &SurveyFit) -> Vec<String> {
    let mut lines = vec![
        "The tilt across the line of holes: turn the transducer by a quarter and survey again, or drill a second line."
            .to_owned(),
        "Whether the source, the receiver or the target is off: only their sum shows, as gain needed over the stated."
            .to_owned(),
    ];
    let offsets = || survey.readings.iter().map(|reading| reading.offset.get());
    if offsets().all(|x| x >= 0.0) || offsets().all(|x| x <= 0.0) {
        lines.push(
            "Width and tilt apart: all holes lie on one side, where a wider beam and a leaning one look alike."
                .to_owned(),
        );
    }
    match fit.side_level_db {
        None => lines.push(
            "What the beam does beside its main lobe: no reading reached there with enough gain to show it.".to_owned(),
        ),
        Some(_) => lines.push(
            "Single side lobes and nulls: the level beside the main lobe is the mean of what the readings met."
                .to_owned(),
        ),
    }
    let width = 0.5 * (fit.beamwidth_deg.high - fit.beamwidth_deg.low);
    let tilt = 0.5 * (fit.tilt_deg.high - fit.tilt_deg.low);
    let shift = 0.5 * (fit.threshold_shift_db.high - fit.threshold_shift_db.low);
    lines.push(format!(
        "Anything finer than about ±{}° of beamwidth, ±{}° of tilt and ±{} dB of gain, if holes, depths and gains were read without error.",
        number(width, 1),
        number(tilt, 1),
        number(shift, 1)
    ));
    let named = [
        ("beamwidth", Some(fit.beamwidth_deg)),
        ("tilt", Some(fit.tilt_deg)),
        ("gain", Some(fit.threshold_shift_db)),
        ("level beside the main lobe", fit.side_level_db),
    ];
    for (name, estimate) in named {
        if estimate.is_some_and(|estimate| estimate.at_bound) {
            lines.push(format!("A bound on the {name}: the readings leave it open on one side."));
        }
    }
    lines
}
