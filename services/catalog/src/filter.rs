//! Filters of listings: a subset of AIP-160, parsed against a list of fields and turned into SQL with bound values only.
//!
//! `depth_m > 6 AND (lake = "Tarn Vesper" OR NOT bottom_class = "silt") AND display_name : "bar"`: comparisons `= != < <= > >=` and
//! `:` (contains, for text), joined by AND, OR, NOT and parentheses.

use crate::error::StoreError;

/// A field that a filter may name.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Name in the filter.
    pub name: &'static str,
    /// Expression over the table.
    pub(crate) sql: &'static str,
    /// What it is compared with.
    pub kind: FieldKind,
}

/// What a field is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldKind {
    /// Quoted text.
    Text,
    /// A number.
    Number,
}

/// A checked filter.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    text: String,
    sql: String,
    values: Vec<Value>,
}

/// A value that is bound to the statement.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Text.
    Text(String),
    /// A number.
    Number(f64),
}

/// Longest filter, in characters.
const MAX_CHARS: usize = 2_000;
/// Deepest nesting of parentheses and NOT.
const MAX_DEPTH: usize = 32;

impl Filter {
    /// Parses a filter over some fields; nothing for empty text.
    ///
    /// # Errors
    /// The position and the nature of the first fault.
    pub fn parse(text: &str, fields: &'static [Field]) -> Result<Option<Self>, StoreError> {
        if text.trim().is_empty() {
            return Ok(None);
        }
        if text.chars().count() > MAX_CHARS {
            return Err(StoreError::BadFilter {
                at: MAX_CHARS,
                problem: format!("the filter is longer than {MAX_CHARS} characters"),
            });
        }
        let mut parser =
            Parser { tokens: tokens(text)?, next: 0, fields, values: Vec::new(), end: text.chars().count() + 1 };
        let sql = parser.any(0)?;
        match parser.peek() {
            None => Ok(Some(Self { text: text.to_owned(), sql, values: parser.values })),
            Some((at, token)) => {
                Err(bad(*at, format!("{} is not expected here; join comparisons by AND or OR", token.name())))
            }
        }
    }

