//! What a report says, in the reader's language and unit: words come from one file a language, never from code.
//!
//! A language is a file `shared/words-XX.toml` of the template set, XX its tag. Sentences hold their figures as `{name}`.

use std::collections::BTreeMap;

use acoustics::units::Metres;
use domain::words::{Words, put_in};
use domain::{Part, Sentence};

use crate::clean::clean;
use crate::error::ReportError;
use crate::templates::Files;

/// Words that stand in figures, with their keys.
const FIGURES: [(&str, &str); 6] = [
    (" steps", "dial-steps"),
    ("1 step", "dial-one-step"),
    ("measured beam", "measured-beam"),
    ("the lower end", "dial-lower-end"),
    ("past the end", "dial-past-end"),
    ("no position", "dial-no-position"),
];

/// Longest part of a stored sentence, in characters.
const MAX_PART: usize = 60;

/// All languages of a template set, by tag.
pub(crate) type Languages = BTreeMap<String, Words>;

/// Reads every file of words and holds each against the built-in English one.
pub(crate) fn languages(files: &Files, built_in: &Files) -> Result<Languages, ReportError> {
    let wanted = read("en", built_in)?;
    let tags = files.keys().filter_map(|path| path.strip_prefix("shared/words-")?.strip_suffix(".toml"));
    tags.map(|tag| {
        let words = read(tag, files)?;
        let missing = words.lacks(&wanted);
        if !missing.is_empty() {
            let detail = format!("it lacks {}; copy these keys from words-en.toml and word them", missing.join(", "));
            return Err(ReportError::File { file: path(tag), detail });
        }
        Ok((tag.to_owned(), words))
    })
    .collect()
}

fn path(language: &str) -> String {
    format!("shared/words-{language}.toml")
}

fn read(language: &str, files: &Files) -> Result<Words, ReportError> {
    let file = path(language);
    let failed = |detail: String| ReportError::File { file: file.clone(), detail };
    let bytes = files.get(&file).ok_or_else(|| failed("there is no such file".to_owned()))?;
    let text = std::str::from_utf8(bytes).map_err(|e| failed(format!("{e}; save it as UTF-8")))?;
    Words::read(language, text).map_err(failed)
}

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LengthUnit {
    /// Metres.
    Metres,
    /// International feet.
    Feet,
}

/// Words and a unit of length: everything that figures are told with.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wording<'a> {
    words: &'a Words,
    pub(crate) length_unit: LengthUnit,
}

impl<'a> Wording<'a> {
    pub(crate) const fn new(words: &'a Words, length_unit: LengthUnit) -> Self {
        Self { words, length_unit }
    }

    /// Tag of the language, such as `en`.
    pub(crate) fn language(self) -> &'a str {
        self.words.language()
    }

    /// The text of a key; the key itself where there is none, which the checks at start exclude.
    fn text_of(self, key: &'a str) -> &'a str {
        self.words.get(key).unwrap_or(key)
    }

    /// A word or a sentence without figures.
    pub(crate) fn word(self, key: &str) -> String {
        self.text_of(key).to_owned()
    }

    /// A sentence with its figures put in.
    pub(crate) fn say<const N: usize>(self, key: &str, figures: [(&str, String); N]) -> String {
        put_in(self.text_of(key), &figures)
    }

    /// A sentence of the service; none where the language has no such key.
    pub(crate) fn known(self, sentence: &Sentence) -> Option<String> {
        sentence.told(self.words, |part| match part {
            Part::Figure(figure) => self.figures(figure, MAX_PART),
            Part::Length(length) => self.text(*length),
            Part::Name(name) => clean(name, MAX_PART),
            Part::Count(count) => count.to_string(),
            Part::Word(key) => self.word(key),
        })
    }

    /// The same; its key where there are no such words, which the tests exclude.
    pub(crate) fn sentence(self, sentence: &Sentence) -> String {
        self.known(sentence).unwrap_or_else(|| sentence.key.to_string())
    }

    /// Sentences one after the other.
    pub(crate) fn sentences(self, sentences: &[Sentence]) -> String {
        sentences.iter().map(|sentence| self.sentence(sentence)).collect::<Vec<_>>().join(" ")
    }

    /// `1 spot`, `2 spots`: the form of a key for a number.
    pub(crate) fn count(self, key: &str, n: usize) -> String {
        let text = self.words.form(key, u64::try_from(n).unwrap_or(u64::MAX)).unwrap_or(key);
        put_in(text, &[("count", n.to_string())])
    }

    /// A number with at most that many decimals and the decimal mark of the language.
    pub(crate) fn number(self, value: f64, decimals: u8) -> String {
        domain::wording::number(value, decimals).replace('.', self.text_of("decimal-mark"))
    }

    /// A number with exactly that many decimals.
    pub(crate) fn fixed(self, value: f64, decimals: usize) -> String {
        format!("{value:.decimals$}").replace('.', self.text_of("decimal-mark"))
    }

    /// `12 dB`.
    pub(crate) fn db(self, value: f64, decimals: u8) -> String {
        format!("{} dB", self.number(value, decimals))
    }

    /// `95 %`, of a share from 0 to 1.
    pub(crate) fn percent(self, share: f64) -> String {
        format!("{} %", self.number(100.0 * share, 0))
    }

    /// `3 to 5`.
    pub(crate) fn span(self, low: String, high: String) -> String {
        self.say("span", [("low", low), ("high", high)])
    }

    /// `1,234.50 USD`, rounded to cents.
    pub(crate) fn money(self, units: i64, nanos: i64, currency: &str) -> String {
        let cents = (i128::from(units) * 1_000_000_000 + i128::from(nanos) + 5_000_000).div_euclid(10_000_000);
        let (whole, part) = (cents.div_euclid(100), cents.rem_euclid(100));
        let (group, mark) = (self.text_of("group-mark"), self.text_of("decimal-mark"));
        format!("{}{mark}{part:02} {}", grouped(whole, group), clean(currency, 3))
    }

    /// A figure as records and stored sentences tell it in English, such as `200 kHz, 8.5°` or `step 4 (20 dB)`: the few words in it and
    /// the marks within numbers are those of the language.
    pub(crate) fn figures(self, text: &str, most: usize) -> String {
        let mut text = match text.strip_prefix("step ") {
            Some(position) => self.say("dial-step", [("position", position.to_owned())]),
            None => text.to_owned(),
        };
        for (english, key) in FIGURES {
            text = text.replace(english, self.text_of(key));
        }
        let letters: Vec<char> = clean(&text, most).chars().collect();
        let digit = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(char::is_ascii_digit);
        let marked = letters.iter().enumerate().map(|(at, letter)| {
            let inside = digit(at.checked_sub(1)) && digit(Some(at + 1));
            match letter {
                '.' if inside => self.text_of("decimal-mark").to_owned(),
                ',' if inside => self.text_of("group-mark").to_owned(),
                other => other.to_string(),
            }
        });
        marked.collect()
    }

    /// A length of a stored document.
    pub(crate) fn metres(self, metres: f64) -> String {
        self.text(Metres::new(metres))
    }
}

