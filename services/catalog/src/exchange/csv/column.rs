//! Columns: what a header may say.

use domain::field::{Field, Holds};
use domain::scale::Scale;

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
    /// Its unit against the canonical one, where the column has other units beside.
    pub(crate) scale: Scale,
    /// The same column in other units: name and unit.
    pub(crate) also: Vec<(String, Scale)>,
}

impl Column {
    /// Names under which the column may be given in another unit, such as `depth_ft`.
    pub fn also(&self) -> impl Iterator<Item = &str> {
        self.also.iter().map(|(name, _)| name.as_str())
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
                let (scale, also) = also(field.column, &field.holds);
                columns.push(Column {
                    name: field.column,
                    unit: field.range().map_or("", |accepted| accepted.unit),
                    required: field.required,
                    accepts: if shared { format!("{}: {accepts}", shape(field.path)) } else { accepts },
                    example: field.example,
                    scale,
                    also,
                });
            }
        }
    }
    columns
}

fn shape(path: &str) -> &str {
    path.split_once('.').map_or(path, |(shape, _)| shape)
}

/// The unit of a column, and the other units that it may be given in.
fn also<R>(column: &str, holds: &Holds<R>) -> (Scale, Vec<(String, Scale)>) {
    let with = |stem: &str, units: &[(&str, Scale)]| {
        units.iter().map(|(unit, scale)| (format!("{stem}_{unit}"), *scale)).collect::<Vec<_>>()
    };
    if let Holds::List { unit: "m", .. } = holds {
        return (Scale::One, with(column, &[("ft", Scale::Feet)]));
    }
    let Some((stem, unit)) = column.rsplit_once('_') else { return (Scale::One, Vec::new()) };
    match unit {
        "m" => {
            let mut also = with(stem, &[("cm", Scale::Centimetres), ("ft", Scale::Feet), ("in", Scale::Inches)]);
            if let Some(hole) = stem.strip_suffix("radius") {
                let diameters =
                    [("m", Scale::DiameterMetres), ("cm", Scale::DiameterCentimetres), ("in", Scale::DiameterInches)];
                also.extend(with(&format!("{hole}diameter"), &diameters));
            }
            (Scale::One, also)
        }
        "mm" => (Scale::Millimetres, with(stem, &[("in", Scale::Inches)])),
        "c" => {
            let degrees = [("degc", Scale::One), ("f", Scale::Fahrenheit), ("degf", Scale::Fahrenheit)];
            (Scale::One, with(stem, &degrees))
        }
        _ => (Scale::One, Vec::new()),
    }
}
