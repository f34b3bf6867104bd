//! The words of the reports for other places: pages say a sentence, a length or a price exactly as the paper does.

use std::sync::Arc;

use proto::v1;

use crate::document::told;
use crate::error::ReportError;
use crate::templates::built_in;
use crate::wording::{Languages, LengthUnit, Wording, languages};

/// Longest part of a sentence, in characters.
const MAX_PART: usize = 120;

/// The built-in languages.
#[derive(Debug, Clone)]
pub struct Speech {
    languages: Arc<Languages>,
}

impl Speech {
    /// Reads the built-in words.
    ///
    /// # Errors
    /// A file of words that does not hold what the English one holds.
    pub fn new() -> Result<Self, ReportError> {
        let files = built_in();
        Ok(Self { languages: Arc::new(languages(&files, &files)?) })
    }

    /// Tags of the languages, ordered.
    pub fn tags(&self) -> impl Iterator<Item = &str> {
        self.languages.keys().map(String::as_str)
    }

    /// A language in a unit; none for a tag that no file has.
    #[must_use]
    pub fn speaker(&self, language: &str, unit: LengthUnit) -> Option<Speaker<'_>> {
        self.languages.get(language).map(|words| Speaker(Wording::new(words, unit)))
    }
}

/// A language with a unit of length.
#[derive(Debug, Clone, Copy)]
pub struct Speaker<'a>(Wording<'a>);

impl<'a> Speaker<'a> {
    pub(crate) const fn wording(self) -> Wording<'a> {
        self.0
    }

    /// A word or a sentence without figures.
    #[must_use]
    pub fn word(self, key: &str) -> String {
        self.0.word(key)
    }

    /// A sentence of the service; its English text where this language has no such key.
    #[must_use]
    pub fn sentence(self, sentence: &v1::Sentence) -> String {
        told(sentence, self.0)
    }

    /// A figure as records tell it; a length alone is told in the reader's unit.
    #[must_use]
    pub fn figure(self, figure: &str) -> String {
        let metres = figure.strip_suffix(" m").and_then(|number| number.parse::<f64>().ok());
        match metres.filter(|metres| metres.is_finite()) {
            Some(metres) => self.length(metres),
            None => self.0.figures(figure, MAX_PART),
        }
    }

    /// A length that is given in metres.
    #[must_use]
    pub fn length(self, metres: f64) -> String {
        self.0.metres(metres)
    }

    /// A number with at most that many decimals.
    #[must_use]
    pub fn number(self, value: f64, decimals: u8) -> String {
        self.0.number(value, decimals)
    }

    /// `1,234.50 USD`.
    #[must_use]
    pub fn money(self, units: i64, nanos: i32, currency: &str) -> String {
        self.0.money(units, i64::from(nanos), currency)
    }
}

#[cfg(test)]
mod tests {
    use proto::v1::sentence_part::Value;

    use super::*;

    #[test]
    fn a_page_says_lengths_and_prices_as_the_paper_does() {
        let speech = Speech::new().unwrap();
        let feet = speech.speaker("en", LengthUnit::Feet).unwrap();
        let metres = speech.speaker("de", LengthUnit::Metres).unwrap();
        let height = v1::SentencePart { name: "height".into(), value: Some(Value::LengthM(0.61)) };
        let sentence = |key: &str, parts| v1::Sentence { key: key.into(), text: "As it is.".into(), parts };
        let dead_zone = sentence("watch-dead-zone", vec![height]);
        assert_eq!(feet.sentence(&dead_zone), "Lift the lure: under 2 ft over the bottom it is hidden.");
        assert!(metres.sentence(&dead_zone).contains("0,61 m"));
        assert_eq!(metres.sentence(&sentence("no-such-key", Vec::new())), "As it is.");
        assert_eq!((feet.money(249, 0, "USD"), metres.figure("step 4.5")), ("249.00 USD".into(), "Stufe 4,5".into()));
        assert!(speech.speaker("xx", LengthUnit::Feet).is_none());
    }
}
