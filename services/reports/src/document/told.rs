//! How figures, names and sentences of a stored document are told.

use acoustics::units::Metres;
use domain::{Part, Sentence};
use proto::v1;
use proto::v1::sentence_part::Value as Put;
use schemars::JsonSchema;
use serde::Serialize;

use crate::clean::clean;
use crate::wording::Wording;

/// Longest name that is set in full.
pub(super) const MAX_NAME: usize = 60;
/// Longest reading of a dial.
pub(super) const MAX_READING: usize = 20;
/// Longest sentence.
const MAX_TEXT: usize = 600;

/// `1,234.50 USD`; empty where there is no price.
pub(super) fn money(money: Option<&v1::Money>, say: Wording<'_>) -> String {
    money.map_or_else(String::new, |money| say.money(money.units, i64::from(money.nanos), &money.currency_code))
}

/// The dial's own reading, or decibels where it has none.
pub(super) fn dial(reading: &str, gain: f64, say: Wording<'_>) -> String {
    if reading.is_empty() { say.db(gain, 0) } else { say.figures(reading, MAX_READING) }
}

/// A sensor and its beam: `Two-face · 180 kHz, 14°`.
pub(super) fn option_name(sensor: &str, beam: &str, say: Wording<'_>) -> String {
    format!("{} · {}", clean(sensor, MAX_NAME), say.figures(beam, MAX_NAME))
}

/// Sentences in the reader's language.
pub(super) fn tell(sentences: &[v1::Sentence], say: Wording<'_>) -> Vec<String> {
    sentences.iter().map(|sentence| told(sentence, say)).collect()
}

/// A sentence in the reader's language; in English where the language does not know it.
pub(crate) fn told(sentence: &v1::Sentence, say: Wording<'_>) -> String {
    let part = |part: &v1::SentencePart| {
        let put = match part.value.as_ref()? {
            Put::Figure(figure) => Part::Figure(figure.clone()),
            Put::Proper(name) => Part::Name(name.clone()),
            Put::Count(count) => Part::Count(*count),
            Put::Word(key) => Part::Word(key.clone().into()),
            Put::LengthM(length) => Part::Length(Metres::new(*length)),
        };
        Some((part.name.clone().into(), put))
    };
    let parts = sentence.parts.iter().filter_map(part).collect();
    let known = say.known(&Sentence { key: sentence.key.clone().into(), parts });
    known.unwrap_or_else(|| clean(&sentence.text, MAX_TEXT))
}

/// A mark of an axis.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Mark {
    pub(super) at: f64,
    pub(super) label: String,
}
