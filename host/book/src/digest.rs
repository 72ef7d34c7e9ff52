//! SHA-256 digests: of what is stored, and of an entry together with the one before it.
//!
//! Input: bytes or fields; output: a [`Digest`]. Each field is hashed with its length in front, so that moving a letter
//! from one field to the next changes the digest. SHA-256: FIPS 180-4, computed by the `sha2` crate.

use std::fmt;
use std::str::FromStr;

use sha2::{Digest as _, Sha256};

/// A SHA-256 digest, written as 64 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Digest(pub(super) [u8; 32]);

/// The text is not 64 hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a digest is written as 64 hexadecimal digits")]
pub struct NotADigest;

impl Digest {
    /// What the first entry names as the digest before it.
    pub const BEGINNING: Self = Self([0; 32]);

    /// Returns the digest of `bytes`.
    pub fn of(bytes: &[u8]) -> Self {
        let mut digester = Digester::plain();
        digester.bytes(bytes);
        digester.finish()
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self})")
    }
}

impl FromStr for Digest {
    type Err = NotADigest;

    fn from_str(text: &str) -> Result<Self, NotADigest> {
        let digits: Vec<u32> =
            text.chars().map(|letter| letter.to_digit(16)).collect::<Option<_>>().ok_or(NotADigest)?;
        let bytes: Vec<u8> = digits
            .chunks_exact(2)
            .map(|pair| pair.iter().fold(0, |byte, digit| byte * 16 + digit) as u8)
            .collect();
        match (digits.len(), bytes.try_into()) {
            (64, Ok(bytes)) => Ok(Self(bytes)),
            _ => Err(NotADigest),
        }
    }
}

/// A digest in the making.
pub(super) struct Digester(Sha256);

impl Digester {
    /// Begins the digest of plain bytes.
    pub(super) fn plain() -> Self {
        Self(Sha256::new())
    }

    /// Begins the digest of the fields of a thing called `kind`, which keeps two kinds of thing apart.
    pub(super) fn fields(kind: &str) -> Self {
        let mut digester = Self::plain();
        digester.field(kind);
        digester
    }

    /// Adds bytes as they are.
    pub(super) fn bytes(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// Adds a field: its length (8 bytes, lowest first), then its bytes.
    pub(super) fn field(&mut self, field: impl AsRef<[u8]>) {
        let field = field.as_ref();
        self.bytes(&(field.len() as u64).to_le_bytes());
        self.bytes(field);
    }

    /// Adds a field that may be missing: the number of fields (0 or 1), then the field.
    pub(super) fn optional(&mut self, field: Option<impl AsRef<[u8]>>) {
        self.count(field.iter().len());
        if let Some(field) = field {
            self.field(field);
        }
    }

    /// Adds a number of things that follow.
    pub(super) fn count(&mut self, count: usize) {
        self.bytes(&(count as u64).to_le_bytes());
    }

    /// Adds a whole number (8 bytes, lowest first).
    pub(super) fn integer(&mut self, integer: i64) {
        self.bytes(&integer.to_le_bytes());
    }

    /// Returns the digest.
    pub(super) fn finish(self) -> Digest {
        Digest(self.0.finalize().into())
    }
}

impl AsRef<[u8]> for Digest {
    fn as_ref(&self) -> &[u8] {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_digest_of_abc_is_the_published_one() {
        // FIPS 180-4's example message, digest from NIST's example values (from memory).
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(Digest::of(b"abc").to_string(), expected);
        assert_eq!(expected.parse(), Ok(Digest::of(b"abc")));
    }

    #[test]
    fn what_is_not_a_digest_is_refused() {
        let odd = "a".repeat(63);
        let long = "a".repeat(66);
        let foreign = "g".repeat(64);
        for text in ["", "ab", odd.as_str(), long.as_str(), foreign.as_str()] {
            assert_eq!(text.parse::<Digest>(), Err(NotADigest), "{text}");
        }
    }

    proptest! {
        #[test]
        fn a_letter_that_changes_fields_changes_the_digest(text in "[a-c]{1,12}", a in 0usize..12, b in 0usize..12) {
            let (a, b) = (a % (text.len() + 1), b % (text.len() + 1));
            prop_assume!(a != b);
            let split_at = |place: usize| {
                let (first, second) = text.split_at(place);
                let mut digester = Digester::fields("pair");
                digester.field(first);
                digester.field(second);
                digester.finish()
            };
            prop_assert_ne!(split_at(a), split_at(b));
        }
    }
}
