//! Ids of runs, reports and derived documents: short enough to read aloud, and found by any beginning that only one has.

use domain::{FaultReason, Id};

use crate::context::Shared;
use crate::error::Error;
use crate::names;

/// The id that is always the newest. No made id is like it: the alphabet has no vowels, so that it spells no word either.
const LATEST: &str = "latest";
/// Letters and digits that are not taken for one another, on paper or by ear.
const ALPHABET: &[u8] = b"bcdfghjkmnpqrstvwxz23456789";
/// Characters after the letter of the kind, from the fewest.
const LENGTHS: std::ops::RangeInclusive<usize> = 4..=12;

/// A new id: the letter of its kind (ids begin with a letter, AIP-122) and a few characters, more where they are taken.
pub(crate) async fn fresh(shared: &Shared, collection: &'static str, kind: char) -> Result<String, Error> {
    let seed = blake3::hash(shared.context.ids.next().as_bytes());
    for length in LENGTHS {
        let id = spelled(kind, length, seed.as_bytes());
        if shared.store().ids_beginning(collection, &id).await?.is_empty() {
            return Ok(id);
        }
    }
    Err(Error::internal(format!("no id is left for {collection}")))
}

fn spelled(kind: char, length: usize, seed: &[u8]) -> String {
    let letter = |byte: &u8| ALPHABET.get(usize::from(*byte) % ALPHABET.len()).copied().map_or('b', char::from);
    std::iter::once(kind).chain(seed.iter().take(length).map(letter)).collect()
}

/// The whole id of `{collection}/{id}`, where the id may be cut to a beginning that only one has, or be `latest`.
pub(crate) async fn read(shared: &Shared, field: &str, collection: &'static str, name: &str) -> Result<Id, Error> {
    let id = names::parse(field, collection, name)?;
    whole(shared, field, collection, &id).await
}

/// The whole id of one that may be cut, or be `latest`. One that none begins with is returned as it is, not to be found.
pub(crate) async fn whole(shared: &Shared, field: &str, collection: &'static str, id: &Id) -> Result<Id, Error> {
    let found = if id.as_str() == LATEST {
        shared.store().latest_id(collection).await?.into_iter().collect()
    } else {
        shared.store().ids_beginning(collection, id.as_str()).await?
    };
    match found.as_slice() {
        [] => Ok(id.clone()),
        [first, rest @ ..] if rest.is_empty() || first == id.as_str() => Id::parse(first).map_err(Error::internal),
        several => {
            let several: Vec<_> = several.iter().map(|id| format!("{collection}/{id}")).collect();
            let message = format!(
                "{field} is '{collection}/{id}', which several begin with ({}); accepted: enough of the id for one; give more of it",
                several.join(", ")
            );
            Err(Error::field(field, FaultReason::Contradiction, message))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_short_spell_nothing_and_are_well_formed() {
        let id = spelled('r', 4, &[0, 1, 255, 26]);
        assert_eq!((id.len(), id.chars().next()), (5, Some('r')));
        assert!(Id::parse(&id).is_ok());
        assert!(ALPHABET.iter().all(|letter| !b"aeiouyl01".contains(letter)));
    }
}
