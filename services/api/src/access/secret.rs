//! The secret of a token, as its holder keeps it.

use std::fmt;

/// What every token begins with, so that one that went astray is recognised.
const PREFIX: &str = "lakebeam";
const KEY_BYTES: usize = 8;
const SECRET_BYTES: usize = 32;

/// A token: a public key, by which it is found, and a secret.
///
/// Only a hash of the secret is stored, of a fast function: a slow one makes up for passwords that can be guessed, and 256 random
/// bits cannot. A fast one costs a call next to nothing.
#[derive(Clone)]
pub struct Secret {
    key: String,
    secret: [u8; SECRET_BYTES],
}

impl Secret {
    /// Random bytes that a token is made of.
    pub const RANDOM_BYTES: usize = KEY_BYTES + SECRET_BYTES;

    /// A token of bytes that nobody can guess.
    #[must_use]
    pub fn new(random: [u8; Self::RANDOM_BYTES]) -> Self {
        let mut secret = [0; SECRET_BYTES];
        let (key, rest) = random.split_at(KEY_BYTES);
        secret.copy_from_slice(rest);
        Self { key: hexadecimal(key), secret }
    }

    /// Reads what [`Self::reveal`] wrote.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (key, secret) = text.strip_prefix(PREFIX)?.strip_prefix('_')?.split_once('_')?;
        let fine = key.len() == 2 * KEY_BYTES && key.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        let secret = blake3::Hash::from_hex(secret).ok()?;
        fine.then(|| Self { key: key.to_owned(), secret: *secret.as_bytes() })
    }

    /// The token in full: for its holder's eyes only.
    #[must_use]
    pub fn reveal(&self) -> String {
        format!("{PREFIX}_{}_{}", self.key, hexadecimal(&self.secret))
    }

    /// By which its row is found; no secret.
    #[must_use]
    pub fn key(&self) -> &str {
        &self.key
    }

    /// What is stored of the secret.
    #[must_use]
    pub fn hash(&self) -> [u8; 32] {
        *blake3::hash(&self.secret).as_bytes()
    }

    /// Whether that is the hash of the secret. The comparison takes the same time wherever the two differ.
    #[must_use]
    pub fn matches(&self, hash: &[u8; 32]) -> bool {
        // Hashes of this library compare in constant time.
        blake3::hash(&self.secret) == blake3::Hash::from_bytes(*hash)
    }
}

/// Never shows the secret.
impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Secret").field("key", &self.key).finish_non_exhaustive()
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    use fmt::Write as _;
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut text, byte| {
        // Writing to a string does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_revealed_reads_back(random in prop::array::uniform32(any::<u8>()), key in prop::array::uniform8(any::<u8>())) {
            let mut all = [0; Secret::RANDOM_BYTES];
            all[..8].copy_from_slice(&key);
            all[8..].copy_from_slice(&random);
            let secret = Secret::new(all);
            let read = Secret::parse(&secret.reveal()).unwrap();
            prop_assert_eq!(read.key(), secret.key());
            prop_assert!(read.matches(&secret.hash()));
        }

        #[test]
        fn one_bit_more_or_less_is_another_token(at in 0_usize..256) {
            let secret = Secret::new([7; Secret::RANDOM_BYTES]);
            let mut other = [7; Secret::RANDOM_BYTES];
            other[8 + at / 8] ^= 1 << (at % 8);
            prop_assert!(!Secret::new(other).matches(&secret.hash()));
        }
    }

    #[test]
    fn anything_else_is_no_token() {
        let good = Secret::new([7; Secret::RANDOM_BYTES]).reveal();
        for bad in ["", "lakebeam", "lakebeam_", "lakebeam__", &good[1..], &good[..good.len() - 1], &format!("{good}0")]
        {
            assert!(Secret::parse(bad).is_none(), "{bad}");
        }
        assert!(Secret::parse(&good.to_uppercase()).is_none());
    }

    #[test]
    fn what_is_written_for_debugging_hides_the_secret() {
        let secret = Secret::new([0xab; Secret::RANDOM_BYTES]);
        assert!(!format!("{secret:?}").contains("abababababababababab"));
    }
}
