//! What a report says, in the reader's language and unit: words come from one file a language, never from code.
//!
//! A language is a file `shared/words-XX.toml` of the template set, XX its tag. Sentences hold their figures as `{name}`.

use std::collections::BTreeMap;
use std::sync::Arc;

use acoustics::units::Metres;

use crate::clean::clean;
use crate::error::ReportError;
use crate::settings::LengthUnit;
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

/// The words of one language by their key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Words {
    language: String,
    texts: BTreeMap<String, String>,
    /// What the service itself says in English, by which stored sentences are known again.
    english: Arc<BTreeMap<String, String>>,
}

/// All languages of a template set, by tag.
pub(crate) type Languages = BTreeMap<String, Words>;

/// Reads every file of words and holds each against the built-in English one.
pub(crate) fn languages(files: &Files, built_in: &Files) -> Result<Languages, ReportError> {
    let wanted = Arc::new(read("shared/words-en.toml", built_in)?);
    let tags = files.keys().filter_map(|path| path.strip_prefix("shared/words-")?.strip_suffix(".toml"));
    tags.map(|tag| {
        let path = format!("shared/words-{tag}.toml");
        let texts = read(&path, files)?;
        let missing: Vec<_> = wanted.keys().filter(|key| !texts.contains_key(*key)).map(String::as_str).collect();
        if !missing.is_empty() {
            let detail = format!("it lacks {}; copy these keys from words-en.toml and word them", missing.join(", "));
            return Err(ReportError::File { file: path, detail });
        }
        Ok((tag.to_owned(), Words { language: tag.to_owned(), texts, english: Arc::clone(&wanted) }))
    })
    .collect()
}

fn read(path: &str, files: &Files) -> Result<BTreeMap<String, String>, ReportError> {
    let failed = |detail: String| ReportError::File { file: path.to_owned(), detail };
    let bytes = files.get(path).ok_or_else(|| failed("there is no such file".to_owned()))?;
    let text = std::str::from_utf8(bytes).map_err(|e| failed(format!("{e}; save it as UTF-8")))?;
    toml::from_str(text).map_err(|e| failed(format!("{e}; accepted are lines of the form key = \"text\"")))
}

impl Words {
    /// Every text there is.
    #[cfg(test)]
    pub(crate) fn texts(&self) -> impl Iterator<Item = &str> {
        self.texts.values().map(String::as_str)
    }

    /// Every key that begins so.
    #[cfg(test)]
    pub(crate) fn keys<'a>(&'a self, begin: &'a str) -> impl Iterator<Item = &'a str> {
        self.texts.keys().map(String::as_str).filter(move |key| key.starts_with(begin))
    }

