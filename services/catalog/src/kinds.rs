//! The kinds of record of the catalog: what sets each apart, and what goes over all of them.

use domain::field::Holds;
use domain::record::{sensor, shelter, spot};
use domain::{
    BeamSurvey, Booking, GoalRecord, Record, SensorRecord, ShelterRecord, SpotRecord, TargetRecord, Unit, UnitCheck,
    survey,
};

use crate::exchange::csv::form::Form;
use crate::exchange::csv::{Column, CsvRecord, columns as csv_columns, template};
use crate::filter;
use crate::rows::{Entries, columns, list_table};

/// A record of the catalog. Another one is a table of fields in `domain`, its tables in a migration, and its lines in this file.
pub trait Resource: Record {
    /// Its lists, each a table of its own.
    #[doc(hidden)]
    const LISTS: &'static [&'static dyn Entries<Self>];

    /// What a filter may name.
    #[must_use]
    fn filters() -> Vec<filter::Field> {
        filter_fields::<Self>()
    }
}

/// Something that is done with every kind of record.
trait Each {
    fn kind<R: Resource + CsvRecord>(&mut self);
}

/// Every kind, in the order in which people meet them.
fn each(todo: &mut impl Each) {
    todo.kind::<SensorRecord>();
    todo.kind::<SpotRecord>();
    todo.kind::<ShelterRecord>();
    todo.kind::<TargetRecord>();
    todo.kind::<GoalRecord>();
    todo.kind::<Unit>();
    todo.kind::<Booking>();
    todo.kind::<UnitCheck>();
    todo.kind::<BeamSurvey>();
}

impl Resource for SensorRecord {
    // Points of patterns go into options, which therefore come first.
    const LISTS: &'static [&'static dyn Entries<Self>] = &[&sensor::OPTIONS, &sensor::PATTERNS, &sensor::DIAL];
}
impl Resource for SpotRecord {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[&spot::RELIEF];
}
impl Resource for ShelterRecord {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[&shelter::HOLES];
}
impl Resource for TargetRecord {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[];
}
impl Resource for GoalRecord {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[];
}
impl Resource for Unit {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[];
}
impl Resource for UnitCheck {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[];
}
impl Resource for Booking {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[];
}
impl Resource for BeamSurvey {
    const LISTS: &'static [&'static dyn Entries<Self>] = &[&survey::READINGS];
}

// One row of a file a record; sensors and surveys have several.
impl Form for SpotRecord {}
impl Form for ShelterRecord {}
impl Form for TargetRecord {}
impl Form for GoalRecord {}
impl Form for Unit {}
impl Form for UnitCheck {}
impl Form for Booking {}

/// Everything that a filter of a record may name.
fn filter_fields<R: Resource>() -> Vec<filter::Field> {
    let mut found = filter::fields(R::FIELDS);
    for list in R::LISTS {
        let place = (list_table(R::COLLECTION, *list), R::COLLECTION);
        found.extend(list.filters().into_iter().map(|field| filter::Field {
            name: format!("{}.{}", list.path(), field.name),
            list: Some(place.clone()),
            ..field
        }));
    }
    let time = |name: &str| filter::Field {
        name: name.to_owned(),
        kind: filter::Kind::Time,
        sql: name.to_owned(),
        list: None,
    };
    found.extend([time("create_time"), time("update_time")]);
    found
}

/// The tables of the records with their columns, as the tables of fields have them.
#[must_use]
pub fn tables() -> Vec<(String, Vec<String>)> {
    let mut all = Tables(Vec::new());
    each(&mut all);
    all.0
}

struct Tables(Vec<(String, Vec<String>)>);

impl Each for Tables {
    fn kind<R: Resource + CsvRecord>(&mut self) {
        let with = |mut columns: Vec<String>, more: &[&str]| {
            columns.extend(more.iter().map(|name| (*name).to_owned()));
            columns
        };
        self.0.push((R::COLLECTION.to_owned(), with(columns(R::FIELDS), &["etag", "create_time", "update_time"])));
        for list in R::LISTS {
            self.0.push((list_table(R::COLLECTION, *list), with(list.columns(), &["owner", "place"])));
        }
    }
}

/// Collections whose records may name records of this one, with the columns that do.
pub(crate) fn references(to: &str) -> Vec<(&'static str, Vec<&'static str>)> {
    let mut all = References { to, found: Vec::new() };
    each(&mut all);
    all.found
}

struct References<'a> {
    to: &'a str,
    found: Vec<(&'static str, Vec<&'static str>)>,
}

impl Each for References<'_> {
    fn kind<R: Resource + CsvRecord>(&mut self) {
        let names = |holds: &Holds<R>| matches!(holds, Holds::Reference { collection, .. } if *collection == self.to);
        let columns: Vec<_> = R::FIELDS.iter().filter(|field| names(&field.holds)).map(|field| field.column).collect();
        if !columns.is_empty() {
            self.found.push((R::COLLECTION, columns));
        }
    }
}

/// The columns of the files of a collection, and a file of it to fill in; none for a collection of something else.
#[must_use]
pub fn files_of(collection: &str) -> Option<(Vec<Column>, String)> {
    let mut wanted = FilesOf { collection, found: None };
    each(&mut wanted);
    wanted.found
}

struct FilesOf<'a> {
    collection: &'a str,
    found: Option<(Vec<Column>, String)>,
}

impl Each for FilesOf<'_> {
    fn kind<R: Resource + CsvRecord>(&mut self) {
        if R::COLLECTION == self.collection {
            self.found = Some((csv_columns::<R>(), template::<R>()));
        }
    }
}
