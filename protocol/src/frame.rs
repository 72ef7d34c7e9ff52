//! Messages to bytes on the wire and back.
//!
//! ```text
//! COBS( version u8 | channel u8 | sequence u32 little endian | postcard body | CRC-32 little endian ) 0x00
//! ```
//! Since version 2 the body of a request may begin with an [`Address`], and that of its reply with the boot number of the
//! program that answers; these have channels of their own. The version is the one that the message was added in.
//!
//! Header and CRC are frozen for all versions, so that any receiver can tell a newer sender from damage. The CRC is
//! CRC-32/ISO-HDLC (polynomial 0x04C11DB7, ISO/IEC 13239) over header and body. Byte stuffing is COBS (Cheshire and
//! Baker, IEEE/ACM Transactions on Networking 7 (1999) 159), the body is the documented postcard wire format.

use crate::address::Address;
use crate::event::Event;
use crate::reply::Reply;
use crate::request::Request;
use crate::version::{self, Since};
use crc::{CRC_32_ISO_HDLC, Crc};
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);
const HEADER: usize = 6;
const CRC_LEN: usize = 4;

const fn larger(a: usize, b: usize) -> usize {
    if a > b { a } else { b }
}

/// Longest body of any message.
pub const MAX_BODY: usize = larger(
    Address::POSTCARD_MAX_SIZE + Request::POSTCARD_MAX_SIZE,
    larger(u32::POSTCARD_MAX_SIZE + Reply::POSTCARD_MAX_SIZE, Event::POSTCARD_MAX_SIZE),
);
/// Longest frame before stuffing.
pub const MAX_PLAIN: usize = HEADER + MAX_BODY + CRC_LEN;
/// Longest frame on the wire without its closing zero: stuffing adds a byte for every 254 begun.
pub const MAX_ENCODED: usize = MAX_PLAIN + MAX_PLAIN.div_ceil(254);

// The fixture keeps a few of these in RAM. The exact figure is free; the check makes a change of it deliberate.
const _: () = assert!(MAX_ENCODED <= 1_300, "a frame outgrew what the fixture sets aside for it");

/// A message with its direction.
// The largest variant is the commonest one, and the fixture has no heap.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Message {
    /// Host to fixture.
    Request(Request),
    /// Fixture to host, with the sequence number of its request.
    Reply(Reply),
    /// Fixture to host, numbered on its own.
    Event(Event),
    /// Version 2: a request to one start of the fixture's program.
    Addressed(Address, Request),
    /// Version 2: the reply to such a request, with the boot number of the program that answers.
    Answered(u32, Reply),
}

impl Message {
    /// Returns what the message says to or of whichever program reads or sends it: itself without an address.
    #[must_use]
    pub fn bare(self) -> Self {
        match self {
            Message::Addressed(_, request) => Message::Request(request),
            Message::Answered(_, reply) => Message::Reply(reply),
            bare => bare,
        }
    }
}

/// Second byte of every frame, frozen for all versions.
pub mod channel {
    /// A request.
    pub const REQUEST: u8 = 1;
    /// A reply.
    pub const REPLY: u8 = 2;
    /// An event.
    pub const EVENT: u8 = 3;
    /// A request with an address in front.
    pub const ADDRESSED: u8 = 4;
    /// A reply with the boot number in front.
    pub const ANSWERED: u8 = 5;
}

/// A message with its number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame {
    /// Requests: chosen by the host. Replies: the request's. Events: consecutive.
    pub sequence: u32,
    /// The message.
    pub message: Message,
}

/// Why bytes are not a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameError {
    /// The byte stuffing is broken.
    Stuffing,
    /// Shorter than header and CRC.
    TooShort,
    /// The CRC does not match: damaged on the way.
    Crc,
    /// Intact, but from a sender older than this build reads.
    TooOld {
        /// The sender's version.
        theirs: u8,
    },
    /// Intact, but from a newer sender that says something this build does not know.
    TooNew {
        /// The sender's version.
        theirs: u8,
    },
    /// Intact and of a known version, but not a message: a fault of the sender.
    Body,
    /// The output buffer is too small.
    NoRoom,
}

