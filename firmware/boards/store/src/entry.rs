//! One entry of the journal, as it lies in flash and, for a panic, in memory over a reset.
//!
//! ```text
//! boot number u32 | length u8 | entry in postcard's format | ones | CRC-32 of all before
//! ```
//! 64 bytes, little endian, CRC as in [`crate::record`]. Erased flash is all ones, which no entry is.

use celltriage_protocol::description::PANIC;
use celltriage_protocol::event::Trip;
use core::ops::Range;
use crc::{CRC_32_ISO_HDLC, Crc};
use heapless::String;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Size in bytes.
pub const SIZE: usize = 64;
/// Words of the stack that are looked at (our choice).
const LOOKED_AT: usize = 256;
const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);
const BODY: usize = SIZE - 9;
const _: () = assert!(What::POSTCARD_MAX_SIZE <= BODY, "an entry outgrew its place");

/// What happened. Variants are only ever added at the end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub enum What {
    /// The first entry of a sector, written after all that it takes over from the other one.
    Sector {
        /// Counts up with each sector that was begun; the higher one is the newer.
        generation: u32,
    },
    /// The program started after the power had been away.
    Start,
    /// The guard tripped.
    Trip(Trip),
    /// A person has acknowledged the trip with this number.
    Acknowledged {
        /// The trip's number.
        trip: u32,
    },
    /// The program failed, at this place.
    Panic(String<PANIC>),
}

/// An entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Number of the start of the program in which it happened.
    pub boot: u32,
    /// What.
    pub what: What,
}

impl Entry {
    /// Returns the entry as bytes; `None` if it does not fit, which the size check above excludes.
    #[inline(never)]
    pub fn to_bytes(&self) -> Option<[u8; SIZE]> {
        let mut body = [0xFF; BODY];
        let length = [u8::try_from(postcard::to_slice(&self.what, &mut body).ok()?.len()).ok()?];
        let mut bytes = [0xFF; SIZE];
        let boot = self.boot.to_le_bytes();
        for (place, byte) in bytes.iter_mut().zip(boot.iter().chain(&length).chain(&body)) {
            *place = *byte;
        }
        let (before, crc) = bytes.split_last_chunk_mut::<4>()?;
        *crc = CRC.checksum(before).to_le_bytes();
        Some(bytes)
    }

    /// Reads an entry; `None` if the bytes are not one, whole and undamaged.
    #[inline(never)]
    pub fn from_bytes(bytes: &[u8; SIZE]) -> Option<Self> {
        let (before, crc) = bytes.split_last_chunk::<4>()?;
        if CRC.checksum(before) != u32::from_le_bytes(*crc) {
            return None;
        }
        let (boot, rest) = before.split_first_chunk::<4>()?;
        let (length, body) = rest.split_first()?;
        let (what, left) = postcard::take_from_bytes(body.get(..usize::from(*length))?).ok()?;
        left.is_empty().then_some(Self { boot: u32::from_le_bytes(*boot), what })
    }
}

/// Most addresses that a text of a failure holds: eight digits each, and a blank between.
pub const MOST_ADDRESSES: usize = (PANIC + 1) / 9;

/// Returns the text of a failure: the addresses of the calls that were under way, newest first, as many as fit. The program's
/// debug information names their lines; to name them itself the program would have to carry all those texts, which are as
/// long as the rest of it.
pub fn calls(addresses: impl IntoIterator<Item = u32>) -> String<PANIC> {
    let mut text = String::new();
    for address in addresses.into_iter().take(MOST_ADDRESSES) {
        // There is room for all of it.
        if !text.is_empty() {
            let _ = text.push(' ');
        }
        for place in (0..8).rev() {
            let digit = char::from_digit(address >> (4 * place) & 0xF, 16);
            let _ = text.push(digit.unwrap_or_default());
        }
    }
    text
}

/// Returns the same of a stack: whatever there looks like an address of the program that a call comes back to, from the first of
/// these words on. Some of them may be left over from earlier calls.
pub fn calls_on_stack(
    words: Range<usize>,
    program: &Range<u32>,
    word: impl Fn(usize) -> u32,
) -> String<PANIC> {
    let looks_like_one = |word: &u32| word & 1 == 1 && program.contains(word);
    calls(words.take(LOOKED_AT).map(word).filter(looks_like_one))
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;

    #[test]
    fn of_a_stack_the_odd_words_inside_the_program_are_told_from_where_it_stands() {
        let stack = [0x1000_0011, 7, 0x1000_0202, 0x1000_0301, 0x2000_0401, 0x1000_0FFF, 0x1000_1001];
        let told = |from: usize| {
            let calls = calls_on_stack(from..stack.len(), &(0x1000_0000..0x1000_1000), |at| stack[at]);
            std::string::String::from(calls.as_str())
        };
        assert_eq!(told(0), "10000011 10000301 10000fff");
        assert_eq!(told(1), "10000301 10000fff");
        assert_eq!(told(stack.len()), "");
        // Further back than a few hundred words nobody looks.
        let deep = |at: usize| if at == LOOKED_AT { 0x1000_0011 } else { 0 };
        assert_eq!(calls_on_stack(0..1_000, &(0x1000_0000..0x1000_1000), deep), "");
    }
}
