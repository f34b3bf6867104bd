//! How a field of a record is declared: once, in a plain table beside the record. Checks, columns of files and of the store,
//! filters, spreadsheets and what tests make up all come from these tables.
//!
//! A table is a constant list of [`Field`]s. What a field holds is said by [`Holds`], with a function to get it out of a record and
//! one to put it in. Figures are in the unit that the field's name ends with.

use jiff::civil::Date;

use crate::check::Faults;
use crate::{Fault, Id};

pub use crate::value::{
    Accepted, Figure, Given, MAX_NAME_CHARS, MAX_NOTES_CHARS, Value, above, name_of, named, names, within,
};

/// One field of a record of type `R`.
pub struct Field<R: 'static> {
    /// Path in the public API, such as `canopy.height_m`, its unit at the end.
    pub path: &'static str,
    /// Column in files and in the store, such as `canopy_height_m`. Fields of which a record has one at most may share a column.
    pub column: &'static str,
    /// What it holds.
    pub holds: Holds<R>,
    /// Whether every record has it.
    pub required: bool,
    /// What holds where it is left out, such as `6 dB, assumed`; empty where nothing is to be said.
    pub left_out: &'static str,
    /// What is accepted beside what [`Holds`] says; empty where nothing is.
    pub accepts: &'static str,
    /// What to do about a fault.
    pub advice: &'static str,
    /// A cell as an example; the examples of all fields together make a record.
    pub example: &'static str,
    /// Other names of the column in files, as people write them in lists of their own.
    pub words: &'static [&'static str],
    /// Other words for its choices, each with the choice it stands for; [`NOT_GIVEN`] for what says that nothing is known.
    pub means: &'static [(&'static str, &'static str)],
    /// Column whose cells and header may say the choice behind a figure, such as `400 W peak`; empty where none does.
    pub beside: &'static str,
}

/// The choice that stands for nothing given.
pub const NOT_GIVEN: &str = "";

/// What a field holds, and how to get at it.
#[allow(missing_docs, reason = "`get` takes out of a record, `set` puts in; the rest is said by its type")]
pub enum Holds<R: 'static> {
    /// The record's own id.
    Id { get: fn(&R) -> &Id, set: fn(&mut R, Id) },
    /// One line of text, up to so many characters.
    Text { most: usize, get: fn(&R) -> &str, set: fn(&mut R, String) },
    /// Several lines of text.
    Notes { get: fn(&R) -> &str, set: fn(&mut R, String) },
    /// The id of another record, or of an option; it stands behind its collection in the public API, where there is one.
    Reference { collection: &'static str, get: fn(&R) -> Option<&Id>, set: fn(&mut R, Id) },
    /// A figure with its source.
    Figure { accepted: Accepted, get: fn(&R) -> Figure, set: fn(&mut R, Figure) },
    /// A number.
    Number { accepted: Accepted, get: fn(&R) -> Option<f64>, set: fn(&mut R, f64) },
    /// A whole number.
    Whole { accepted: Accepted, get: fn(&R) -> Option<u32>, set: fn(&mut R, u32) },
    /// One of some names.
    Choice { names: &'static [&'static str], get: fn(&R) -> Option<&'static str>, set: fn(&mut R, &str) },
    /// True or false.
    Flag { get: fn(&R) -> bool, set: fn(&mut R, bool) },
    /// A day.
    Day { get: fn(&R) -> Option<Date>, set: fn(&mut R, Date) },
    /// An amount of money without its currency: whole units and billionths.
    Amount { get: fn(&R) -> Option<(i64, i32)>, set: fn(&mut R, (i64, i32)) },
    /// A list that has one cell in files, in a notation of its own; a store keeps it as a [`List`]. Its unit is that of its lengths.
    List { unit: &'static str, write: fn(&R) -> String, read: crate::notation::ReadInto<R> },
}

// By hand, as a derived one would ask the same of the record.
impl<R> Clone for Holds<R> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<R> Copy for Holds<R> {}
impl<R> Clone for Field<R> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<R> Copy for Field<R> {}

impl<R> std::fmt::Debug for Field<R> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "field {}", self.path)
    }
}

impl<R> Field<R> {
    /// A field that may be left out, with a column of its own name.
    #[must_use]
    pub const fn new(path: &'static str, holds: Holds<R>) -> Self {
        Self {
            path,
            column: path,
            holds,
            required: false,
            left_out: "",
            accepts: "",
            advice: "",
            example: "",
            words: &[],
            means: &[],
            beside: "",
        }
    }

    /// The record's id.
    #[must_use]
    pub const fn id(get: fn(&R) -> &Id, set: fn(&mut R, Id)) -> Self {
        Self::new("id", Holds::Id { get, set }).required()
    }

    /// The name for people.
    #[must_use]
    pub const fn name(get: fn(&R) -> &str, set: fn(&mut R, String)) -> Self {
        Self::text("display_name", MAX_NAME_CHARS, get, set)
            .required()
            .advice("give a name that people know it by")
            .words(&["name", "title", "article", "product", "item", "model", "description", "bezeichnung", "artikel"])
    }

