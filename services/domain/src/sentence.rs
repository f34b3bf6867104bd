//! Sentences that a report may tell in another language: a stable key with what is put in, and the same in English.

use std::ops::Deref;

/// A sentence for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    /// Stable key, such as `step-drill-one`.
    pub key: &'static str,
    /// What is put in, by name.
    pub parts: Vec<(&'static str, Part)>,
    /// The sentence in English.
    pub text: String,
}

/// Something that is put into a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// A figure with its unit, such as `1.25 m` or `step 4 (20 dB)`: another language writes it in its own way.
    Figure(String),
    /// A name or a day, the same in every language.
    Name(String),
}

impl Sentence {
    /// A sentence by its key and its English pattern, in which `{name}` stands for a part.
    pub fn new<const N: usize>(key: &'static str, pattern: &str, parts: [(&'static str, Part); N]) -> Self {
        Self::of(key, pattern, parts.to_vec())
    }

    /// The same with any number of parts.
    pub fn of(key: &'static str, pattern: &str, parts: Vec<(&'static str, Part)>) -> Self {
        let mut text = String::new();
        let mut rest = pattern;
        // What is put in is never read again, so that a name with braces stays a name.
        while let Some((before, after)) = rest.split_once('{') {
            let (name, after) = after.split_once('}').unwrap_or((after, ""));
            text.push_str(before);
            if let Some((_, Part::Figure(part) | Part::Name(part))) = parts.iter().find(|(known, _)| *known == name) {
                text.push_str(part);
            }
            rest = after;
        }
        text.push_str(rest);
        Self { key, parts, text }
    }

    /// A sentence without parts.
    pub fn plain(key: &'static str, text: &str) -> Self {
        Self { key, parts: Vec::new(), text: text.to_owned() }
    }
}

/// Sentences one after the other.
pub fn joined(sentences: &[Sentence]) -> String {
    sentences.iter().map(|sentence| sentence.text.as_str()).collect::<Vec<_>>().join(" ")
}

impl Deref for Sentence {
    type Target = str;

    fn deref(&self) -> &str {
        &self.text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_put_in_and_never_read_again() {
        let parts = [("a", Part::Name("{b}".to_owned())), ("b", Part::Figure("3 m".to_owned()))];
        let sentence = Sentence::new("key", "{a} is {b} away.", parts);
        assert_eq!(&*sentence, "{b} is 3 m away.");
        assert_eq!(&*Sentence::plain("key", "As it stands."), "As it stands.");
    }
}