/// `1,234,567`.
fn grouped(number: i128, mark: &str) -> String {
    let digits = number.unsigned_abs().to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3 + 1);
    if number < 0 {
        out.push('−');
    }
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push_str(mark);
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
pub(crate) mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::templates::built_in;

    /// The words of a built-in language.
    pub(crate) fn words(language: &str) -> Words {
        languages(&built_in(), &built_in()).unwrap().remove(language).unwrap()
    }

    fn figures(text: &str) -> BTreeSet<&str> {
        text.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name).collect()
    }

    #[test]
    fn languages_have_the_same_keys_with_the_same_figures() {
        let english = words("en");
        for other in languages(&built_in(), &built_in()).unwrap().into_values() {
            assert_eq!(english.lacks(&other), Vec::<String>::new(), "{}", other.language());
            for (key, text) in other.texts() {
                // Only one form of a text that counts may leave out the number.
                let own = english.get(key).unwrap();
                assert!(figures(own) == figures(text) || other.counted(key).is_some(), "{key} in {}", other.language());
            }
        }
    }

    #[test]
    fn a_file_of_words_that_lacks_keys_is_refused_with_their_names() {
        let mut files = built_in();
        files.insert("shared/words-fr.toml".to_owned(), b"why = \"Pourquoi\"\n".to_vec());
        let refused = languages(&files, &built_in()).unwrap_err().to_string();
        assert!(refused.contains("words-fr.toml") && refused.contains("decimal-mark"), "{refused}");
        files.insert("shared/words-fr.toml".to_owned(), b"why = 3\n".to_vec());
        assert!(languages(&files, &built_in()).is_err());
    }

    #[test]
    fn figures_follow_the_language() {
        let (english, german) = (words("en"), words("de"));
        let (en, de) = (Wording::new(&english, LengthUnit::Metres), Wording::new(&german, LengthUnit::Metres));
        for (say, number, money, beam, dial) in [
            (en, "−3.5", "1,234,567.50 EUR", "200 kHz, 8.5°", "step 4.5"),
            (de, "−3,5", "1.234.567,50 EUR", "200 kHz, 8,5°", "Stufe 4,5"),
        ] {
            assert_eq!(say.number(-3.5, 2), number);
            assert_eq!(say.money(1_234_567, 500_000_000, "EUR"), money);
            assert_eq!(say.figures("200 kHz, 8.5°", 60), beam);
            assert_eq!(say.figures("1,234,567.50 EUR", 60), money);
            assert_eq!(say.figures("step 4.5", 60), dial);
        }
        for (units, nanos, text) in
            [(0, 0, "0.00 EUR"), (999, 995_000_000, "1,000.00 EUR"), (12, 4_999_999, "12.00 EUR")]
        {
            assert_eq!(en.money(units, nanos, "EUR"), text);
        }
    }
}
