//! Words, values and signs of a filter, with their positions.

use crate::error::StoreError;

/// A part of a filter.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Token {
    /// A field, a word that joins, or a value without quotes.
    Word(String),
    /// Text in double quotes.
    Quoted(String),
    /// A sign that compares.
    Compare(Compare),
    Open,
    Close,
}

/// A sign that compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Compare {
    Equal,
    NotEqual,
    Less,
    AtMost,
    Greater,
    AtLeast,
    Has,
}

impl Compare {
    /// As it is written.
    pub(crate) const fn sign(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::NotEqual => "!=",
            Self::Less => "<",
            Self::AtMost => "<=",
            Self::Greater => ">",
            Self::AtLeast => ">=",
            Self::Has => ":",
        }
    }
}

impl std::fmt::Display for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Word(word) => write!(f, "'{word}'"),
            Self::Quoted(text) => write!(f, "\"{text}\""),
            Self::Compare(compare) => write!(f, "'{}'", compare.sign()),
            Self::Open => f.write_str("'('"),
            Self::Close => f.write_str("')'"),
        }
    }
}

/// Splits a filter; positions are counted in characters from 1.
pub(crate) fn tokens(text: &str) -> Result<Vec<(usize, Token)>, StoreError> {
    let mut found = Vec::new();
    let mut chars = text.chars().zip(1..).peekable();
    while let Some((c, at)) = chars.next() {
        let mut then_equal = || chars.next_if(|(next, _)| *next == '=').is_some();
        let token = match c {
            _ if c.is_whitespace() => continue,
            '(' => Token::Open,
            ')' => Token::Close,
            ':' => Token::Compare(Compare::Has),
            '=' => Token::Compare(Compare::Equal),
            '<' => Token::Compare(if then_equal() { Compare::AtMost } else { Compare::Less }),
            '>' => Token::Compare(if then_equal() { Compare::AtLeast } else { Compare::Greater }),
            '!' if then_equal() => Token::Compare(Compare::NotEqual),
            '"' => Token::Quoted(quoted(&mut chars, at)?),
            _ if in_word(c) => {
                let mut word = String::from(c);
                while let Some((next, _)) = chars.next_if(|(next, _)| in_word(*next)) {
                    word.push(next);
                }
                Token::Word(word)
            }
            _ => {
                let problem = format!(
                    "'{c}' is not expected; accepted: fields, comparisons, AND, OR, NOT, text in double quotes"
                );
                return Err(StoreError::in_filter(at, problem));
            }
        };
        found.push((at, token));
    }
    Ok(found)
}

/// What a word is made of: letters and digits, and what numbers, ids and paths of fields hold beside them.
fn in_word(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '_' | '.' | '-' | '+' | '*')
}

/// The rest of a quoted text; a backslash takes the next character as it is.
fn quoted(chars: &mut impl Iterator<Item = (char, usize)>, at: usize) -> Result<String, StoreError> {
    let mut text = String::new();
    loop {
        match chars.next() {
            Some(('"', _)) => return Ok(text),
            Some(('\\', _)) => text.extend(chars.next().map(|(c, _)| c)),
            Some((c, _)) => text.push(c),
            None => return Err(StoreError::in_filter(at, "the text has no closing quote; add one")),
        }
    }
}
