//! Sentences that may be told in any language: a key of the words with what is put in.

use std::borrow::Cow;

use acoustics::units::Metres;

use crate::check::plain;
use crate::words::{Words, put_in};

/// A sentence for people.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentence {
    /// Its key in the files of words, such as `step-drill`.
    pub key: Cow<'static, str>,
    /// What is put in, by name.
    pub parts: Vec<(Cow<'static, str>, Part)>,
}

/// Something that is put into a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// A figure with its unit, such as `12 dB` or `step 4 (20 dB)`: another language writes it in its own way.
    Figure(String),
    /// A length, which is told in the reader's unit.
    Length(Metres),
    /// A name or a day, the same in every language.
    Name(String),
    /// How many: the sentence has a form for each plural category of a language.
    Count(u64),
    /// Key of a word.
    Word(Cow<'static, str>),
}

impl Part {
    /// So many.
    pub fn count(count: impl TryInto<u64>) -> Self {
        Self::Count(count.try_into().unwrap_or(u64::MAX))
    }
}

impl Sentence {
    /// A sentence by its key, with its parts.
    pub fn new<const N: usize>(key: &'static str, parts: [(&'static str, Part); N]) -> Self {
        Self::of(key, parts)
    }

    /// The same with any number of parts.
    pub fn of(key: &'static str, parts: impl IntoIterator<Item = (&'static str, Part)>) -> Self {
        let parts = parts.into_iter().map(|(name, part)| (Cow::Borrowed(name), part)).collect();
        Self { key: Cow::Borrowed(key), parts }
    }

    /// A sentence without parts.
    #[must_use]
    pub const fn plain(key: &'static str) -> Self {
        Self { key: Cow::Borrowed(key), parts: Vec::new() }
    }

    /// The same with one part more.
    #[must_use]
    pub fn with(mut self, name: &'static str, part: Part) -> Self {
        self.parts.push((Cow::Borrowed(name), part));
        self
    }

    /// The sentence in a language, its figures, names and words as `tell` has them; none where the language has no such key.
    pub fn told(&self, words: &Words, tell: impl Fn(&Part) -> String) -> Option<String> {
        let count = self.parts.iter().find_map(|(_, part)| match part {
            Part::Count(count) => Some(*count),
            Part::Figure(_) | Part::Length(_) | Part::Name(_) | Part::Word(_) => None,
        });
        let text = count.and_then(|count| words.form(&self.key, count)).or_else(|| words.get(&self.key))?;
        let parts: Vec<_> = self.parts.iter().map(|(name, part)| (name, tell(part))).collect();
        Some(put_in(text, &parts))
    }

    /// The sentence in English; its key where there is no such sentence, which the tests exclude.
    #[must_use]
    pub fn text(&self) -> String {
        let Some(english) = Words::english() else { return self.key.to_string() };
        let part = |part: &Part| match part {
            Part::Figure(text) | Part::Name(text) => text.clone(),
            Part::Length(length) => format!("{} m", plain(length.get())),
            Part::Count(count) => count.to_string(),
            Part::Word(key) => english.get(key).unwrap_or(key).to_owned(),
        };
        self.told(english, part).unwrap_or_else(|| self.key.to_string())
    }
}

/// Sentences one after the other, in English.
#[must_use]
pub fn joined(sentences: &[Sentence]) -> String {
    sentences.iter().map(Sentence::text).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_told_in_its_form() {
        let words = Words::read("en", "units-one = \"{n} unit of {w}\"\nunits-other = \"{n} units of {w}\"").unwrap();
        let told = |count| {
            let sentence = Sentence::new("units", [("n", Part::Count(count)), ("w", Part::Name("{n}".to_owned()))]);
            sentence.told(&words, |part| match part {
                Part::Count(count) => count.to_string(),
                Part::Name(name) | Part::Figure(name) => name.clone(),
                Part::Word(key) => key.to_string(),
                Part::Length(length) => length.get().to_string(),
            })
        };
        assert_eq!((told(1).unwrap(), told(2).unwrap()), ("1 unit of {n}".to_owned(), "2 units of {n}".to_owned()));
        assert_eq!(Sentence::plain("no-such").told(&words, |_| String::new()), None);
        assert_eq!(Sentence::plain("assume-pattern").text(), "the tabulated pattern is assumed, not measured");
    }
}