/// Writes a request as bytes with closing zero; returns the written part of `out`.
///
/// # Errors
/// [`FrameError::NoRoom`] where `out` is shorter than [`MAX_ENCODED`] + 1 and the message does not fit.
pub fn encode_request<'a>(sequence: u32, body: &Request, out: &'a mut [u8]) -> Result<&'a [u8], FrameError> {
    encode([body.since(), channel::REQUEST], sequence, &[], body, out)
}

/// Writes a reply as bytes with closing zero; returns the written part of `out`.
///
/// # Errors
/// As [`encode_request`].
pub fn encode_reply<'a>(sequence: u32, body: &Reply, out: &'a mut [u8]) -> Result<&'a [u8], FrameError> {
    encode([body.since(), channel::REPLY], sequence, &[], body, out)
}

/// Writes an event as bytes with closing zero; returns the written part of `out`.
///
/// # Errors
/// As [`encode_request`].
pub fn encode_event<'a>(sequence: u32, body: &Event, out: &'a mut [u8]) -> Result<&'a [u8], FrameError> {
    encode([body.since(), channel::EVENT], sequence, &[], body, out)
}

/// Writes a request to one start of the fixture's program.
///
/// # Errors
/// As [`encode_request`].
pub fn encode_addressed<'a>(
    sequence: u32,
    address: Address,
    body: &Request,
    out: &'a mut [u8],
) -> Result<&'a [u8], FrameError> {
    let head = [version::OWNERSHIP.max(body.since()), channel::ADDRESSED];
    encode(head, sequence, &[address.boot, address.number], body, out)
}

/// Writes the reply to such a request.
///
/// # Errors
/// As [`encode_request`].
pub fn encode_answered<'a>(
    sequence: u32,
    boot: u32,
    body: &Reply,
    out: &'a mut [u8],
) -> Result<&'a [u8], FrameError> {
    encode([version::OWNERSHIP.max(body.since()), channel::ANSWERED], sequence, &[boot], body, out)
}

/// Numbers in front of the body are written one by one, so that there is one piece of code for each kind of body.
fn encode<'a>(
    [version, channel]: [u8; 2],
    sequence: u32,
    front: &[u32],
    body: &impl Serialize,
    out: &'a mut [u8],
) -> Result<&'a [u8], FrameError> {
    let mut plain = [0u8; MAX_PLAIN];
    let (header, rest) = plain.split_at_mut(HEADER);
    let [s0, s1, s2, s3] = sequence.to_le_bytes();
    header.copy_from_slice(&[version, channel, s0, s1, s2, s3]);
    let mut checked = HEADER;
    let mut rest = rest;
    for number in front {
        let written = postcard::to_slice(number, rest).map_err(|_| FrameError::NoRoom)?.len();
        checked += written;
        rest = rest.get_mut(written..).ok_or(FrameError::NoRoom)?;
    }
    checked += postcard::to_slice(body, rest).map_err(|_| FrameError::NoRoom)?.len();
    let crc = CRC.checksum(plain.get(..checked).ok_or(FrameError::NoRoom)?);
    let total = checked + CRC_LEN;
    plain.get_mut(checked..total).ok_or(FrameError::NoRoom)?.copy_from_slice(&crc.to_le_bytes());
    let plain = plain.get(..total).ok_or(FrameError::NoRoom)?;
    let stuffed = cobs::try_encode(plain, out).map_err(|_| FrameError::NoRoom)?;
    *out.get_mut(stuffed).ok_or(FrameError::NoRoom)? = 0;
    out.get(..=stuffed).ok_or(FrameError::NoRoom)
}

