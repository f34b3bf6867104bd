//! Columns: what a header may say.

use domain::scale::Scale;

/// A column of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Name in the header, its unit at the end.
    pub name: &'static str,
    /// Unit in words; empty for text and plain numbers.
    pub unit: &'static str,
    /// Whether a file must have it.
    pub required: bool,
    /// What a cell may hold, and what an empty one means.
    pub accepts: &'static str,
    /// A cell as an example; the examples of all columns together make a record.
    pub example: &'static str,
    /// Whether its cells hold figures, rather than text or a choice.
    pub(crate) figure: bool,
    /// How its figures relate to the canonical unit.
    pub(crate) scale: Scale,
    /// The same column in other units: name and unit.
    pub(crate) also: &'static [(&'static str, Scale)],
}

impl Column {
    /// Names under which the column may be given in another unit, such as `depth_ft`.
    pub fn also(&self) -> impl Iterator<Item = &'static str> {
        self.also.iter().map(|(name, _)| *name)
    }

    /// A column of text or of a choice that may be left out.
    pub(crate) const fn text(name: &'static str, accepts: &'static str, example: &'static str) -> Self {
        Self { name, unit: "", required: false, accepts, example, figure: false, scale: Scale::One, also: &[] }
    }

    /// A column of figures that may be left out.
    pub(crate) const fn figure(
        name: &'static str,
        unit: &'static str,
        accepts: &'static str,
        example: &'static str,
    ) -> Self {
        Self { name, unit, required: false, accepts, example, figure: true, scale: Scale::One, also: &[] }
    }

    /// The same column, required.
    pub(crate) const fn required(self) -> Self {
        Self { required: true, ..self }
    }

    /// The same column, its figures in that unit.
    pub(crate) const fn scaled(self, scale: Scale) -> Self {
        Self { scale, ..self }
    }

    /// The same column, which may also be given in other units.
    pub(crate) const fn also_as(self, also: &'static [(&'static str, Scale)]) -> Self {
        Self { also, ..self }
    }
}