    /// One line of text.
    #[must_use]
    pub const fn text(path: &'static str, most: usize, get: fn(&R) -> &str, set: fn(&mut R, String)) -> Self {
        Self::new(path, Holds::Text { most, get, set })
    }

    /// Free notes.
    #[must_use]
    pub const fn notes(get: fn(&R) -> &str, set: fn(&mut R, String)) -> Self {
        Self::new("notes", Holds::Notes { get, set }).example("Invented example.").words(&[
            "note",
            "remark",
            "remarks",
            "comment",
            "comments",
            "bemerkung",
        ])
    }

    /// The id of another record.
    #[must_use]
    pub const fn reference(
        path: &'static str,
        collection: &'static str,
        get: fn(&R) -> Option<&Id>,
        set: fn(&mut R, Id),
    ) -> Self {
        Self::new(path, Holds::Reference { collection, get, set })
    }

    /// A figure with its source.
    #[must_use]
    pub const fn figure(
        path: &'static str,
        accepted: Accepted,
        get: fn(&R) -> Figure,
        set: fn(&mut R, Figure),
    ) -> Self {
        Self::new(path, Holds::Figure { accepted, get, set })
    }

    /// A number.
    #[must_use]
    pub const fn number(
        path: &'static str,
        accepted: Accepted,
        get: fn(&R) -> Option<f64>,
        set: fn(&mut R, f64),
    ) -> Self {
        Self::new(path, Holds::Number { accepted, get, set })
    }

    /// A whole number.
    #[must_use]
    pub const fn whole(
        path: &'static str,
        accepted: Accepted,
        get: fn(&R) -> Option<u32>,
        set: fn(&mut R, u32),
    ) -> Self {
        Self::new(path, Holds::Whole { accepted, get, set })
    }

    /// One of some names.
    #[must_use]
    pub const fn choice(
        path: &'static str,
        names: &'static [&'static str],
        get: fn(&R) -> Option<&'static str>,
        set: fn(&mut R, &str),
    ) -> Self {
        Self::new(path, Holds::Choice { names, get, set })
    }

    /// A day.
    #[must_use]
    pub const fn day(path: &'static str, get: fn(&R) -> Option<Date>, set: fn(&mut R, Date)) -> Self {
        Self::new(path, Holds::Day { get, set }).example("2027-01-15")
    }

    /// The same field under another name everywhere.
    #[must_use]
    pub const fn named(self, name: &'static str) -> Self {
        Self { path: name, column: name, ..self }
    }

    /// The same field under another name in files and in the store.
    #[must_use]
    pub const fn column(self, column: &'static str) -> Self {
        Self { column, ..self }
    }

    /// The same field, which every record has.
    #[must_use]
    pub const fn required(self) -> Self {
        Self { required: true, ..self }
    }

    /// The same field with what holds where it is left out.
    #[must_use]
    pub const fn left_out(self, left_out: &'static str) -> Self {
        Self { left_out, ..self }
    }

    /// The same field with what else is accepted.
    #[must_use]
    pub const fn accepts(self, accepts: &'static str) -> Self {
        Self { accepts, ..self }
    }

    /// The same field with what to do about a fault.
    #[must_use]
    pub const fn advice(self, advice: &'static str) -> Self {
        Self { advice, ..self }
    }

    /// The same field with an example.
    #[must_use]
    pub const fn example(self, example: &'static str) -> Self {
        Self { example, ..self }
    }

    /// The same field with other names of its column in files.
    #[must_use]
    pub const fn words(self, words: &'static [&'static str]) -> Self {
        Self { words, ..self }
    }

    /// The same field with other words for its choices.
    #[must_use]
    pub const fn means(self, means: &'static [(&'static str, &'static str)]) -> Self {
        Self { means, ..self }
    }

    /// The same field with the column that may say its choice.
    #[must_use]
    pub const fn beside(self, beside: &'static str) -> Self {
        Self { beside, ..self }
    }

    /// What is accepted, in words.
    #[must_use]
    pub fn accepted(&self) -> String {
        let mut said = match &self.holds {
            Holds::Id { .. } => "1 to 63 lower-case letters, digits and hyphens, a letter first".to_owned(),
            Holds::Text { most, .. } if self.required => format!("1 to {most} characters"),
            Holds::Text { most, .. } => format!("up to {most} characters"),
            Holds::Notes { .. } => format!("up to {MAX_NOTES_CHARS} characters"),
            Holds::Reference { collection: "", .. } => "id of an option".to_owned(),
            Holds::Reference { collection, .. } => format!("id in {collection}"),
            Holds::Figure { accepted, .. } | Holds::Number { accepted, .. } => accepted.to_string(),
            Holds::Whole { accepted, .. } => format!("a whole number, {accepted}"),
            Holds::Choice { names, .. } => format!("one of {}", names.join(", ")),
            Holds::Flag { .. } => "true or false".to_owned(),
            Holds::Day { .. } => "year, month and day such as 2027-01-15".to_owned(),
            Holds::Amount { .. } => "an amount, 0 or more".to_owned(),
            Holds::List { .. } => String::new(),
        };
        if !self.accepts.is_empty() {
            if !said.is_empty() {
                said.push_str("; ");
            }
            said.push_str(self.accepts);
        }
        if !self.left_out.is_empty() {
            said.push_str("; empty: ");
            said.push_str(self.left_out);
        }
        said
    }

    /// What a number may be; none for what is no number.
    #[must_use]
    pub const fn range(&self) -> Option<Accepted> {
        match self.holds {
            Holds::Figure { accepted, .. } | Holds::Number { accepted, .. } | Holds::Whole { accepted, .. } => {
                Some(accepted)
            }
            Holds::Id { .. }
            | Holds::Text { .. }
            | Holds::Notes { .. }
            | Holds::Reference { .. }
            | Holds::Choice { .. }
            | Holds::Flag { .. }
            | Holds::Day { .. }
            | Holds::Amount { .. }
            | Holds::List { .. } => None,
        }
    }

    /// Adds the faults of this field of a record.
    pub(crate) fn check(&self, record: &R, faults: &mut Faults) {
        match &self.holds {
            Holds::Text { most, get, .. } if self.required => faults.name(self.path, get(record), *most, self.advice),
            Holds::Text { most, get, .. } => faults.short_text(self.path, get(record), *most),
            Holds::Notes { get, .. } => faults.notes(get(record)),
            Holds::Figure { accepted, get, .. } => match get(record) {
                Some(given) => {
                    faults.number(self.path, given.value, *accepted, self.advice);
                    if let Some(spread) = given.spread.filter(|spread| !(spread.is_finite() && *spread >= 0.0)) {
                        faults.spread(self.path, spread);
                    }
                }
                None => self.missing(faults),
            },
            Holds::Number { accepted, get, .. } => match get(record) {
                Some(value) => drop(faults.number(self.path, value, *accepted, self.advice)),
                None => self.missing(faults),
            },
            Holds::Whole { accepted, get, .. } => match get(record) {
                Some(value) => drop(faults.number(self.path, f64::from(value), *accepted, self.advice)),
                None => self.missing(faults),
            },
            Holds::Choice { names, get, .. } => {
                if self.required && get(record).is_none() {
                    faults.missing(self.path, &format!("accepted: {}", names.join(", ")));
                }
            }
            // These have a form of their own, which an edge reads.
            Holds::Id { .. }
            | Holds::Reference { .. }
            | Holds::Flag { .. }
            | Holds::Day { .. }
            | Holds::Amount { .. }
            | Holds::List { .. } => {}
        }
    }

    fn missing(&self, faults: &mut Faults) {
        if self.required {
            faults.missing(self.path, self.advice);
        }
    }
}

