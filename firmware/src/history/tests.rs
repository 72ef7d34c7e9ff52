//! The history against a plain list of what was pushed, with a link that takes as much as it likes.

extern crate std;
use super::*;
use celltriage_protocol::block::BlockWriter;
use celltriage_protocol::frame::{Message, decode};
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, NoData};
use proptest::prelude::*;
use std::vec::Vec;

/// An event of some size that can be told from others.
fn event(id: u64, samples: u8) -> Event {
    let mut writer = BlockWriter::new(0, Micros::new(id), 1_000);
    for sample in 0..samples {
        let scattered = i32::from(sample).wrapping_mul(0x2545_F491);
        let _ = writer.push(MicroVolts::new(scattered), MicroAmps::new(-scattered));
    }
    Event::Samples(writer.finish(Err(NoData::NotYet), Err(NoData::NotYet), Err(NoData::NotYet)))
}

/// What a host makes of the bytes: number and event of each intact frame, and how many were damaged.
fn received(bytes: &[u8]) -> (Vec<(u32, Event)>, usize) {
    let (mut splitter, mut intact, mut damaged) = (Splitter::new(), Vec::new(), 0);
    for &byte in bytes {
        match splitter.push(byte).map(|split| match split {
            Split::Candidate(candidate) => decode(candidate).ok(),
            Split::TooLong => None,
        }) {
            Some(Some(frame)) => match frame.message {
                Message::Event(event) => intact.push((frame.sequence, event)),
                other => panic!("not an event: {other:?}"),
            },
            Some(None) => damaged += 1,
            None => {}
        }
    }
    (intact, damaged)
}

fn take_all(history: &mut History) -> Vec<u8> {
    let mut wire = Vec::new();
    while history.has_unsent() {
        let bytes = history.to_send().to_vec();
        wire.extend_from_slice(&bytes);
        history.sent(bytes.len());
    }
    wire
}

#[test]
fn everything_comes_out_once_and_in_order() {
    let mut history = History::new();
    for id in 0..5 {
        history.push(&event(id, 10));
    }
    let (events, damaged) = received(&take_all(&mut history));
    assert_eq!(events, (0..5).map(|id| (id as u32, event(id, 10))).collect::<Vec<_>>());
    assert_eq!(damaged, 0);
    assert!(!history.has_unsent());
}

#[test]
fn what_was_sent_is_sent_again_on_request() {
    let mut history = History::new();
    for id in 0..5 {
        history.push(&event(id, 10));
    }
    take_all(&mut history);
    assert_eq!(history.resend_from(3), Ok(()));
    let (events, _) = received(&take_all(&mut history));
    assert_eq!(events, [(3, event(3, 10)), (4, event(4, 10))]);
}

#[test]
fn what_is_not_kept_and_what_is_not_there_yet_is_refused() {
    let mut history = History::new();
    assert_eq!(history.resend_from(0), Err(0));
    for id in 0..100 {
        history.push(&event(id, 30));
    }
    assert!(history.oldest() > 0);
    assert_eq!(history.resend_from(0), Err(history.oldest()));
    assert_eq!(history.resend_from(100), Err(history.oldest()));
    assert_eq!(history.resend_from(99), Ok(()));
}

#[test]
fn asking_for_what_is_still_to_come_skips_nothing() {
    let mut history = History::new();
    history.push(&event(0, 1));
    history.push(&event(1, 1));
    assert_eq!(history.resend_from(1), Ok(()));
    let (events, _) = received(&take_all(&mut history));
    assert_eq!(events.len(), 2);
}

#[test]
fn a_frame_that_had_to_go_half_sent_costs_no_other_one() {
    let mut history = History::new();
    history.push(&event(0, 30));
    let first_half = history.to_send().get(..20).unwrap().to_vec();
    history.sent(20);
    let mut id = 0;
    while history.oldest() == 0 {
        id += 1;
        history.push(&event(id, 30));
    }
    let mut wire = first_half;
    wire.extend(take_all(&mut history));
    let (events, damaged) = received(&wire);
    assert_eq!(events.first(), Some(&(1, event(1, 30))));
    assert_eq!(events.len() as u64, id);
    assert_eq!(damaged, 1, "only the torso");
}

proptest! {
    #[test]
    fn whatever_the_link_takes_frames_are_intact_in_order_and_gaps_show(
        steps in proptest::collection::vec((0..4u8, 0..60u8, 1..400usize), 1..300)
    ) {
        let mut history = History::new();
        let mut wire = Vec::new();
        let mut pushed = Vec::new();
        let mut resends = 0;
        for (kind, samples, bytes) in steps {
            match kind {
                0 | 1 => {
                    let event = event(pushed.len() as u64, samples);
                    history.push(&event);
                    pushed.push(event);
                }
                2 => {
                    let offered = history.to_send();
                    let taken = offered.len().min(bytes);
                    wire.extend_from_slice(&offered[..taken]);
                    history.sent(taken);
                }
                _ => {
                    let wanted = history.next().saturating_sub(bytes as u32 % 20);
                    if history.resend_from(wanted).is_ok() {
                        resends += 1;
                    }
                }
            }
            prop_assert!(history.len <= SIZE && history.taken <= history.len);
        }
        wire.extend(take_all(&mut history));
        let (events, _damaged) = received(&wire);
        for (sequence, event) in &events {
            prop_assert_eq!(event, &pushed[*sequence as usize]);
        }
        let backwards = events.windows(2).filter(|pair| pair[1].0 <= pair[0].0).count();
        prop_assert!(backwards <= resends);
        if let Some(last) = pushed.len().checked_sub(1) {
            prop_assert_eq!(events.last().unwrap().0 as usize, last, "the newest always comes through");
        }
        let kept: Vec<u32> = (history.oldest()..history.next()).collect();
        if let Some(&oldest) = kept.first() {
            prop_assert_eq!(history.resend_from(oldest), Ok(()));
            let (again, damaged) = received(&take_all(&mut history));
            prop_assert_eq!(damaged, 0);
            prop_assert_eq!(again.iter().map(|(sequence, _)| *sequence).collect::<Vec<_>>(), kept);
        }
    }
}
