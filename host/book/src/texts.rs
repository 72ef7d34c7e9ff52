//! Texts as they are stored: packed, and still sealed as the text that they are.
//!
//! Assessments repeat the same keys and sentences, so a text is packed with LZ4 (block format,
//! <https://github.com/lz4/lz4/blob/dev/doc/lz4_Block_format.md>) against a dictionary that is part of this program and never
//! changes: an entry can then be read by itself, whatever became of its neighbours. Digests are taken over the text, so that
//! another packing, or another database that keeps the text as it is, leaves every seal as it was.

use std::sync::LazyLock;

use super::Problem;
use super::lz4::Dictionary;

/// What the packing numbers mean; they are stored and never change.
const PLAIN: i64 = 0;
const LZ4_DICTIONARY_1: i64 = 1;

/// Text that packed texts may repeat from, in the words of the demonstration.
const DICTIONARY_1: &[u8] = include_bytes!("dictionary_1.txt");
/// The same, gone through once for all texts.
static DICTIONARY: LazyLock<Dictionary> = LazyLock::new(|| Dictionary::of(DICTIONARY_1));
/// Longer files stay as they are: packing holds a file twice in memory (our choice).
const MOST_PACKED: usize = 64 << 20;
/// No text is longer: a length that damage made larger must not take all memory (our choice: a gigabyte).
const LONGEST: usize = 1 << 30;

/// What is as short as this is not worth going through the dictionary (our choice).
const TOO_SHORT: usize = 32;

/// A text as it is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Packed {
    pub(super) packing: i64,
    pub(super) bytes: Vec<u8>,
}

impl Packed {
    /// Packs a text; as it is where that is shorter.
    pub(super) fn of(text: &str) -> Self {
        if text.len() <= TOO_SHORT {
            return Self { packing: PLAIN, bytes: text.as_bytes().to_vec() };
        }
        let packed = DICTIONARY.pack(text.as_bytes());
        if packed.len() < text.len() {
            Self { packing: LZ4_DICTIONARY_1, bytes: packed }
        } else {
            Self { packing: PLAIN, bytes: text.as_bytes().to_vec() }
        }
    }

    /// Packs bytes where they are a text; others stay as they are.
    pub(super) fn of_bytes(bytes: &[u8]) -> Self {
        match std::str::from_utf8(bytes) {
            Ok(text) if text.len() <= MOST_PACKED => Self::of(text),
            _ => Self { packing: PLAIN, bytes: bytes.to_vec() },
        }
    }

    /// Returns the text.
    pub(super) fn text(self) -> Result<String, Problem> {
        String::from_utf8(self.unpacked()?)
            .map_err(|error| Problem::Corrupt { detail: format!("a packed text: {error}") })
    }

    /// Returns the bytes.
    pub(super) fn unpacked(self) -> Result<Vec<u8>, Problem> {
        if self.packing == PLAIN {
            return Ok(self.bytes);
        }
        let mut unpacked = Vec::new();
        let length = unpack_into(self.packing, &self.bytes, &mut unpacked)?.len();
        unpacked.truncate(length);
        Ok(unpacked)
    }
}

/// Returns packed bytes as they were; in a place that serves for one after the other, where they are packed.
pub(super) fn unpack_into<'a>(
    packing: i64,
    bytes: &'a [u8],
    place: &'a mut Vec<u8>,
) -> Result<&'a [u8], Problem> {
    let damaged = |detail: String| Problem::Corrupt { detail: format!("a packed text: {detail}") };
    match packing {
        PLAIN => Ok(bytes),
        LZ4_DICTIONARY_1 => {
            let (length, block) =
                lz4_flex::block::uncompressed_size(bytes).map_err(|error| damaged(error.to_string()))?;
            // No byte of a block stands for more than 255 of a text, by the format.
            if length > LONGEST.min(block.len().saturating_mul(255)) {
                return Err(damaged(format!("it claims {length} bytes")));
            }
            if place.len() < length {
                *place = vec![0; length];
            }
            let into = place.get_mut(..length).unwrap_or_default();
            let found = lz4_flex::block::decompress_into_with_dict(block, into, DICTIONARY_1)
                .map_err(|error| damaged(error.to_string()))?;
            Ok(into.get(..found).unwrap_or_default())
        }
        other => Err(damaged(format!("packing {other} is not known"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_text_of_known_words_packs_well_and_what_does_not_pack_stays_as_it_is() {
        let text = String::from_utf8_lossy(&DICTIONARY_1[60_000..]).into_owned();
        let packed = Packed::of(&text);
        assert!(packed.packing == LZ4_DICTIONARY_1 && packed.bytes.len() < 100, "{}", packed.bytes.len());
        assert_eq!(Packed::of("{}"), Packed { packing: PLAIN, bytes: b"{}".to_vec() });
    }

    #[test]
    fn what_damage_makes_of_a_packed_text_is_an_error() {
        for bytes in [vec![], vec![0xff; 4], vec![0xff, 0xff, 0xff, 0x7f, 1, 2, 3], vec![4, 0, 0, 0, 0x10]] {
            assert!(Packed { packing: LZ4_DICTIONARY_1, bytes }.text().is_err());
        }
        assert!(Packed { packing: 9, bytes: vec![] }.text().is_err());
        assert!(Packed { packing: PLAIN, bytes: vec![0xff] }.text().is_err());
    }

    #[test]
    fn the_dictionary_is_the_one_that_texts_were_packed_with() {
        // Frozen: with another dictionary every stored text would read as something else.
        let packed = Packed { packing: LZ4_DICTIONARY_1, bytes: FROZEN.to_vec() };
        assert_eq!(packed.text().unwrap(), FROZEN_TEXT);
    }

    /// Packed apart from this program, with Python's lz4 and the dictionary as it was in November 2026.
    const FROZEN_TEXT: &str = "\"smoke is toxic; even a quiet cell can ignite again weeks later.\",\"verify\":false,\"verify_with\":\"your fire authority\",\"schema\":\"celltriage.assessment/1\"";
    const FROZEN: &[u8] = &[151, 0, 0, 0, 31, 34, 246, 249, 96, 15, 185, 48, 11, 80, 110, 116, 47, 49, 34];

    proptest! {
        #[test]
        fn every_text_comes_back(text in "\\PC{0,400}", times in 1_usize..20) {
            let text = text.repeat(times);
            prop_assert_eq!(Packed::of(&text).text().unwrap(), text);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let _may_fail = Packed { packing: LZ4_DICTIONARY_1, bytes }.text();
        }
    }
}
