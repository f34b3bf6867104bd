//! Columns: what a header may say.

use domain::field::{Field, Holds};
use domain::notation::without_kind;
use domain::scale::{Scale, scale_of, scale_of_word};

/// A column of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name in the header, its unit at the end.
    pub name: &'static str,
    /// Unit in words; empty for text and plain numbers.
    pub unit: &'static str,
    /// Whether a file must have it.
    pub required: bool,
    /// What a cell may hold, and what an empty one means.
    pub accepts: String,
    /// A cell as an example; the examples of all columns together make a record.
    pub example: &'static str,
    /// Unit of its figures, of a list of its lengths; empty for text and plain numbers.
    pub(crate) measure: &'static str,
    /// The same column in other units: name and unit.
    pub(crate) also: Vec<(String, Scale)>,
    /// Other names of it, without a unit.
    pub(crate) words: &'static [&'static str],
    /// Other words for its choices.
    pub(crate) means: &'static [(&'static str, &'static str)],
}

/// How figures are written in a column of a file: in a unit, or each cell with its own.
pub(crate) type InUnit = Option<Scale>;

impl Column {
    /// Names under which the column may be given in another unit, such as `depth_ft`.
    pub fn also(&self) -> impl Iterator<Item = &str> {
        self.also.iter().map(|(name, _)| name.as_str())
    }

    /// Common names of it, such as `beam_angle`; a unit may stand behind them.
    #[must_use]
    pub const fn words(&self) -> &'static [&'static str] {
        self.words
    }

    /// Whether a name in a header is of this column, and the unit that it says.
    pub(crate) fn is_named(&self, name: &str) -> Option<InUnit> {
        if self.name == name {
            return Some(Some(scale_of(self.measure)));
        }
        if let Some((_, scale)) = self.also.iter().find(|(other, _)| other == name) {
            return Some(Some(*scale));
        }
        self.words.iter().find_map(|word| {
            let unit = name.strip_prefix(word)?;
            if unit.is_empty() {
                // A length without a unit may be in feet as well as in metres.
                return Some((self.measure != "m").then(|| scale_of(self.measure)));
            }
            let unit = without_kind(self.measure, unit.strip_prefix('_')?);
            if unit.is_empty() {
                return Some(Some(scale_of(self.measure)));
            }
            Some(Some(scale_of_word(self.measure, &unit)?))
        })
    }
}

/// The columns of some fields.
pub(crate) fn columns<R>(fields: &[Field<R>]) -> Vec<Column> {
    let mut columns: Vec<Column> = Vec::with_capacity(fields.len());
    for field in fields {
        let accepts = field.accepted();
        match columns.last_mut() {
            // Fields of which a record has one at most share a column.
            Some(shared) if shared.name == field.column => {
                shared.accepts = format!("{}; {}: {accepts}", shared.accepts, shape(field.path));
                if shared.example.is_empty() {
                    shared.example = field.example;
                }
            }
            _ => {
                let shared = fields.iter().filter(|other| other.column == field.column).count() > 1;
                columns.push(Column {
                    name: field.column,
                    unit: field.range().map_or("", |accepted| accepted.unit),
                    required: field.required,
                    accepts: if shared { format!("{}: {accepts}", shape(field.path)) } else { accepts },
                    example: field.example,
                    measure: match field.holds {
                        Holds::List { unit, .. } => unit,
                        _ => field.range().map_or("", |accepted| accepted.unit),
                    },
                    also: also(field.column, &field.holds),
                    words: field.words,
                    means: field.means,
                });
            }
        }
    }
    columns
}

fn shape(path: &str) -> &str {
    path.split_once('.').map_or(path, |(shape, _)| shape)
}

/// The same column in the other units that it may be given in.
fn also<R>(column: &str, holds: &Holds<R>) -> Vec<(String, Scale)> {
    let with = |stem: &str, units: &[(&str, Scale)]| {
        units.iter().map(|(unit, scale)| (format!("{stem}_{unit}"), *scale)).collect::<Vec<_>>()
    };
    if let Holds::List { unit: "m", .. } = holds {
        return with(column, &[("ft", Scale::Feet)]);
    }
    let Some((stem, unit)) = column.rsplit_once('_') else { return Vec::new() };
    match unit {
        "m" => {
            let mut also = with(stem, &[("cm", Scale::Centimetres), ("ft", Scale::Feet), ("in", Scale::Inches)]);
            if let Some(hole) = stem.strip_suffix("radius") {
                let diameters =
                    [("m", Scale::DiameterMetres), ("cm", Scale::DiameterCentimetres), ("in", Scale::DiameterInches)];
                also.extend(with(&format!("{hole}diameter"), &diameters));
            }
            also
        }
        "mm" => with(stem, &[("in", Scale::Inches)]),
        "c" => with(stem, &[("degc", Scale::One), ("f", Scale::Fahrenheit), ("degf", Scale::Fahrenheit)]),
        _ => Vec::new(),
    }
}
