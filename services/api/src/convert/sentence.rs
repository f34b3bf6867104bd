//! Sentences with what they are made of.

use std::borrow::Cow;

use domain::{Part, Sentence};
use proto::v1;
use proto::v1::sentence_part::Value;

/// The sentences in English.
pub(crate) fn texts(sentences: &[Sentence]) -> Vec<String> {
    sentences.iter().map(Sentence::text).collect()
}

/// The sentences with what they are made of.
pub(crate) fn to(sentences: &[Sentence]) -> Vec<v1::Sentence> {
    sentences.iter().map(one).collect()
}

/// One sentence.
pub(crate) fn one(sentence: &Sentence) -> v1::Sentence {
    let part = |(name, part): &(Cow<'static, str>, Part)| v1::SentencePart {
        name: name.to_string(),
        value: Some(match part {
            Part::Figure(text) => Value::Figure(text.clone()),
            Part::Name(text) => Value::Proper(text.clone()),
            Part::Length(length) => Value::LengthM(length.get()),
            Part::Count(count) => Value::Count(*count),
            Part::Word(key) => Value::Word(key.to_string()),
        }),
    };
    v1::Sentence {
        text: sentence.text(),
        key: sentence.key.to_string(),
        parts: sentence.parts.iter().map(part).collect(),
    }
}
