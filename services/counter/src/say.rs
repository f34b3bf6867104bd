//! The words of the pages in the reader's language and unit. Sentences of the services come from the word files of the reports; what only
//! pages say stands in `words/XX.toml`, one file a language with the same keys.

use std::collections::BTreeMap;

use proto::v1;
use reports::{LengthUnit, Speaker, put_in};

/// Metres in an international foot (exact, 1959 agreement).
pub(crate) const FOOT: f64 = 0.3048;

/// Languages of the pages, the first where a browser asks for none of them.
const LANGUAGES: [(&str, &str, &str); 2] =
    [("en", "English", include_str!("../words/en.toml")), ("de", "Deutsch", include_str!("../words/de.toml"))];

/// The words by language and key.
pub(crate) struct Words(BTreeMap<&'static str, reports::Words>);

impl Words {
    pub(crate) fn read() -> Result<Self, String> {
        let each = LANGUAGES.into_iter().map(|(tag, _, text)| {
            let words = reports::Words::read(tag, text).map_err(|e| format!("{tag}: {e}"))?;
            Ok((tag, words))
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
        self.own().and_then(|words| words.get(key)).unwrap_or(key)
    }

    /// The same with what stands in its braces. What is put in is never read again.
    pub(crate) fn f(self, key: &str, parts: &[(&str, &str)]) -> String {
        put_in(self.own().and_then(|words| words.get(key)).unwrap_or(key), parts)
    }

    /// `1 day late`, `2 days late`: the form of a key for a number.
    pub(crate) fn count(self, key: &str, n: usize) -> String {
        let form = self.own().and_then(|words| words.form(key, u64::try_from(n).unwrap_or(u64::MAX)));
        put_in(form.unwrap_or(key), &[("count", self.whole(n))])
    }

    fn own(self) -> Option<&'a reports::Words> {
        self.words.0.get(self.look.language)
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
        let keys = |words: &reports::Words| words.texts().map(|(key, _)| key.to_owned()).collect::<Vec<_>>();
        for (tag, texts) in &words {
            assert_eq!(keys(texts), keys(english), "{tag}");
            for (key, text) in english.texts() {
                assert_eq!(braces(text), braces(texts.get(key).unwrap()), "{key} in {tag}");
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
    fn a_number_takes_the_form_of_its_language() {
        let english = &Words::read().unwrap().0["en"];
        let form = |n| put_in(english.form("late", n).unwrap(), &[("count", n.to_string())]);
        assert_eq!([0, 1, 2].map(form), ["0 days late", "1 day late", "2 days late"]);
    }
}