impl Faults {
    /// The faults of a record's fields, each by itself.
    pub(crate) fn of<R>(record: &R, fields: &[Field<R>]) -> Self {
        let mut faults = Self::default();
        for field in fields {
            field.check(record, &mut faults);
        }
        faults
    }

    /// The faults of each entry of a list; names of fields are put together only where one is at fault. `own` adds what the
    /// fields of an entry do to each other.
    pub(crate) fn each<E>(&mut self, list: &str, entries: &[E], fields: &[Field<E>], own: impl Fn(&E, &mut Self)) {
        for (index, entry) in entries.iter().enumerate() {
            let mut inner = Self::of(entry, fields);
            own(entry, &mut inner);
            if !inner.found.is_empty() {
                let at = format!("{list}[{index}]");
                self.found.extend(inner.found.into_vec().into_iter().map(|fault| fault.under(&at)));
            }
        }
    }
}

/// A list inside a record, of which a store keeps each entry as a row.
pub struct List<R: 'static, E: 'static> {
    /// Path in the public API.
    pub path: &'static str,
    /// The fields of an entry.
    pub fields: &'static [Field<E>],
    /// The entries.
    pub get: fn(&R) -> Vec<E>,
    /// Puts entries in.
    pub set: fn(&mut R, Vec<E>),
    /// An entry in which nothing is given.
    pub blank: fn() -> E,
}

/// A record of the catalog.
pub trait Record: Sized + Clone + Send + Sync + 'static {
    /// What it is computed with.
    type Known: Clone + Send + Sync + 'static;
    /// Collection in resource names.
    const COLLECTION: &'static str;
    /// Its fields, in the order of the columns of its files.
    const FIELDS: &'static [Field<Self>];
    /// A record in which nothing is given.
    fn blank(id: Id) -> Self;
    /// Its id.
    fn id(&self) -> &Id;
    /// The record as it is computed with: what is not given takes its default.
    ///
    /// # Errors
    /// It lacks a field that its check asks for.
    fn known(&self) -> Result<Self::Known, Fault>;
    /// Every fault of it, with field paths of the public API; empty when it is sound.
    fn check(&self) -> Vec<Fault>;
}
