//! What a filter may name: every field of a record that is no list, and those of the entries of its lists.

use domain::field::Holds;

/// A field that a filter may name.
#[derive(Debug, Clone)]
pub struct Field {
    /// Name in the filter, as in the public API, such as `canopy.height_m`.
    pub name: String,
    /// What it is compared with.
    pub(crate) kind: Kind,
    /// Expression over the table, or over the table of a list.
    pub(crate) sql: String,
    /// The list that it is a part of: its table, and the record's own.
    pub(crate) list: Option<(String, &'static str)>,
}

/// What a field is compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Kind {
    /// Text.
    Text,
    /// A number in the unit of the field's name.
    Number,
    /// An amount of money without its currency; in billionths.
    Amount,
    /// One of some names, stored in lower case.
    Choice(&'static [&'static str]),
    /// True or false.
    Flag,
    /// A time; stored in microseconds.
    Time,
}

/// The fields of a record, or of an entry of a list, that have a column.
pub(crate) fn fields<R>(fields: &[domain::field::Field<R>]) -> Vec<Field> {
    let mut found: Vec<Field> = Vec::with_capacity(fields.len());
    for field in fields {
        let column = field.column;
        let (kind, sql) = match &field.holds {
            Holds::List { .. } => continue,
            Holds::Amount { .. } => (Kind::Amount, format!("({column}_units * 1000000000 + {column}_nanos)")),
            Holds::Id { .. } | Holds::Text { .. } | Holds::Notes { .. } => (Kind::Text, column.to_owned()),
            // Days are written with the year first, so their order as text is their order in time.
            Holds::Day { .. } => (Kind::Text, column.to_owned()),
            Holds::Reference { collection, .. } => (Kind::Text, referred(collection, column)),
            Holds::Figure { .. } | Holds::Number { .. } | Holds::Whole { .. } => (Kind::Number, column.to_owned()),
            Holds::Choice { names, .. } => (Kind::Choice(names), column.to_owned()),
            Holds::Flag { .. } => (Kind::Flag, column.to_owned()),
        };
        // A column that several fields share is named by itself, as in files.
        let shared = fields.iter().filter(|other| other.column == column).count() > 1;
        let name = if shared || own_name(field.path) { column } else { field.path };
        if found.iter().all(|known| known.name != name) {
            found.push(Field { name: name.to_owned(), kind, sql, list: None });
        }
    }
    found
}

/// Whether a path of the public API is longer than the name that people know a field by: one of a shape, or of a price.
fn own_name(path: &str) -> bool {
    ["cylinder.", "sphere.", "disc.", "fish.", "price."].iter().any(|shape| path.starts_with(shape))
}

/// The name of another record, as the public API has it.
fn referred(collection: &str, column: &str) -> String {
    match collection.split_once("{sensor}") {
        _ if collection.is_empty() => column.to_owned(),
        Some((before, after)) => format!("'{before}' || sensor || '{after}/' || {column}"),
        None => format!("'{collection}/' || {column}"),
    }
}

impl Field {
    /// What the field is compared with, for people.
    #[must_use]
    pub fn accepts(&self) -> String {
        match self.kind {
            Kind::Text => "text in double quotes".to_owned(),
            Kind::Number => "a number".to_owned(),
            Kind::Amount => "an amount such as 129.50".to_owned(),
            Kind::Choice(names) => format!("one of {}", names.join(", ")),
            Kind::Flag => "true or false".to_owned(),
            Kind::Time => "a time in double quotes such as \"2026-12-24T08:00:00Z\"".to_owned(),
        }
    }
}
