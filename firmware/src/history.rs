//! The recent events as bytes on the wire: output queue and store for resending in one.
//!
//! Takes events, numbers them and keeps them encoded; gives the bytes that the link has not sent yet. When there is
//! no room the oldest frames go, whole, sent or not: the gap in the numbers shows it. Frames contain no zero and end
//! with one (byte stuffing), so the ring needs no table of where they begin.

use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{MAX_ENCODED, encode_event};

/// Bytes kept.
pub const SIZE: usize = 8_192;
/// The longest frame with its closing zero.
const LONGEST: usize = MAX_ENCODED + 1;
const _: () = assert!(SIZE >= 4 * LONGEST, "the history must hold a few of the longest frames");

/// The history.
#[derive(Clone, Debug)]
pub struct History {
    bytes: [u8; SIZE],
    /// Where the oldest frame begins.
    tail: usize,
    /// How many bytes are kept.
    len: usize,
    /// How many of them, from the oldest on, the link has taken.
    taken: usize,
    /// Number of the oldest frame kept.
    oldest: u32,
    /// Number that the next event will get.
    next: u32,
    /// Number of the frame that the link takes now or next.
    sending: u32,
    /// Whether the link has taken a frame in part.
    inside: bool,
    /// Whether such a frame had to go: a zero must end its torso before the next one.
    torn: bool,
    /// Where to go back to at the end of the frame under way.
    back_to: Option<u32>,
}

impl Default for History {
    fn default() -> Self {
        Self::new()
    }
}

impl History {
    /// Returns an empty history; the first event gets number 0.
    pub const fn new() -> Self {
        Self {
            bytes: [0; SIZE],
            tail: 0,
            len: 0,
            taken: 0,
            oldest: 0,
            next: 0,
            sending: 0,
            inside: false,
            torn: false,
            back_to: None,
        }
    }

    /// Returns the number that the next event will get.
    pub const fn next(&self) -> u32 {
        self.next
    }

    /// Returns the number of the oldest event kept; equal to [`History::next`] where there is none.
    pub const fn oldest(&self) -> u32 {
        self.oldest
    }

    /// Numbers an event and keeps it.
    pub fn push(&mut self, event: &Event) {
        let mut buffer = [0; LONGEST];
        // Every event fits the buffer (its size is derived from the messages); if one did not, its number is used
        // up anyway, and everything older goes, so that the loss shows as a gap.
        let frame = encode_event(self.next, event, &mut buffer).unwrap_or_default();
        if frame.is_empty() {
            while self.len > 0 {
                self.drop_oldest();
            }
            self.next = self.next.wrapping_add(1);
            (self.oldest, self.sending) = (self.next, self.next);
            return;
        }
        while SIZE - self.len < frame.len() {
            self.drop_oldest();
        }
        let head = (self.tail + self.len) % SIZE;
        let until_end = frame.len().min(SIZE - head);
        let (first, second) = frame.split_at(until_end);
        if let Some(place) = self.bytes.get_mut(head..head + first.len()) {
            place.copy_from_slice(first);
        }
        if let Some(place) = self.bytes.get_mut(..second.len()) {
            place.copy_from_slice(second);
        }
        self.len += frame.len();
        self.next = self.next.wrapping_add(1);
    }

    /// Goes back to an event at the end of the frame under way, and sends from there on once more. Does nothing for
    /// events that have not been sent yet: they come anyway.
    ///
    /// # Errors
    /// The number of the oldest event kept, where the one asked for is not kept.
    pub const fn resend_from(&mut self, sequence: u32) -> Result<(), u32> {
        // Distances from the oldest frame stay right when the numbers wrap.
        let distance = sequence.wrapping_sub(self.oldest);
        if distance >= self.next.wrapping_sub(self.oldest) {
            return Err(self.oldest);
        }
        if distance < self.sending.wrapping_sub(self.oldest) || self.inside && sequence == self.sending {
            self.back_to = Some(sequence);
        }
        Ok(())
    }

    /// Returns bytes to send: at most up to the end of one frame; empty where all was sent.
    pub fn to_send(&mut self) -> &[u8] {
        if self.torn {
            return &[0];
        }
        if !self.inside
            && let Some(sequence) = self.back_to.take()
        {
            self.go_to(sequence);
        }
        let start = (self.tail + self.taken) % SIZE;
        let contiguous = (self.len - self.taken).min(SIZE - start);
        let bytes = self.bytes.get(start..start + contiguous).unwrap_or_default();
        match bytes.iter().position(|byte| *byte == 0) {
            Some(end) => bytes.get(..=end).unwrap_or_default(),
            None => bytes,
        }
    }

    /// Says how many of the bytes of [`History::to_send`] the link has taken.
    pub fn sent(&mut self, count: usize) {
        if count == 0 {
            return;
        }
        if self.torn {
            self.torn = false;
            return;
        }
        let last = (self.tail + self.taken + count - 1) % SIZE;
        self.taken = (self.taken + count).min(self.len);
        self.inside = self.bytes.get(last).is_some_and(|byte| *byte != 0);
        if !self.inside {
            self.sending = self.sending.wrapping_add(1);
        }
    }

    /// Returns whether the link is in the middle of a frame.
    pub const fn is_inside_frame(&self) -> bool {
        self.inside || self.torn
    }

    /// Returns whether there is something to send.
    pub const fn has_unsent(&self) -> bool {
        self.torn || self.taken < self.len || self.back_to.is_some()
    }

    fn go_to(&mut self, sequence: u32) {
        let frames = sequence.wrapping_sub(self.oldest);
        if frames >= self.next.wrapping_sub(self.oldest) {
            // Gone since it was asked for: the oldest one kept is the nearest.
            (self.taken, self.sending) = (0, self.oldest);
            return;
        }
        self.taken = (0..frames).fold(0, |offset, _| offset + self.frame_len(offset));
        self.sending = sequence;
    }

    /// Returns the length of the frame that begins `offset` bytes after the oldest.
    fn frame_len(&self, offset: usize) -> usize {
        let start = (self.tail + offset) % SIZE;
        let (before, after) = self.bytes.split_at_checked(start).unwrap_or_default();
        let kept = self.len - offset.min(self.len);
        after.iter().chain(before).take(kept).position(|byte| *byte == 0).map_or(kept, |end| end + 1)
    }

    fn drop_oldest(&mut self) {
        let len = self.frame_len(0);
        let went_unsent = self.taken < len;
        if went_unsent {
            self.torn |= self.inside;
            self.inside = false;
            self.sending = self.oldest.wrapping_add(1);
        }
        self.tail = (self.tail + len) % SIZE;
        self.len -= len;
        self.taken = self.taken.saturating_sub(len);
        self.oldest = self.oldest.wrapping_add(1);
    }
}

#[cfg(test)]
mod tests;
