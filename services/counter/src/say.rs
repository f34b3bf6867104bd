//! The words of the pages in the reader's language and unit. Sentences of the services come from the word files of the reports; what only
//! pages say stands in `words/XX.toml`, one file a language with the same keys.

use std::collections::BTreeMap;

use proto::v1;
use reports::{LengthUnit, Speaker};

use crate::quantity::FOOT;

/// Languages of the pages, the first where a browser asks for none of them.
const LANGUAGES: [(&str, &str, &str); 2] =
    [("en", "English", include_str!("../words/en.toml")), ("de", "Deutsch", include_str!("../words/de.toml"))];

/// The words by language and key.
pub(crate) struct Words(BTreeMap<&'static str, BTreeMap<String, String>>);

impl Words {
    pub(crate) fn read() -> Result<Self, String> {
        let each = LANGUAGES.into_iter().map(|(tag, _, text)| {
            let texts: BTreeMap<String, String> = toml::from_str(text).map_err(|e| format!("{tag}: {e}"))?;
            Ok((tag, texts))
        });
        each.collect::<Result<_, String>>().map(Self)
    }
}

/// Units of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Feet,
    Metres,
}

impl Unit {
    pub(crate) const ALL: [Self; 2] = [Self::Feet, Self::Metres];

    pub(crate) const fn tag(self) -> &'static str {
        match self {
            Self::Feet => "ft",
            Self::Metres => "m",
        }
    }

    pub(crate) fn of(tag: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.tag() == tag)
    }
}

/// A language and a unit, as a browser chose them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Look {
    pub(crate) language: &'static str,
    pub(crate) unit: Unit,
}

impl Look {
    /// Reads `en.ft`; what is not known is taken from what the browser asks for.
    pub(crate) fn read(cookie: &str, accept_language: &str) -> Self {
        let (language, unit) = cookie.split_once('.').unwrap_or_default();
        let first = || accept_language.split([',', ';', '-']).next().unwrap_or_default().trim().to_lowercase();
        let language = Self::language(language).or_else(|| Self::language(&first())).unwrap_or(LANGUAGES[0].0);
        let unit = Unit::of(unit).unwrap_or(if language == "en" { Unit::Feet } else { Unit::Metres });
        Self { language, unit }
    }

    pub(crate) fn language(tag: &str) -> Option<&'static str> {
        LANGUAGES.iter().map(|(known, ..)| *known).find(|known| *known == tag)
    }

    /// Languages with their names.
    pub(crate) fn languages() -> impl Iterator<Item = (&'static str, &'static str)> {
        LANGUAGES.iter().map(|(tag, name, _)| (*tag, *name))
    }

    pub(crate) fn cookie(self) -> String {
        format!("{}.{}", self.language, self.unit.tag())
    }

    pub(crate) const fn length_unit(self) -> LengthUnit {
        match self.unit {
            Unit::Feet => LengthUnit::Feet,
            Unit::Metres => LengthUnit::Metres,
        }
    }
}

/// Says things in a language and a unit.
#[derive(Clone, Copy)]
pub(crate) struct Say<'a> {
    pub(crate) look: Look,
    words: &'a Words,
    speaker: Speaker<'a>,
}

impl<'a> Say<'a> {
    pub(crate) const fn new(look: Look, words: &'a Words, speaker: Speaker<'a>) -> Self {
        Self { look, words, speaker }
    }

    /// A word or a sentence of the pages; the key itself where there is none, which a test excludes.
    pub(crate) fn t(self, key: &'a str) -> &'a str {
        self.words.0.get(self.look.language).and_then(|texts| texts.get(key)).map_or(key, String::as_str)
    }

    /// The same with what stands in its braces. What is put in is never read again.
    pub(crate) fn f(self, key: &str, parts: &[(&str, &str)]) -> String {
        let known = self.words.0.get(self.look.language).and_then(|texts| texts.get(key));
        put_in(known.map_or(key, String::as_str), parts)
    }

    /// A word of the reports.
    pub(crate) fn report(self, key: &str) -> String {
        self.speaker.word(key)
    }

    /// What the reports word for other places.
    pub(crate) const fn speaker(self) -> Speaker<'a> {
        self.speaker
    }

    /// A sentence of the services.
    pub(crate) fn sentence(self, sentence: &v1::Sentence) -> String {
        self.speaker.sentence(sentence)
    }

    /// A figure as records tell it.
    pub(crate) fn figure(self, figure: &str) -> String {
        self.speaker.figure(figure)
    }

    /// A length with its unit.
    pub(crate) fn length(self, metres: f64) -> String {
        self.speaker.length(metres)
    }

    /// A length in the reader's unit, without it.
    pub(crate) fn bare_length(self, metres: f64) -> String {
        let value = match self.look.unit {
            Unit::Metres => metres,
            Unit::Feet => metres / FOOT,
        };
        self.number(value, if self.look.unit == Unit::Metres && value < 1.0 { 2 } else { 1 })
    }

    pub(crate) fn number(self, value: f64, decimals: u8) -> String {
        self.speaker.number(value, decimals)
    }

    /// A whole number with its groups marked.
    pub(crate) fn whole(self, n: usize) -> String {
        let digits = n.to_string();
        let mark = self.t("group-mark");
        let mut out = String::new();
        for (at, digit) in digits.chars().enumerate() {
            if at > 0 && (digits.len() - at).is_multiple_of(3) {
                out.push_str(mark);
            }
            out.push(digit);
        }
        out
    }

    pub(crate) fn money(self, money: &v1::Money) -> String {
        self.speaker.money(money.units, money.nanos, &money.currency_code)
    }
}

/// Puts parts where their names stand in braces.
fn put_in(text: &str, parts: &[(&str, &str)]) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let known = after
            .split_once('}')
            .and_then(|(name, after)| parts.iter().find(|(known, _)| *known == name).map(|(_, part)| (*part, after)));
        match known {
            Some((part, after)) => {
                out.push_str(part);
                rest = after;
            }
            None => {
                out.push('{');
                rest = after;
            }
        }
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn braces(text: &str) -> BTreeSet<&str> {
        text.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name).collect()
    }

    #[test]
    fn languages_have_the_same_keys_with_the_same_parts() {
        let words = Words::read().unwrap().0;
        let english = &words["en"];
        for (tag, texts) in &words {
            assert_eq!(texts.keys().collect::<Vec<_>>(), english.keys().collect::<Vec<_>>(), "{tag}");
            for (key, text) in english {
                assert_eq!(braces(text), braces(&texts[key]), "{key} in {tag}");
            }
        }
    }

    #[test]
    fn a_browser_is_answered_in_its_language_until_it_chooses() {
        let read = |cookie, asked| Look::read(cookie, asked).cookie();
        assert_eq!(read("", "de-AT,de;q=0.9,en;q=0.8"), "de.m");
        assert_eq!(read("", "fr"), "en.ft");
        assert_eq!(read("en.m", "de"), "en.m");
        assert_eq!(read("<script>.x", "de"), "de.m");
    }

    #[test]
    fn what_is_put_in_is_not_read_again() {
        assert_eq!(put_in("{a} and {b}, {c}", &[("a", "{b}"), ("b", "x")]), "{b} and x, {c}");
    }
}
