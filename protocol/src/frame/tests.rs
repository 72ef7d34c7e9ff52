//! Frames there and back, damaged, and of other versions.

use super::*;
use crate::event::{Sensor, StepEnd};
use crate::reply::{Reject, RejectCause};
use crate::run::Token;
use crate::units::{Micros, NoData};

fn wire(request: &Request) -> ([u8; MAX_ENCODED + 1], usize) {
    let mut out = [0u8; MAX_ENCODED + 1];
    let len = encode_request(77, request, &mut out).unwrap().len();
    (out, len)
}

/// Replaces the header's first byte and mends the CRC.
fn with_version(version: u8, body_end: &[u8]) -> ([u8; 64], usize) {
    let mut plain = [0u8; 32];
    plain[..HEADER].copy_from_slice(&[version, channel::REQUEST, 1, 0, 0, 0]);
    plain[HEADER..HEADER + body_end.len()].copy_from_slice(body_end);
    let checked = HEADER + body_end.len();
    let crc = CRC.checksum(&plain[..checked]).to_le_bytes();
    plain[checked..checked + 4].copy_from_slice(&crc);
    let mut out = [0u8; 64];
    let len = cobs::try_encode(&plain[..checked + 4], &mut out).unwrap();
    (out, len)
}

#[test]
fn a_request_comes_back_as_sent() {
    let (mut out, len) = wire(&Request::AcknowledgeTrip { trip: 9 });
    let frame = decode(&mut out[..len - 1]).unwrap();
    assert_eq!(
        frame,
        Frame { sequence: 77, message: Message::Request(Request::AcknowledgeTrip { trip: 9 }) }
    );
}

#[test]
fn every_single_bit_flip_is_refused() {
    let (out, len) = wire(&Request::Start { plan: 0xDEAD_BEEF });
    for bit in 0..(len - 1) * 8 {
        let mut damaged = out;
        damaged[bit / 8] ^= 1 << (bit % 8);
        assert!(decode(&mut damaged[..len - 1]).is_err(), "bit {bit}");
    }
}

#[test]
fn an_older_sender_a_newer_sender_and_a_broken_one_are_told_apart() {
    let (mut old, len) = with_version(0, &[4]);
    assert_eq!(decode(&mut old[..len]), Err(FrameError::TooOld { theirs: 0 }));
    let (mut new, len) = with_version(200, &[250, 1]);
    assert_eq!(decode(&mut new[..len]), Err(FrameError::TooNew { theirs: 200 }));
    let (mut broken, len) = with_version(version::CURRENT, &[250, 1]);
    assert_eq!(decode(&mut broken[..len]), Err(FrameError::Body));
}

#[test]
fn a_newer_sender_is_understood_where_it_says_nothing_new() {
    let (mut new, len) = with_version(version::CURRENT + 1, &[5]);
    assert_eq!(decode(&mut new[..len]).unwrap().message, Message::Request(Request::KeepAlive));
}

#[test]
fn bytes_left_over_in_a_body_are_refused() {
    let (mut out, len) = with_version(version::CURRENT, &[5, 0]);
    assert_eq!(decode(&mut out[..len]), Err(FrameError::Body));
}

#[test]
fn what_was_there_in_version_1_is_marked_with_it_and_what_is_new_with_its_own() {
    let mark = |bytes: &[u8]| {
        let mut plain = [0u8; MAX_ENCODED];
        let candidate = &mut plain[..bytes.len() - 1];
        candidate.copy_from_slice(&bytes[..bytes.len() - 1]);
        decode(candidate).unwrap();
        candidate[0]
    };
    let reject = |cause| Reply::Rejected(Reject { cause, asked: 1, limit: 2 });
    let mut out = [0u8; MAX_ENCODED + 1];
    assert_eq!(mark(encode_request(1, &Request::Stop, &mut out).unwrap()), 1);
    assert_eq!(mark(encode_request(1, &Request::Describe, &mut out).unwrap()), 2);
    assert_eq!(mark(encode_reply(1, &reject(RejectCause::Unreadable), &mut out).unwrap()), 1);
    assert_eq!(mark(encode_reply(1, &reject(RejectCause::NoOwner), &mut out).unwrap()), 2);
    let missing = |cause| Event::Missing { sensor: Sensor::Charge, at: Micros::ZERO, cause };
    assert_eq!(mark(encode_event(1, &missing(NoData::Stale), &mut out).unwrap()), 1);
    assert_eq!(mark(encode_event(1, &missing(NoData::BusLocked), &mut out).unwrap()), 2);
    let ended = |charge| Event::StepEnded { step: 0, at: Micros::ZERO, cause: StepEnd::Time, charge };
    assert_eq!(mark(encode_event(1, &ended(Err(NoData::NoAnswer)), &mut out).unwrap()), 1);
    assert_eq!(mark(encode_event(1, &ended(Err(NoData::BusRecovered)), &mut out).unwrap()), 2);
    let address = Address { boot: 3, number: 9 };
    assert_eq!(mark(encode_addressed(1, address, &Request::ReadState, &mut out).unwrap()), 2);
    assert_eq!(mark(encode_answered(1, 3, &Reply::Done, &mut out).unwrap()), 2);
}

#[test]
fn an_address_comes_back_with_its_request_and_a_boot_number_with_its_reply() {
    let mut out = [0u8; MAX_ENCODED + 1];
    let address = Address { boot: 70_000, number: 300 };
    let request = Request::KeepRunning { token: Token(u64::MAX) };
    let len = encode_addressed(5, address, &request, &mut out).unwrap().len();
    let message = decode(&mut out[..len - 1]).unwrap().message;
    assert_eq!(message, Message::Addressed(address, request.clone()));
    assert_eq!(message.bare(), Message::Request(request));
    let len = encode_answered(5, 70_000, &Reply::Done, &mut out).unwrap().len();
    assert_eq!(decode(&mut out[..len - 1]).unwrap().message, Message::Answered(70_000, Reply::Done));
}

#[test]
fn a_new_message_marked_with_an_old_version_is_a_fault_of_its_sender() {
    let (mut out, len) = with_version(1, &[10]);
    assert_eq!(decode(&mut out[..len]), Err(FrameError::Body));
    let (mut out, len) = with_version(2, &[10]);
    assert_eq!(decode(&mut out[..len]).unwrap().message, Message::Request(Request::Describe));
}
