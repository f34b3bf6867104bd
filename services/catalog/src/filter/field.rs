//! What a filter may name.

use domain::scale::Scale;

/// A field that a filter may name.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Name in the filter, as in the public API, such as `canopy.height_m`.
    pub name: &'static str,
    /// What it is compared with.
    pub(crate) kind: Kind,
    /// Expression over the table, or over `entry` where it is a part of a list.
    pub(crate) sql: &'static str,
    /// Path in the body of the list that it is a part of.
    pub(crate) list: Option<&'static str>,
}

/// What a field is compared with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Kind {
    /// Text.
    Text,
    /// A number in the unit of the field's name; stored in the canonical one.
    Number(Scale),
    /// An amount of money without its currency; stored in billionths.
    Amount,
    /// One of some names, stored in lower case.
    Choice(&'static [&'static str]),
    /// True or false.
    Flag,
    /// A time; stored in microseconds.
    Time,
}

impl Field {
    const fn new(name: &'static str, kind: Kind, sql: &'static str) -> Self {
        Self { name, kind, sql, list: None }
    }

    pub(crate) const fn text(name: &'static str, sql: &'static str) -> Self {
        Self::new(name, Kind::Text, sql)
    }

    pub(crate) const fn number(name: &'static str, sql: &'static str) -> Self {
        Self::new(name, Kind::Number(Scale::One), sql)
    }

    pub(crate) const fn scaled(name: &'static str, scale: Scale, sql: &'static str) -> Self {
        Self::new(name, Kind::Number(scale), sql)
    }

    pub(crate) const fn amount(name: &'static str, sql: &'static str) -> Self {
        Self::new(name, Kind::Amount, sql)
    }

    pub(crate) const fn choice(name: &'static str, names: &'static [&'static str], sql: &'static str) -> Self {
        Self::new(name, Kind::Choice(names), sql)
    }

    pub(crate) const fn flag(name: &'static str, sql: &'static str) -> Self {
        Self::new(name, Kind::Flag, sql)
    }

    pub(crate) const fn time(name: &'static str, sql: &'static str) -> Self {
        Self::new(name, Kind::Time, sql)
    }

    /// The same field, of the entries of a list.
    pub(crate) const fn of_each(self, list: &'static str) -> Self {
        Self { list: Some(list), ..self }
    }

    /// What the field is compared with, for people.
    #[must_use]
    pub fn accepts(&self) -> String {
        match self.kind {
            Kind::Text => "text in double quotes".to_owned(),
            Kind::Number(_) => "a number".to_owned(),
            Kind::Amount => "an amount such as 129.50".to_owned(),
            Kind::Choice(names) => format!("one of {}", names.join(", ")),
            Kind::Flag => "true or false".to_owned(),
            Kind::Time => "a time in double quotes such as \"2026-12-24T08:00:00Z\"".to_owned(),
        }
    }
}
