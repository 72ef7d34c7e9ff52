//! The link to the host: bytes in, requests out; replies and events in, bytes out.
//!
//! Takes what the board has received and gives intact requests; keeps encoded replies until the board takes them.
//! Replies go before events, but never into the middle of one. A damaged frame gets no answer: nobody knows what it
//! was; an intact one that cannot be read is told apart, so that it can be refused.

use crate::board::Board;
use crate::history::History;
use celltriage_protocol::address::Address;
use celltriage_protocol::frame::{FrameError, channel, decode_request, encode_answered, encode_reply};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use heapless::Vec;
use postcard::experimental::max_size::MaxSize;

/// Longest reply on the wire: header, boot number, body, CRC, stuffing and closing zero.
const LONGEST_REPLY: usize = Reply::POSTCARD_MAX_SIZE + u32::POSTCARD_MAX_SIZE + 16;
const _: () = assert!(LONGEST_REPLY <= 254, "a longer reply needs more than one byte of stuffing");
/// Room for replies that wait.
const WAITING: usize = 4 * LONGEST_REPLY;

/// What an intact frame from the host is.
// One at a time, on the stack, and gone when it is answered.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// A request with its sequence number, and the address it came under, if any.
    Request(u32, Option<Address>, Request),
    /// A request that this build cannot read, with its sequence number, and whether it came under an address.
    Unreadable(u32, bool),
}

/// The link.
#[derive(Clone, Debug, Default)]
pub struct Link {
    splitter: Splitter,
    replies: Vec<u8, WAITING>,
    /// How many bytes of the waiting replies the board has taken.
    taken: usize,
}

impl Link {
    /// Takes one byte from the host; gives what was heard at the end of an intact request.
    #[inline(never)]
    pub fn hear(&mut self, byte: u8) -> Option<Heard> {
        let Split::Candidate(candidate) = self.splitter.push(byte)? else { return None };
        match decode_request(candidate) {
            Ok(Some((sequence, address, request))) => Some(Heard::Request(sequence, address, request)),
            // Our own words come back: a looped line, not a host.
            Ok(None) => None,
            Err(FrameError::Body | FrameError::TooOld { .. } | FrameError::TooNew { .. }) => {
                // The CRC was right, so the header that decoding left in place can be read.
                match *candidate {
                    [_, kind @ (channel::REQUEST | channel::ADDRESSED), s0, s1, s2, s3, ..] => {
                        let sequence = u32::from_le_bytes([s0, s1, s2, s3]);
                        Some(Heard::Unreadable(sequence, kind == channel::ADDRESSED))
                    }
                    _ => None,
                }
            }
            Err(FrameError::Stuffing | FrameError::TooShort | FrameError::Crc | FrameError::NoRoom) => None,
        }
    }

    /// Queues a reply; with the boot number where the request came under an address. Where the host does not take its replies and the queue is full, the reply is lost and the
    /// host's time-out tells it: requests, above all `Stop`, must not wait for room.
    #[inline(never)]
    pub fn reply(&mut self, sequence: u32, boot: Option<u32>, reply: &Reply) {
        let mut buffer = [0; LONGEST_REPLY];
        let frame = match boot {
            Some(boot) => encode_answered(sequence, boot, reply, &mut buffer),
            None => encode_reply(sequence, reply, &mut buffer),
        };
        if let Ok(frame) = frame {
            // All or nothing: half a frame is never queued.
            let _ = self.replies.extend_from_slice(frame);
        }
    }

    /// Hands the board as much as it takes.
    pub fn send(&mut self, board: &mut impl Board, history: &mut History) {
        loop {
            let replies = self.replies.get(self.taken..).unwrap_or_default();
            let reply_first = !replies.is_empty() && !history.is_inside_frame();
            let bytes = if reply_first { replies } else { history.to_send() };
            if bytes.is_empty() {
                return;
            }
            let offered = bytes.len();
            let sent = board.send(bytes).min(offered);
            if reply_first {
                self.taken += sent;
                if self.taken >= self.replies.len() {
                    self.replies.clear();
                    self.taken = 0;
                }
            } else {
                history.sent(sent);
            }
            if sent < offered {
                return;
            }
        }
    }