/// Reads a candidate frame (as [`crate::splitter::Splitter`] gives it) in place.
///
/// # Errors
/// One of [`FrameError`]; the header is judged before the body.
pub fn decode(candidate: &mut [u8]) -> Result<Frame, FrameError> {
    let Intact { theirs, kind, sequence, body } = open(candidate)?;
    let unknown = unknown(theirs);
    let (message, since) = match kind {
        channel::REPLY => {
            let reply: Reply = read(body).ok_or(unknown)?;
            let since = reply.since();
            (Message::Reply(reply), since)
        }
        channel::EVENT => match read(body).ok_or(unknown)? {
            Event::Samples(block) if !block.is_consistent() => return Err(unknown),
            event => {
                let since = event.since();
                (Message::Event(event), since)
            }
        },
        channel::ANSWERED => {
            let (boot, body) = take::<u32>(body).ok_or(unknown)?;
            let reply: Reply = read(body).ok_or(unknown)?;
            let since = version::OWNERSHIP.max(reply.since());
            (Message::Answered(boot, reply), since)
        }
        _ => match read_request(kind, body).ok_or(unknown)? {
            (None, request) => {
                let since = request.since();
                (Message::Request(request), since)
            }
            (Some(address), request) => {
                let since = version::OWNERSHIP.max(request.since());
                (Message::Addressed(address, request), since)
            }
        },
    };
    // A sender that marks a message with a version before it existed is at fault.
    if theirs < since { Err(FrameError::Body) } else { Ok(Frame { sequence, message }) }
}

/// Reads a candidate as [`decode`] does, but for the fixture, which has nothing but requests to read; `None` for an intact
/// frame that is none.
///
/// # Errors
/// As [`decode`].
pub fn decode_request(candidate: &mut [u8]) -> Result<Option<(u32, Option<Address>, Request)>, FrameError> {
    let Intact { theirs, kind, sequence, body } = open(candidate)?;
    if kind != channel::REQUEST && kind != channel::ADDRESSED {
        return Ok(None);
    }
    let (address, request) = read_request(kind, body).ok_or(unknown(theirs))?;
    let since = if address.is_some() { version::OWNERSHIP.max(request.since()) } else { request.since() };
    if theirs < since { Err(FrameError::Body) } else { Ok(Some((sequence, address, request))) }
}

/// A frame whose stuffing and CRC are right, and whose version is not too old.
struct Intact<'a> {
    theirs: u8,
    kind: u8,
    sequence: u32,
    body: &'a [u8],
}

fn open(candidate: &mut [u8]) -> Result<Intact<'_>, FrameError> {
    // A frame is what this encoder makes of it: a stuffing with slack at its end would give one message two faces.
    let stuffed_len = candidate.len();
    let len = cobs::decode_in_place(candidate).map_err(|_| FrameError::Stuffing)?;
    if len + len.div_ceil(254).max(1) < stuffed_len {
        return Err(FrameError::Stuffing);
    }
    let plain = candidate.get(..len).ok_or(FrameError::Stuffing)?;
    let (checked, crc) = plain
        .len()
        .checked_sub(CRC_LEN)
        .filter(|&checked| checked >= HEADER)
        .and_then(|checked| plain.split_at_checked(checked))
        .ok_or(FrameError::TooShort)?;
    if CRC.checksum(checked).to_le_bytes() != crc {
        return Err(FrameError::Crc);
    }
    let [theirs, kind, s0, s1, s2, s3, body @ ..] = checked else {
        return Err(FrameError::TooShort);
    };
    if *theirs < version::MIN {
        return Err(FrameError::TooOld { theirs: *theirs });
    }
    let sequence = u32::from_le_bytes([*s0, *s1, *s2, *s3]);
    Ok(Intact { theirs: *theirs, kind: *kind, sequence, body })
}

/// What a body is that cannot be read.
const fn unknown(theirs: u8) -> FrameError {
    if theirs > version::CURRENT { FrameError::TooNew { theirs } } else { FrameError::Body }
}

fn read_request(kind: u8, body: &[u8]) -> Option<(Option<Address>, Request)> {
    let (address, body) = match kind {
        channel::REQUEST => (None, body),
        channel::ADDRESSED => {
            let (boot, body) = take::<u32>(body)?;
            let (number, body) = take::<u32>(body)?;
            (Some(Address { boot, number }), body)
        }
        _ => return None,
    };
    Some((address, read(body)?))
}

/// Reads what a body begins with.
fn take<'a, T: Deserialize<'a>>(body: &'a [u8]) -> Option<(T, &'a [u8])> {
    postcard::take_from_bytes(body).ok()
}

/// Reads a body that must be used up to its last byte.
fn read<'a, T: Deserialize<'a>>(body: &'a [u8]) -> Option<T> {
    match postcard::take_from_bytes(body) {
        Ok((value, [])) => Some(value),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
