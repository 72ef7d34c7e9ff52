//! What a program's image says of itself before it runs: a marker at a place in flash where a host finds it in a file.
//!
//! [`LENGTH`] plain bytes, numbers little endian, texts padded with zeros. They are frozen: another form gets another [`FORM`].
//!
//! | offset | size | what |
//! |---|---|---|
//! | 0 | 8 | [`MARK`] |
//! | 8 | 1 | [`FORM`] |
//! | 9 | 1 | oldest wire version that the program speaks |
//! | 10 | 1 | newest |
//! | 11 | 1 | 0 |
//! | 12 | 8 | digest of the limits compiled in ([`crate::limits::DIGEST`]) |
//! | 20 | 16 | commit; all zeros where it is not known |
//! | 36 | 8 | revision of the board that it is for |
//! | 44 | 24 | name of that board |
//! | 68 | 4 | CRC-32 of all before, the one of [`crate::frame`] |

use crate::description::{COMMIT, REVISION};
use crate::limits;
use crate::reply::TEXT;
use crate::version;
use core::fmt;
use crc::{CRC_32_ISO_HDLC, Crc};

/// How a marker begins: our choice, eight bytes that are neither code nor text in a program.
pub const MARK: [u8; 8] = *b"\x93CTmark\x1A";
/// Form of the bytes after the mark.
pub const FORM: u8 = 1;
/// Length of a marker.
pub const LENGTH: usize = 72;
/// The marker begins in the first so many bytes of an image, at a multiple of four.
pub const SEARCHED: usize = 4096;

const VERSIONS_AT: usize = 9;
const LIMITS_AT: usize = 12;
const COMMIT_AT: usize = 20;
const REVISION_AT: usize = COMMIT_AT + COMMIT;
const BOARD_AT: usize = REVISION_AT + REVISION;
const CRC_AT: usize = BOARD_AT + TEXT;
const _: () = assert!(CRC_AT + 4 == LENGTH);

const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// Makes the marker of a program built from this source, for a board's own constants. A text that is too long does not compile
/// there.
#[must_use]
// An index is all that a constant function can count with; the places are constants.
#[allow(clippy::indexing_slicing)]
pub const fn of_this_program(board: &str, revision: &str, commit: Option<&str>) -> [u8; LENGTH] {
    let mut bytes = [0; LENGTH];
    put(&mut bytes, 0, LENGTH, &MARK);
    bytes[MARK.len()] = FORM;
    put(&mut bytes, VERSIONS_AT, 2, &[version::MIN, version::CURRENT]);
    put(&mut bytes, LIMITS_AT, 8, &limits::DIGEST.to_le_bytes());
    if let Some(commit) = commit {
        put(&mut bytes, COMMIT_AT, COMMIT, commit.as_bytes());
    }
    put(&mut bytes, REVISION_AT, REVISION, revision.as_bytes());
    put(&mut bytes, BOARD_AT, TEXT, board.as_bytes());
    let crc = CRC.checksum(bytes.split_at(CRC_AT).0);
    put(&mut bytes, CRC_AT, 4, &crc.to_le_bytes());
    bytes
}

#[allow(clippy::indexing_slicing)]
const fn put(bytes: &mut [u8; LENGTH], at: usize, room: usize, content: &[u8]) {
    assert!(content.len() <= room);
    let mut index = 0;
    while index < content.len() {
        bytes[at + index] = content[index];
        index += 1;
    }
}

/// What a marker says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ImageMarker<'a> {
    /// Oldest and newest wire version that the program speaks.
    pub versions: (u8, u8),
    /// Digest of the limits compiled in.
    pub limits: u64,
    /// Commit that it was built from, where that is known.
    pub commit: Option<&'a str>,
    /// Revision of the board that it is for.
    pub revision: &'a str,
    /// Name of that board.
    pub board: &'a str,
}

/// Why bytes that begin with [`MARK`] cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkerFault {
    /// They end too early.
    CutOff,
    /// The CRC does not match.
    Damaged,
    /// Of a form that this build does not know.
    OtherForm(u8),
    /// A text is no text, or has none.
    Text,
}

impl fmt::Display for MarkerFault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CutOff => out.write_str("it is cut off"),
            Self::Damaged => out.write_str("it is damaged"),
            Self::OtherForm(form) => write!(out, "it has form {form}, and this version reads form {FORM}"),
            Self::Text => out.write_str("a text in it cannot be read"),
        }
    }
}

