//! What a survey cannot tell, in sentences.

use super::SurveyFit;
use domain::BeamSurvey;
use domain::wording::number;
use domain::{Part, Sentence};

pub(super) fn cannot_tell(survey: &BeamSurvey, fit: &SurveyFit) -> Vec<Sentence> {
    let mut lines = vec![
        Sentence::plain(
            "fit-cannot-across",
            "The tilt across the line of holes: turn the transducer by a quarter and survey again, or drill a second line.",
        ),
        Sentence::plain(
            "fit-cannot-apart",
            "Whether the source, the receiver or the target is off: only their sum shows, as gain needed over the stated.",
        ),
    ];
    let offsets = || survey.readings.iter().map(|reading| reading.offset.get());
    if offsets().all(|x| x >= 0.0) || offsets().all(|x| x <= 0.0) {
        lines.push(Sentence::plain(
            "fit-cannot-one-side",
            "Width and tilt apart: all holes lie on one side, where a wider beam and a leaning one look alike.",
        ));
    }
    lines.push(match fit.side_level_db {
        None => Sentence::plain(
            "fit-cannot-beside",
            "What the beam does beside its main lobe: no reading reached there with enough gain to show it.",
        ),
        Some(_) => Sentence::plain(
            "fit-cannot-lobes",
            "Single side lobes and nulls: the level beside the main lobe is the mean of what the readings met.",
        ),
    });
    let half = |estimate: super::Estimate| 0.5 * (estimate.high - estimate.low);
    lines.push(Sentence::new(
        "fit-cannot-finer",
        "Anything finer than about ±{width} of beamwidth, ±{tilt} of tilt and ±{shift} of gain, if holes, depths and gains were read without error.",
        precision(half(fit.beamwidth_deg), half(fit.tilt_deg), half(fit.threshold_shift_db)),
    ));
    let named = [
        (
            "fit-open-beamwidth",
            "A bound on the beamwidth: the readings leave it open on one side.",
            Some(fit.beamwidth_deg),
        ),
        ("fit-open-tilt", "A bound on the tilt: the readings leave it open on one side.", Some(fit.tilt_deg)),
        ("fit-open-gain", "A bound on the gain: the readings leave it open on one side.", Some(fit.threshold_shift_db)),
        (
            "fit-open-side",
            "A bound on the level beside the main lobe: the readings leave it open on one side.",
            fit.side_level_db,
        ),
    ];
    let open = named.into_iter().filter(|(.., estimate)| estimate.is_some_and(|estimate| estimate.at_bound));
    lines.extend(open.map(|(key, text, _)| Sentence::plain(key, text)));
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
