//! Bytes for names and salts of a book in memory: never twice the same, but not made to keep a secret.

use std::hash::{BuildHasher, RandomState};
use std::sync::atomic::{AtomicU64, Ordering};

use super::super::Digest;

/// A source of bytes.
#[derive(Debug, Default)]
pub(super) struct Random {
    seed: u64,
    given: AtomicU64,
}

impl Random {
    /// Returns a source that gives other bytes than every source before.
    pub(super) fn unlike_any_other() -> Self {
        // The standard library draws the keys of its hash maps from the system, and each map gets others.
        Self { seed: RandomState::new().hash_one("celltriage book in memory"), given: AtomicU64::new(0) }
    }

    pub(super) fn sixteen(&self) -> [u8; 16] {
        let given = self.given.fetch_add(1, Ordering::Relaxed);
        let mut bytes = [0; 16];
        let digest = Digest::of(&[self.seed.to_le_bytes(), given.to_le_bytes()].concat());
        bytes.iter_mut().zip(digest.as_ref()).for_each(|(byte, from)| *byte = *from);
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_source_gives_bytes_that_were_given_before() {
        let sources: Vec<Random> = (0..50).map(|_| Random::unlike_any_other()).collect();
        let all: BTreeSet<[u8; 16]> =
            (0..20).flat_map(|_| sources.iter().map(Random::sixteen).collect::<Vec<_>>()).collect();
        assert_eq!(all.len(), 1000);
    }
}
