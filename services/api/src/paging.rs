//! Page sizes and opaque page tokens.
//!
//! A token is base64 of a checksum and the position after which the next page begins. The checksum covers the kind of
//! the list, its filter and the position, so that a token of another list, another filter or a damaged one is refused.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::FaultReason;

use crate::error::Error;

/// Page size when none is given.
const DEFAULT_PAGE: u32 = 100;
/// Largest page; larger ones are cut to it.
pub(crate) const MAX_PAGE: u32 = 1_000;
/// Bytes of a token's checksum.
const CHECKSUM: usize = 12;

/// What a token belongs to.
#[derive(Debug, Clone, Copy)]
pub struct Listing<'a> {
    /// Name of the list, such as `sensors`.
    pub kind: &'static str,
    /// Everything that selects: parent, filter and the like.
    pub selection: &'a [&'a str],
}

impl Listing<'_> {
    fn checksum(&self, position: &str) -> [u8; CHECKSUM] {
        let mut hasher = blake3::Hasher::new_derive_key("lakebeam page token 1");
        for part in std::iter::once(&self.kind).chain(self.selection).chain([&position]) {
            // Lengths keep ("ab", "c") and ("a", "bc") apart.
            hasher.update(part.len().to_string().as_bytes());
            hasher.update(b":");
            hasher.update(part.as_bytes());
        }
        let mut short = [0; CHECKSUM];
        hasher.finalize_xof().fill(&mut short);
        short
    }

    /// The token of the page that begins after `position`; empty when there is no further page.
    #[must_use]
    pub fn token(&self, position: Option<&str>) -> String {
        position.map_or_else(String::new, |position| {
            let mut bytes = self.checksum(position).to_vec();
            bytes.extend_from_slice(position.as_bytes());
            URL_SAFE_NO_PAD.encode(bytes)
        })
    }

    /// The position in a token; none for an empty one.
    ///
    /// # Errors
    /// The token is not one of this listing.
    pub fn position(&self, token: &str) -> Result<Option<String>, Error> {
        if token.is_empty() {
            return Ok(None);
        }
        let bytes = URL_SAFE_NO_PAD.decode(token).map_err(|_| Error::BadPageToken)?;
        let (checksum, position) = bytes.split_at_checked(CHECKSUM).ok_or(Error::BadPageToken)?;
        let position = std::str::from_utf8(position).map_err(|_| Error::BadPageToken)?;
        if self.checksum(position) == checksum { Ok(Some(position.to_owned())) } else { Err(Error::BadPageToken) }
    }
}

/// How many entries a page holds: 0 means 100, above 1,000 is cut to 1,000, negative is refused.
pub(crate) fn page_size(given: i32) -> Result<u32, Error> {
    match u32::try_from(given) {
        Ok(0) => Ok(DEFAULT_PAGE),
        Ok(size) => Ok(size.min(MAX_PAGE)),
        Err(_) => Err(Error::field(
            "page_size",
            FaultReason::OutOfRange,
            format!("page_size is {given}; accepted: 0 for {DEFAULT_PAGE}, or 1 to {MAX_PAGE}; leave it out"),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn page_sizes_follow_the_rules() {
        for (given, accepted) in [(0, 100), (1, 1), (1_000, 1_000), (1_001, 1_000), (i32::MAX, 1_000)] {
            assert_eq!(page_size(given).unwrap(), accepted);
        }
        assert!(page_size(-1).is_err());
    }

    #[test]
    fn no_further_page_has_no_token() {
        let list = Listing { kind: "spots", selection: &[""] };
        assert_eq!(list.token(None), "");
        assert_eq!(list.position("").unwrap(), None);
    }

    proptest! {
        #[test]
        fn tokens_come_back_only_to_their_own_list(filter in ".{0,30}", other in ".{0,30}", position in ".{0,40}") {
            let own = [filter.as_str()];
            let list = Listing { kind: "spots", selection: &own };
            let token = list.token(Some(&position));
            prop_assert_eq!(list.position(&token).unwrap(), Some(position));
            let foreign_kind = Listing { kind: "sensors", selection: &own };
            prop_assert!(foreign_kind.position(&token).is_err());
            if other != filter {
                let foreign = [other.as_str()];
                let foreign_filter = Listing { kind: "spots", selection: &foreign };
                prop_assert!(foreign_filter.position(&token).is_err());
            }
        }

        #[test]
        fn altered_tokens_are_refused(at in 0_usize..40, text in "[A-Za-z0-9_-]{0,60}") {
            let list = Listing { kind: "spots", selection: &["depth_m > 6"] };
            let token = list.token(Some("north-bar"));
            let mut altered = token.clone().into_bytes();
            let at = at % altered.len();
            altered[at] = if altered[at] == b'A' { b'B' } else { b'A' };
            prop_assert!(list.position(&String::from_utf8(altered).unwrap()).is_err());
            if text != token && !text.is_empty() {
                prop_assert!(list.position(&text).is_err());
            }
        }
    }
}