    /// The filter as it was given.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    pub(crate) fn sql(&self) -> &str {
        &self.sql
    }

    pub(crate) fn values(&self) -> &[Value] {
        &self.values
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Token {
    Word(String),
    Text(String),
    Number(f64),
    Compare(&'static str),
    Open,
    Close,
}

impl Token {
    fn name(&self) -> String {
        match self {
            Self::Word(word) => format!("'{word}'"),
            Self::Text(text) => format!("\"{text}\""),
            Self::Number(number) => format!("{number}"),
            Self::Compare(sign) => format!("'{sign}'"),
            Self::Open => "'('".to_owned(),
            Self::Close => "')'".to_owned(),
        }
    }
}

fn bad(at: usize, problem: impl Into<String>) -> StoreError {
    StoreError::BadFilter { at, problem: problem.into() }
}

/// Splits a filter into tokens with their positions, counted in characters from 1.
fn tokens(text: &str) -> Result<Vec<(usize, Token)>, StoreError> {
    let mut found = Vec::new();
    let mut chars = text.chars().enumerate().map(|(i, c)| (i + 1, c)).peekable();
    while let Some((at, c)) = chars.next() {
        let token = match c {
            _ if c.is_whitespace() => continue,
            '(' => Token::Open,
            ')' => Token::Close,
            ':' => Token::Compare(":"),
            '=' => Token::Compare("="),
            '<' | '>' | '!' => {
                let equal = chars.next_if(|(_, c)| *c == '=').is_some();
                Token::Compare(match (c, equal) {
                    ('<', true) => "<=",
                    ('<', false) => "<",
                    ('>', true) => ">=",
                    ('>', false) => ">",
                    ('!', true) => "!=",
                    _ => return Err(bad(at, "'!' stands alone; write != or NOT")),
                })
            }
            '"' => {
                let mut value = String::new();
                loop {
                    match chars.next() {
                        Some((_, '"')) => break,
                        Some((_, '\\')) => value.extend(chars.next().map(|(_, c)| c)),
                        Some((_, c)) => value.push(c),
                        None => return Err(bad(at, "the quoted text has no closing quote")),
                    }
                }
                Token::Text(value)
            }
            _ => {
                let mut word = String::from(c);
                while let Some((_, c)) = chars.next_if(|(_, c)| c.is_alphanumeric() || "_.-+".contains(*c)) {
                    word.push(c);
                }
                match word.parse::<f64>() {
                    Ok(number) if number.is_finite() && !word.starts_with(char::is_alphabetic) => Token::Number(number),
                    _ if c.is_alphabetic() || c == '_' => Token::Word(word),
                    _ => return Err(bad(at, format!("'{word}' is neither a field, a number nor quoted text"))),
                }
            }
        };
        found.push((at, token));
    }
    Ok(found)
}

struct Parser {
    tokens: Vec<(usize, Token)>,
    next: usize,
    fields: &'static [Field],
    values: Vec<Value>,
    /// Position just past the text, for faults at its end.
    end: usize,
}

impl Parser {
    fn peek(&self) -> Option<&(usize, Token)> {
        self.tokens.get(self.next)
    }

    fn take(&mut self) -> Option<(usize, Token)> {
        let token = self.tokens.get(self.next).cloned();
        self.next += 1;
        token
    }

    fn take_word(&mut self, word: &str) -> bool {
        let is = matches!(self.peek(), Some((_, Token::Word(w))) if w == word);
        if is {
            self.next += 1;
        }
        is
    }

    /// One or more parts joined by OR.
    fn any(&mut self, depth: usize) -> Result<String, StoreError> {
        let mut sql = self.all(depth)?;
        while self.take_word("OR") {
            sql = format!("({sql} OR {})", self.all(depth)?);
        }
        Ok(sql)
    }

    /// One or more parts joined by AND.
    fn all(&mut self, depth: usize) -> Result<String, StoreError> {
        let mut sql = self.part(depth)?;
        while self.take_word("AND") {
            sql = format!("({sql} AND {})", self.part(depth)?);
        }
        Ok(sql)
    }

    fn part(&mut self, depth: usize) -> Result<String, StoreError> {
        let at = self.peek().map_or(self.end, |(at, _)| *at);
        if depth > MAX_DEPTH {
            return Err(bad(at, format!("nested deeper than {MAX_DEPTH} levels")));
        }
        if self.take_word("NOT") {
            return Ok(format!("(NOT {})", self.part(depth + 1)?));
        }
        match self.take() {
            Some((_, Token::Open)) => {
                let inner = self.any(depth + 1)?;
                match self.take() {
                    Some((_, Token::Close)) => Ok(inner),
                    other => Err(bad(other.map_or(self.end, |(at, _)| at), "a closing ')' is missing here")),
                }
            }
            Some((at, Token::Word(word))) => self.comparison(at, &word),
            Some((at, token)) => {
                Err(bad(at, format!("a field is expected here, not {}; {}", token.name(), self.known())))
            }
            None => Err(bad(self.end, format!("a comparison is missing at the end; {}", self.known()))),
        }
    }

    fn comparison(&mut self, at: usize, word: &str) -> Result<String, StoreError> {
        let Some(field) = self.fields.iter().find(|f| f.name == word) else {
            return Err(bad(at, format!("there is no field '{word}'; {}", self.known())));
        };
        let sign = match self.take() {
            Some((_, Token::Compare(sign))) => sign,
            other => {
                let at = other.map_or(self.end, |(at, _)| at);
                return Err(bad(at, format!("a comparison such as = or > must follow '{word}'")));
            }
        };
        let (at, value) = self.take().ok_or_else(|| bad(self.end, format!("a value must follow '{word} {sign}'")))?;
        let sql = field.sql;
        match (field.kind, sign, value) {
            (FieldKind::Text, ":", Token::Text(text)) => {
                self.values.push(Value::Text(text));
                Ok(format!("instr(lower({sql}), lower(?)) > 0"))
            }
            (FieldKind::Text, sign, Token::Text(text)) => {
                self.values.push(Value::Text(text));
                Ok(format!("({sql}) {sign} ?"))
            }
            (FieldKind::Number, ":", _) => Err(bad(at, format!("'{word}' is a number; ':' is for text"))),
            (FieldKind::Number, sign, Token::Number(number)) => {
                self.values.push(Value::Number(number));
                Ok(format!("({sql}) {sign} ?"))
            }
            (FieldKind::Text, _, other) => {
                Err(bad(at, format!("'{word}' is compared with text in double quotes, not {}", other.name())))
            }
            (FieldKind::Number, _, other) => {
                Err(bad(at, format!("'{word}' is compared with a number, not {}", other.name())))
            }
        }
    }

    fn known(&self) -> String {
        let names: Vec<_> = self.fields.iter().map(|f| f.name).collect();
        format!("fields are {}", names.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIELDS: &[Field] = &[
        Field { name: "depth_m", sql: "depth", kind: FieldKind::Number },
        Field { name: "lake", sql: "lake", kind: FieldKind::Text },
    ];

    fn check(text: &str, sql: &str) {
        let filter = Filter::parse(text, FIELDS).unwrap().unwrap();
        assert_eq!(filter.sql(), sql, "{text}");
    }

    #[test]
    fn joins_bind_as_people_read_them() {
        check("depth_m > 6", "(depth) > ?");
        check("depth_m > 6 AND lake = \"A\" OR depth_m < 2", "(((depth) > ? AND (lake) = ?) OR (depth) < ?)");
        check("NOT (lake : \"a\" OR depth_m = 1)", "(NOT (instr(lower(lake), lower(?)) > 0 OR (depth) = ?))");
    }

    #[test]
    fn values_are_bound_and_never_part_of_the_statement() {
        let filter = Filter::parse("lake = \"x'); DROP TABLE spots; --\"", FIELDS).unwrap().unwrap();
        assert_eq!(filter.sql(), "(lake) = ?");
        assert_eq!(filter.values(), [Value::Text("x'); DROP TABLE spots; --".into())]);
    }

    #[test]
    fn faults_say_where_and_what() {
        for (text, at, part) in [
            ("depth > 6", 1, "no field 'depth'"),
            ("depth_m 6", 9, "must follow 'depth_m'"),
            ("depth_m > \"6\"", 11, "compared with a number"),
            ("lake = Vesper", 8, "double quotes"),
            ("depth_m > 6 lake = \"A\"", 13, "join comparisons"),
            ("(depth_m > 6", 13, "closing ')'"),
            ("lake = \"A", 8, "closing quote"),
            ("depth_m > ", 11, "a value must follow"),
            ("1=1", 1, "a field is expected"),
            ("depth_m > 1; --", 12, "neither a field"),
        ] {
            match Filter::parse(text, FIELDS) {
                Err(StoreError::BadFilter { at: found, problem }) => {
                    assert!(problem.contains(part), "{text}: {problem}");
                    assert_eq!(found, at, "{text}: {problem}");
                }
                other => panic!("{text}: {other:?}"),
            }
        }
    }
}