    /// Returns whether replies wait to be sent.
    pub fn has_unsent(&self) -> bool {
        !self.replies.is_empty()
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use crate::test_board::TestBoard;
    use celltriage_protocol::event::Event;
    use celltriage_protocol::frame::{Frame, MAX_ENCODED, encode_event, encode_request};
    use celltriage_protocol::units::Micros;
    use std::vec::Vec;

    fn hear_all(link: &mut Link, bytes: &[u8]) -> Vec<Heard> {
        bytes.iter().filter_map(|byte| link.hear(*byte)).collect()
    }

    fn request(sequence: u32, request: &Request) -> Vec<u8> {
        encode_request(sequence, request, &mut [0; MAX_ENCODED + 1]).unwrap().to_vec()
    }

    #[test]
    fn requests_are_heard_between_rubbish_and_echoes() {
        let mut bytes = std::vec![1, 2, 3, 0];
        bytes.extend(
            encode_event(4, &Event::PlanStarted { plan: 1, at: Micros::ZERO }, &mut [0; 64]).unwrap(),
        );
        bytes.extend(encode_reply(4, &Reply::Done, &mut [0; 64]).unwrap());
        bytes.extend(request(9, &Request::Stop));
        let heard = hear_all(&mut Link::default(), &bytes);
        assert_eq!(heard, [Heard::Request(9, None, Request::Stop)]);
    }

    #[test]
    fn a_request_of_another_age_is_heard_with_its_number_and_a_damaged_one_is_not() {
        // Written by hand: header, a body that no version knows yet, CRC-32 by bits, one block of stuffing.
        let framed = |version: u8, kind: u8| {
            let plain = [version, kind, 0x11, 0x22, 0x33, 0x44, 0x77];
            let crc = plain.iter().fold(u32::MAX, |crc, byte| {
                (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
                    (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg())
                })
            });
            let mut bytes = plain.to_vec();
            bytes.extend((!crc).to_le_bytes());
            assert!(!bytes[1..].contains(&0), "this test needs bytes without a zero");
            bytes
        };
        for (version, kind) in [(1, channel::REQUEST), (250, channel::REQUEST), (250, channel::ADDRESSED)] {
            let bytes = framed(version, kind);
            let unreadable = Heard::Unreadable(0x4433_2211, kind == channel::ADDRESSED);
            let mut wire = std::vec![bytes.len() as u8 + 1];
            wire.extend(&bytes);
            wire.push(0);
            assert_eq!(hear_all(&mut Link::default(), &wire), [unreadable]);
            wire[3] ^= 0x10;
            assert_eq!(hear_all(&mut Link::default(), &wire), []);
        }
    }

    #[test]
    fn replies_go_first_but_never_into_an_event() {
        let mut board = TestBoard::default();
        let (mut link, mut history) = (Link::default(), History::new());
        history.push(&Event::PlanStarted { plan: 1, at: Micros::ZERO });
        history.push(&Event::PlanStarted { plan: 2, at: Micros::ZERO });
        board.room = 5;
        link.send(&mut board, &mut history);
        link.reply(7, None, &Reply::Done);
        board.room = usize::MAX;
        link.send(&mut board, &mut history);
        let numbers: Vec<_> = board.sent_frames().into_iter().map(|frame: Frame| frame.sequence).collect();
        assert_eq!(numbers, [0, 7, 1]);
        assert!(!link.has_unsent() && !history.has_unsent());
    }

    #[test]
    fn when_nobody_takes_replies_the_queue_keeps_whole_ones() {
        let mut board = TestBoard { room: 0, ..TestBoard::default() };
        let (mut link, mut history) = (Link::default(), History::new());
        for sequence in 0..1_000 {
            link.reply(sequence, None, &Reply::Done);
            link.send(&mut board, &mut history);
        }
        board.room = usize::MAX;
        link.send(&mut board, &mut history);
        let frames = board.sent_frames();
        assert!(frames.len() > 10);
        assert!(frames.iter().enumerate().all(|(index, frame)| frame.sequence == index as u32));
    }
}
