//! Finds frames in a stream of bytes, also after damage.
//!
//! Frames end with a zero byte and contain none (byte stuffing, [`crate::frame`]). What is too long to be a frame is
//! dropped *up to the next zero*, never from the middle on, so that the tail of something broken is not taken for a
//! message. After any damage the splitter is in step again at the next zero: at most one good frame is lost to it.

use crate::frame::MAX_ENCODED;

/// What a byte brought about.
#[derive(Debug, PartialEq, Eq)]
pub enum Split<'a> {
    /// A candidate frame, still stuffed, without its closing zero; check it with [`crate::frame::decode`].
    Candidate(&'a mut [u8]),
    /// More bytes than any frame has came before a zero; they were dropped.
    TooLong,
}

/// Collects bytes up to a zero.
#[derive(Clone, Debug)]
pub struct Splitter {
    bytes: [u8; MAX_ENCODED],
    len: usize,
    overflowed: bool,
}

impl Default for Splitter {
    fn default() -> Self {
        Self::new()
    }
}

impl Splitter {
    /// Returns an empty splitter.
    pub const fn new() -> Self {
        Self { bytes: [0; MAX_ENCODED], len: 0, overflowed: false }
    }

    /// Takes one byte; says something at the end of a frame. Empty frames (zero after zero) are passed over.
    pub fn push(&mut self, byte: u8) -> Option<Split<'_>> {
        if byte == 0 {
            let len = core::mem::take(&mut self.len);
            if core::mem::take(&mut self.overflowed) {
                return Some(Split::TooLong);
            }
            return match self.bytes.get_mut(..len) {
                Some(candidate) if len > 0 => Some(Split::Candidate(candidate)),
                _ => None,
            };
        }
        match self.bytes.get_mut(self.len) {
            Some(place) if !self.overflowed => {
                *place = byte;
                self.len += 1;
            }
            _ => self.overflowed = true,
        }
        None
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::vec::Vec;

    fn split(bytes: &[u8]) -> Vec<Result<Vec<u8>, ()>> {
        let mut splitter = Splitter::new();
        let mut found = Vec::new();
        for &byte in bytes {
            match splitter.push(byte) {
                Some(Split::Candidate(candidate)) => found.push(Ok(candidate.to_vec())),
                Some(Split::TooLong) => found.push(Err(())),
                None => {}
            }
        }
        found
    }

    #[test]
    fn zeros_in_a_row_are_passed_over() {
        assert_eq!(split(&[0, 0, 5, 6, 0, 0, 7, 0]), [Ok([5, 6].to_vec()), Ok([7].to_vec())]);
    }

    #[test]
    fn the_tail_of_something_too_long_is_never_a_frame() {
        let mut bytes = std::vec![1u8; MAX_ENCODED + 50];
        bytes.extend_from_slice(&[2, 7, 0, 9, 0]);
        assert_eq!(split(&bytes), [Err(()), Ok([9].to_vec())]);
    }

    #[test]
    fn the_longest_frame_still_fits() {
        let mut bytes = std::vec![1u8; MAX_ENCODED];
        bytes.push(0);
        assert_eq!(split(&bytes), [Ok(std::vec![1u8; MAX_ENCODED])]);
    }
}
