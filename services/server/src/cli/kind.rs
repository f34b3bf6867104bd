//! Kinds of record, by the names that the protocol gives them.

use std::sync::LazyLock;

use clap::ValueEnum;
use clap::builder::PossibleValue;
use heck::{ToKebabCase as _, ToLowerCamelCase as _};
use proto::v1::RecordKind;

/// A kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Kind(RecordKind);

/// Every kind with its name on the command line and its collection: `unit-checks` are in `unitChecks`.
static NAMES: LazyLock<Vec<(Kind, String, String)>> = LazyLock::new(|| {
    // Numbered from 1 without a gap.
    let kinds = (1..).map_while(|number| RecordKind::try_from(number).ok());
    let name = |kind: RecordKind| kind.as_str_name().trim_start_matches("RECORD_KIND_");
    kinds.map(|kind| (Kind(kind), name(kind).to_kebab_case(), name(kind).to_lower_camel_case())).collect()
});
static ALL: LazyLock<Vec<Kind>> = LazyLock::new(|| NAMES.iter().map(|(kind, ..)| *kind).collect());

impl Kind {
    pub(crate) const SENSORS: Self = Self(RecordKind::Sensors);
    pub(crate) const SPOTS: Self = Self(RecordKind::Spots);

    /// Every kind.
    pub(crate) fn all() -> &'static [Self] {
        &ALL
    }

    /// The kind of a collection.
    pub(crate) fn of_collection(collection: &str) -> Option<Self> {
        NAMES.iter().find(|(_, _, known)| known == collection).map(|(kind, ..)| *kind)
    }

    /// As the protocol numbers it.
    pub(crate) const fn number(self) -> RecordKind {
        self.0
    }

    /// Its name on the command line.
    pub(crate) fn name(self) -> &'static str {
        NAMES.iter().find(|(kind, ..)| *kind == self).map_or("", |(_, name, _)| name)
    }

    /// Its collection in names of records.
    pub(crate) fn collection(self) -> &'static str {
        NAMES.iter().find(|(kind, ..)| *kind == self).map_or("", |(_, _, collection)| collection)
    }
}

impl From<RecordKind> for Kind {
    fn from(number: RecordKind) -> Self {
        Self(number)
    }
}

impl ValueEnum for Kind {
    fn value_variants<'a>() -> &'a [Self] {
        Self::all()
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.name()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_collections_are_those_of_the_records() {
        let known: Vec<_> = Kind::all().iter().map(|kind| (kind.name(), kind.collection())).collect();
        assert!(known.contains(&("spots", "spots")) && known.contains(&("unit-checks", "unitChecks")), "{known:?}");
        for (name, collection) in known {
            assert!(catalog::files_of(collection).is_some(), "{name}: no records of the collection {collection}");
        }
    }
}