impl<'a> ImageMarker<'a> {
    /// Reads a marker that begins where `bytes` begin.
    ///
    /// # Errors
    /// [`MarkerFault`].
    pub fn read(bytes: &'a [u8]) -> Result<Self, MarkerFault> {
        let bytes = bytes.first_chunk::<LENGTH>().ok_or(MarkerFault::CutOff)?;
        let (checked, crc) = bytes.split_at(CRC_AT);
        if CRC.checksum(checked).to_le_bytes() != crc {
            return Err(MarkerFault::Damaged);
        }
        let field = |at: usize, length: usize| checked.get(at..at + length).ok_or(MarkerFault::CutOff);
        let [form, oldest, newest, spare] = *field(MARK.len(), 4)? else { return Err(MarkerFault::CutOff) };
        if form != FORM || spare != 0 {
            return Err(MarkerFault::OtherForm(form));
        }
        let limits = field(LIMITS_AT, 8)?.first_chunk::<8>().ok_or(MarkerFault::CutOff)?;
        let text = |at, length| text(field(at, length)?);
        let commit = text(COMMIT_AT, COMMIT)?;
        let (revision, board) = (text(REVISION_AT, REVISION)?, text(BOARD_AT, TEXT)?);
        if board.is_empty() || revision.is_empty() {
            return Err(MarkerFault::Text);
        }
        Ok(Self {
            versions: (oldest, newest),
            limits: u64::from_le_bytes(*limits),
            commit: (!commit.is_empty()).then_some(commit),
            revision,
            board,
        })
    }
}

/// A text ends at the first zero; nothing but zeros may follow.
fn text(field: &[u8]) -> Result<&str, MarkerFault> {
    let length = field.iter().position(|byte| *byte == 0).unwrap_or(field.len());
    let (text, rest) = field.split_at(length);
    if rest.iter().any(|byte| *byte != 0) || !text.iter().all(u8::is_ascii_graphic) {
        return Err(MarkerFault::Text);
    }
    core::str::from_utf8(text).map_err(|_| MarkerFault::Text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Worked out by hand from the table, the CRC by zlib's `crc32`.
    const FROZEN: [u8; LENGTH] = *b"\x93CTmark\x1A\x01\x01\x02\x00\
        \xEF\xCD\xAB\x89\x67\x45\x23\x01\
        0123456789ab+\x00\x00\x00\
        A\x00\x00\x00\x00\x00\x00\x00\
        pico2\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\
        \x08\xCE\x07\xE5";

    #[test]
    fn a_marker_of_form_1_is_read_for_ever() {
        let read = ImageMarker {
            versions: (1, 2),
            limits: 0x0123_4567_89AB_CDEF,
            commit: Some("0123456789ab+"),
            revision: "A",
            board: "pico2",
        };
        assert_eq!(ImageMarker::read(&FROZEN), Ok(read));
    }

    #[test]
    fn a_program_says_what_it_was_built_with() {
        const MARKER: [u8; LENGTH] = of_this_program("simulated", "B2", None);
        let read = ImageMarker::read(&MARKER).expect("whole");
        assert_eq!((read.board, read.revision, read.commit), ("simulated", "B2", None));
        assert_eq!((read.versions, read.limits), ((version::MIN, version::CURRENT), limits::DIGEST));
        assert!(MARKER.starts_with(&MARK));
    }

    #[test]
    fn what_cannot_be_read_is_told_apart() {
        let mended = |change: fn(&mut [u8; LENGTH])| {
            let mut bytes = FROZEN;
            change(&mut bytes);
            let crc = CRC.checksum(&bytes[..CRC_AT]).to_le_bytes();
            bytes[CRC_AT..].copy_from_slice(&crc);
            ImageMarker::read(&bytes).map(|read| read.board.len())
        };
        assert_eq!(mended(|bytes| bytes[8] = 2), Err(MarkerFault::OtherForm(2)));
        assert_eq!(mended(|bytes| bytes[BOARD_AT] = 0), Err(MarkerFault::Text));
        assert_eq!(mended(|bytes| bytes[BOARD_AT] = 0x1B), Err(MarkerFault::Text));
        assert_eq!(mended(|bytes| bytes[BOARD_AT + 10] = b'x'), Err(MarkerFault::Text));
        assert_eq!(mended(|bytes| bytes[REVISION_AT] = 0), Err(MarkerFault::Text));
        assert_eq!(ImageMarker::read(&FROZEN[..LENGTH - 1]), Err(MarkerFault::CutOff));
    }

    proptest! {
        #[test]
        fn any_changed_byte_is_damage(at in 0..LENGTH, by in 1u8..=255) {
            let mut bytes = FROZEN;
            bytes[at] ^= by;
            prop_assert_eq!(ImageMarker::read(&bytes), Err(MarkerFault::Damaged));
        }
    }
}
