//! From tokens to an expression.
//!
//! ```text
//! filter     = part { "AND" part }        part  = unit { "OR" unit }
//! unit       = [ "NOT" | "-" ] simple     simple = "(" filter ")" | field sign value
//! ```

use super::token::{Compare, Token};
use crate::error::StoreError;

/// Deepest nesting of parentheses and NOT: far more than people write, far less than would harm.
const MAX_DEPTH: usize = 32;

/// Most comparisons of one filter: each is worked out for each record.
const MAX_COMPARISONS: usize = 20;

/// A filter as a tree.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Expression {
    /// All of them.
    All(Vec<Expression>),
    /// At least one of them.
    Any(Vec<Expression>),
    Not(Box<Expression>),
    Comparison(Comparison),
}

/// A field compared with a value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Comparison {
    /// Position of the field.
    pub(crate) at: usize,
    pub(crate) field: String,
    pub(crate) compare: Compare,
    /// Position of the value.
    pub(crate) value_at: usize,
    pub(crate) value: String,
    /// Whether the value stands in quotes, so that a `*` by itself is text.
    pub(crate) quoted: bool,
}

/// Reads a whole filter; `end` is the position just past its text.
pub(crate) fn parse(tokens: Vec<(usize, Token)>, end: usize) -> Result<Expression, StoreError> {
    let mut parser = Parser { tokens: tokens.into_iter().peekable(), end, comparisons: 0 };
    let expression = parser.all(0)?;
    match parser.tokens.next() {
        None => Ok(expression),
        Some((at, Token::Close)) => Err(StoreError::in_filter(at, "this ')' closes nothing; drop it")),
        Some((at, token)) => {
            Err(StoreError::in_filter(at, format!("{token} is not expected here; join comparisons by AND or OR")))
        }
    }
}

struct Parser {
    tokens: std::iter::Peekable<std::vec::IntoIter<(usize, Token)>>,
    end: usize,
    comparisons: usize,
}

impl Parser {
    fn position(&mut self) -> usize {
        self.tokens.peek().map_or(self.end, |(at, _)| *at)
    }

    fn take_word(&mut self, word: &str) -> bool {
        self.tokens.next_if(|(_, token)| matches!(token, Token::Word(found) if found == word)).is_some()
    }

    fn all(&mut self, depth: usize) -> Result<Expression, StoreError> {
        let first = self.any(depth)?;
        let mut parts = vec![first];
        while self.take_word("AND") {
            parts.push(self.any(depth)?);
        }
        Ok(single(parts, Expression::All))
    }

    fn any(&mut self, depth: usize) -> Result<Expression, StoreError> {
        let first = self.unit(depth)?;
        let mut parts = vec![first];
        while self.take_word("OR") {
            parts.push(self.unit(depth)?);
        }
        Ok(single(parts, Expression::Any))
    }

    fn unit(&mut self, depth: usize) -> Result<Expression, StoreError> {
        if depth > MAX_DEPTH {
            let problem = format!("parentheses and NOT are nested deeper than {MAX_DEPTH} levels; simplify the filter");
            return Err(StoreError::in_filter(self.position(), problem));
        }
        if self.take_word("NOT") || self.take_word("-") {
            return Ok(Expression::Not(Box::new(self.unit(depth + 1)?)));
        }
        if self.tokens.next_if(|(_, token)| *token == Token::Open).is_some() {
            let inner = self.all(depth + 1)?;
            return match self.tokens.next() {
                Some((_, Token::Close)) => Ok(inner),
                Some((at, token)) => Err(StoreError::in_filter(
                    at,
                    format!("{token} is not expected here; close the parenthesis, or join by AND or OR"),
                )),
                None => Err(StoreError::in_filter(self.end, "a closing ')' is missing; add it")),
            };
        }
        match self.tokens.next() {
            // A minus right before a field negates as well.
            Some((at, Token::Word(word))) => match word.strip_prefix('-') {
                Some(field) => {
                    let comparison = self.comparison(at + 1, field.to_owned())?;
                    Ok(Expression::Not(Box::new(Expression::Comparison(comparison))))
                }
                None => self.comparison(at, word).map(Expression::Comparison),
            },
            Some((at, token)) => Err(StoreError::in_filter(
                at,
                format!("{token} stands where a field is expected; write field, sign, value"),
            )),
            None => {
                Err(StoreError::in_filter(self.end, "a comparison is missing at the end; write field, sign, value"))
            }
        }
    }

    fn comparison(&mut self, at: usize, field: String) -> Result<Comparison, StoreError> {
        self.comparisons += 1;
        if self.comparisons > MAX_COMPARISONS {
            let problem = format!("the filter has more than {MAX_COMPARISONS} comparisons; ask in parts");
            return Err(StoreError::in_filter(at, problem));
        }
        let position = self.position();
        let Some((_, Token::Compare(compare))) = self.tokens.next_if(|(_, token)| matches!(token, Token::Compare(_)))
        else {
            let problem = format!("a sign must follow '{field}'; accepted: = != < <= > >= or :");
            return Err(StoreError::in_filter(position, problem));
        };
        match self.tokens.next() {
            Some((value_at, Token::Word(value))) => {
                Ok(Comparison { at, field, compare, value_at, value, quoted: false })
            }
            Some((value_at, Token::Quoted(value))) => {
                Ok(Comparison { at, field, compare, value_at, value, quoted: true })
            }
            other => {
                let position = other.map_or(self.end, |(at, _)| at);
                Err(StoreError::in_filter(position, format!("a value must follow '{field} {}'", compare.sign())))
            }
        }
    }
}

/// One part stands for itself.
fn single(mut parts: Vec<Expression>, join: impl FnOnce(Vec<Expression>) -> Expression) -> Expression {
    match (parts.pop(), parts.is_empty()) {
        (Some(only), true) => only,
        (last, _) => {
            parts.extend(last);
            join(parts)
        }
    }
}