    /// The text of a key; the key itself where there is none, which the checks at start exclude.
    fn text<'a>(&'a self, key: &'a str) -> &'a str {
        self.texts.get(key).map_or(key, String::as_str)
    }
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
        &self.words.language
    }

    /// A word or a sentence without figures.
    pub(crate) fn word(self, key: &str) -> String {
        self.words.text(key).to_owned()
    }

    /// A sentence with its figures put in.
    pub(crate) fn say<const N: usize>(self, key: &str, figures: [(&str, String); N]) -> String {
        put_in(self.words.text(key), &figures)
    }

    /// The same of a sentence that the service has stored by its key; none where the language has no such key.
    pub(crate) fn known(self, key: &str, figures: &[(String, String)]) -> Option<String> {
        self.words.texts.get(key).map(|text| put_in(text, figures))
    }

    /// What the service has stored in English only, in the reader's language. Sentence by sentence each is known again by the English of
    /// a key that begins so; one that is not known stays as it is.
    pub(crate) fn retold(self, keys: &str, stored: &str) -> String {
        let told = |sentence: &str| {
            let (key, parts) = self.find(keys, sentence)?;
            let parts: Vec<_> = parts.into_iter().map(|(name, part)| (name, self.part(part))).collect();
            Some(put_in(self.words.text(key), &parts))
        };
        let each = |sentence: &str| told(sentence).unwrap_or_else(|| sentence.to_owned());
        told(stored).unwrap_or_else(|| sentences(stored).map(each).collect::<Vec<_>>().join(" "))
    }

    /// A part of a stored sentence: a word or two that have words of their own, or a figure.
    fn part(self, part: &str) -> String {
        self.find("part-", part)
            .map_or_else(|| self.figures(part, MAX_PART), |(key, _)| self.words.text(key).to_owned())
    }

    /// The key whose English a stored sentence is, and what stands in its braces.
    fn find<'t>(self, keys: &str, sentence: &'t str) -> Option<(&'a str, Vec<(&'a str, &'t str)>)> {
        let own = self.words.english.range(keys.to_owned()..).take_while(|(key, _)| key.starts_with(keys));
        // The one with the most words of its own: a shorter one may fit what a longer one says as well.
        let fits = own.filter_map(|(key, pattern)| Some((pattern.len(), key.as_str(), parts(pattern, sentence)?)));
        fits.max_by_key(|(length, ..)| *length).map(|(_, key, parts)| (key, parts))
    }

    /// The same without the parts.
    #[cfg(test)]
    pub(crate) fn known_again(self, keys: &str, sentence: &str) -> Option<&'a str> {
        self.find(keys, sentence).map(|(key, _)| key)
    }

    /// `1 spot`, `2 spots`: from the keys with `-one` and `-many` at their end.
    pub(crate) fn count(self, key: &str, n: usize) -> String {
        let form = if n == 1 { "one" } else { "many" };
        self.say(&format!("{key}-{form}"), [("count", n.to_string())])
    }

    /// A number with at most that many decimals and the decimal mark of the language.
    pub(crate) fn number(self, value: f64, decimals: u8) -> String {
        domain::wording::number(value, decimals).replace('.', self.words.text("decimal-mark"))
    }

    /// A number with exactly that many decimals.
    pub(crate) fn fixed(self, value: f64, decimals: usize) -> String {
        format!("{value:.decimals$}").replace('.', self.words.text("decimal-mark"))
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
        let (group, mark) = (self.words.text("group-mark"), self.words.text("decimal-mark"));
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
            text = text.replace(english, self.words.text(key));
        }
        let letters: Vec<char> = clean(&text, most).chars().collect();
        let digit = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(char::is_ascii_digit);
        let marked = letters.iter().enumerate().map(|(at, letter)| {
            let inside = digit(at.checked_sub(1)) && digit(Some(at + 1));
            match letter {
                '.' if inside => self.words.text("decimal-mark").to_owned(),
                ',' if inside => self.words.text("group-mark").to_owned(),
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

/// Sentences of a text, each with its full stop.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(". ").map(str::trim_end)
}

/// What stands in a text where a pattern has names in braces; none where the text is another one.
fn parts<'p, 't>(pattern: &'p str, text: &'t str) -> Option<Vec<(&'p str, &'t str)>> {
    let mut pieces = pattern.split('{').peekable();
    let mut rest = text.strip_prefix(pieces.next()?)?;
    let mut parts = Vec::new();
    while let Some(piece) = pieces.next() {
        let (name, after) = piece.split_once('}')?;
        // A full stop at the end is not the first point, which may stand in a figure.
        let end = if pieces.peek().is_none() { rest.strip_suffix(after)?.len() } else { rest.find(after)? };
        let (part, left) = rest.split_at_checked(end)?;
        // A part is a figure or a word or two; more is another sentence that begins and ends alike.
        if part.is_empty() || part.chars().count() > MAX_PART {
            return None;
        }
        parts.push((name, part));
        rest = left.get(after.len()..)?;
    }
    rest.is_empty().then_some(parts)
}

/// Puts figures where their names stand in braces. What is put in is never read again, so that a name with braces stays a name.
fn put_in<S: AsRef<str>>(text: &str, figures: &[(S, String)]) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        out.push_str(before);
        let known = after.split_once('}').and_then(|(name, after)| {
            figures.iter().find(|(known, _)| known.as_ref() == name).map(|(_, figure)| (figure, after))
        });
        match known {
            Some((figure, after)) => {
                out.push_str(figure);
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
            let keys = |words: &Words| words.texts.keys().cloned().collect::<Vec<_>>();
            assert_eq!(keys(&other), keys(&english), "{}", other.language);
            for (key, text) in &english.texts {
                assert_eq!(figures(other.text(key)), figures(text), "{key} in {}", other.language);
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
    fn figures_are_put_in_and_never_read_again() {
        let english = words("en");
        let say = Wording::new(&english, LengthUnit::Metres);
        let set = say.say("span", [("low", "{high}".to_owned()), ("high", "b".to_owned())]);
        assert_eq!(set, "{high} to b");
    }

    #[test]
    fn stored_sentences_are_known_again_by_their_english() {
        let (english, german) = (words("en"), words("de"));
        let (en, de) = (Wording::new(&english, LengthUnit::Metres), Wording::new(&german, LengthUnit::Metres));
        let stored = "the beamwidth across is assumed to be 8.5°, as nothing better is known";
        assert_eq!(en.retold("assume-", stored), stored);
        assert_eq!(
            de.retold("assume-", stored),
            "der Öffnungswinkel quer dazu wird mit 8,5° angenommen, weil nichts Besseres bekannt ist"
        );
        for unknown in
            ["", "the beamwidth", "the beamwidth is assumed to be , as nothing better is known", "Other. 1.5 m."]
        {
            assert_eq!(de.retold("assume-", unknown), unknown);
        }
        assert_eq!(parts("{a} of {b}", "3 of 1 of 2"), Some(vec![("a", "3"), ("b", "1 of 2")]));
        assert_eq!(parts("{a}, {b}.", "1, 0.5 m."), Some(vec![("a", "1"), ("b", "0.5 m")]));
        assert_eq!(parts("as it is", "as it is not"), None);
        assert_eq!(parts("{a} m", &format!("{} m", "x".repeat(61))), None);
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
