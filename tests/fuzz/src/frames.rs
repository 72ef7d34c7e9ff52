//! Bytes off the line: whatever comes, nothing breaks, and what is read is what can be written.

use arbitrary::{Result, Unstructured};
use celltriage_protocol::address::Address;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, Frame, MAX_ENCODED, Message, channel};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use crc::{CRC_32_ISO_HDLC, Crc};
use serde::{Deserialize, Serialize};

/// Largest body drawn: long enough for a plan of several steps and for a block.
const LONGEST_BODY: usize = 400;
/// Most pieces of one stream.
const MOST_PIECES: usize = 16;

/// What was found in a stream.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Pieces between zeros.
    pub candidates: u64,
    /// Those of them that were read as a message.
    pub messages: u64,
}

/// Draws a stream of bytes and reads it as a receiver does.
pub fn read(bytes: &[u8]) -> Seen {
    let mut choices = Unstructured::new(bytes);
    let mut splitter = Splitter::new();
    let mut seen = Seen::default();
    for _ in 0..MOST_PIECES {
        if choices.is_empty() {
            break;
        }
        let Ok(piece) = piece(&mut choices) else { break };
        for byte in piece {
            if let Some(Split::Candidate(candidate)) = splitter.push(byte) {
                seen.candidates += 1;
                if let Ok(frame) = frame::decode(candidate) {
                    seen.messages += 1;
                    stands(&frame);
                }
            }
        }
    }
    seen
}

/// Draws a piece of a stream: rubbish, a frame with any body, or such a frame damaged.
///
/// # Errors
/// The bytes to draw from are used up.
pub fn piece(choices: &mut Unstructured<'_>) -> Result<Vec<u8>> {
    let what = choices.int_in_range(0..=9)?;
    if what == 0 {
        let length = choices.int_in_range(0..=80)?;
        return Ok(choices.bytes(length.min(choices.len()))?.to_vec());
    }
    let mut wire = framed(choices)?;
    if what == 1 && !wire.is_empty() {
        let at = choices.choose_index(wire.len())?;
        if let Some(byte) = wire.get_mut(at) {
            *byte ^= 1 << choices.int_in_range(0..=7)?;
        }
    }
    Ok(wire)
}

/// A frame with an intact CRC: mostly a message of the kind that its channel says, sometimes with a byte changed or one too many,
/// sometimes any body.
fn framed(choices: &mut Unstructured<'_>) -> Result<Vec<u8>> {
    let version = if choices.ratio(1, 16)? { choices.arbitrary()? } else { choices.int_in_range(1..=2)? };
    let kind: u8 = choices.int_in_range(0..=6)?;
    let mut plain = vec![version, kind];
    plain.extend(choices.arbitrary::<u32>()?.to_le_bytes());
    let length = choices.int_in_range(1..=LONGEST_BODY)?.min(choices.len());
    let mut body = choices.bytes(length)?.to_vec();
    // The first byte of most bodies says which message it is.
    if let Some(first) = body.first_mut() {
        *first &= 0x1F;
    }
    if !choices.ratio(1, 8)? {
        body = message(kind, &body).unwrap_or(body);
    }
    match choices.int_in_range(0..=9)? {
        0 => body.push(choices.arbitrary()?),
        1 if !body.is_empty() => {
            let at = choices.choose_index(body.len())?;
            body[at] = choices.arbitrary()?;
        }
        _ => {}
    }
    plain.extend(body);
    let crc = Crc::<u32>::new(&CRC_32_ISO_HDLC).checksum(&plain);
    plain.extend(crc.to_le_bytes());
    let mut wire = vec![0; cobs::max_encoding_length(plain.len()) + 1];
    let length = cobs::encode(&plain, &mut wire);
    wire.truncate(length + 1);
    Ok(wire)
}

/// Reads a message of a channel out of the beginning of any bytes and writes it as its sender would; `None` where they hold none.
fn message(kind: u8, bytes: &[u8]) -> Option<Vec<u8>> {
    match kind {
        channel::REQUEST => rewritten::<Request>(bytes),
        channel::REPLY => rewritten::<Reply>(bytes),
        channel::EVENT => rewritten::<Event>(bytes),
        channel::ADDRESSED => rewritten::<(Address, Request)>(bytes),
        channel::ANSWERED => rewritten::<(u32, Reply)>(bytes),
        _ => None,
    }
}

fn rewritten<'a, T: Deserialize<'a> + Serialize>(bytes: &'a [u8]) -> Option<Vec<u8>> {
    let (message, _rest) = postcard::take_from_bytes::<T>(bytes).ok()?;
    let mut buffer = [0; MAX_ENCODED];
    postcard::to_slice(&message, &mut buffer).ok().map(|written| written.to_vec())
}

/// What was read can be written, and is then read as the same.
fn stands(frame: &Frame) {
    if let Message::Event(Event::Samples(block)) = &frame.message {
        assert_eq!(
            block.samples().count(),
            usize::from(block.count),
            "a block has as many samples as it says"
        );
    }
    let mut buffer = [0; MAX_ENCODED + 1];
    let number = frame.sequence;
    let written = match &frame.message {
        Message::Request(request) => frame::encode_request(number, request, &mut buffer),
        Message::Reply(reply) => frame::encode_reply(number, reply, &mut buffer),
        Message::Event(event) => frame::encode_event(number, event, &mut buffer),
        Message::Addressed(address, request) => {
            frame::encode_addressed(number, *address, request, &mut buffer)
        }
        Message::Answered(boot, reply) => frame::encode_answered(number, *boot, reply, &mut buffer),
    };
    let mut wire = written.expect("what was read fits its buffer").to_vec();
    assert_eq!(wire.pop(), Some(0), "a frame ends with a zero");
    assert!(!wire.contains(&0), "a frame has no other zero");
    assert_eq!(frame::decode(&mut wire).as_ref(), Ok(frame), "read, written and read again");
}
