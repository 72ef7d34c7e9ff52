//! A fault at every n-th piece of work, and at each single one: what was pushed stands there, in order, once.

use std::path::Path;
use std::time::Duration;

use super::{Play, Played, entry, step, terms};
use crate::Queue;

/// Pushes frames and entries while each piece of work goes as said, then lets all go well; checks that all is there.
fn survives(name: &str, mut play: impl FnMut(usize) -> Play) {
    let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
    let (mut pushed, mut works) = (Vec::new(), 0_usize);
    let mut now = Duration::ZERO;
    for turn in 0..200_u32 {
        now += Duration::from_millis(500);
        pushed.extend_from_slice(&turn.to_le_bytes());
        queue.push(&turn.to_le_bytes());
        if turn % 17 == 5 {
            queue.enter(entry(turn.into()));
        }
        while step(&mut queue, &mut book, now, play(works + 1)) {
            works += 1;
            assert!(queue.acknowledged().bytes <= book.bytes().len() as u64, "{name}");
            assert!(queue.acknowledged().entries <= book.entries.len() as u64, "{name}");
        }
    }
    queue.finish_with(entry(1_000), now);
    for _ in 0..100 {
        now += Duration::from_secs(3);
        step(&mut queue, &mut book, now, Play::Well);
    }
    assert!(queue.is_all_kept(), "{name}");
    assert_eq!(book.bytes(), pushed, "{name}");
    let summaries: Vec<&str> = book.entries.iter().map(|entry| entry.summary.as_str()).collect();
    let mut wanted: Vec<String> = (5..200).step_by(17).map(|turn| format!("alarm {turn}")).collect();
    wanted.push("alarm 1000".to_owned());
    assert_eq!(summaries, wanted, "{name}");
    let after: Vec<usize> = (5..200).step_by(17).map(|turn| (turn + 1) * 4).chain([800]).collect();
    assert_eq!(book.after, after, "{name}: each entry after the frames before it");
}

const PLAYS: [Play; 3] = [Play::Locked, Play::Full, Play::DoneUntold];

#[test]
fn a_fault_at_every_nth_piece_of_work_loses_and_doubles_nothing() {
    for play in PLAYS {
        // A book that never does anything well takes nothing, so from every second on.
        for every in 2..40 {
            let name = format!("{play:?} at every {every}");
            survives(&name, |work| if work % every == 0 { play } else { Play::Well });
        }
    }
}

#[test]
fn a_fault_at_any_single_piece_of_work_loses_and_doubles_nothing() {
    for play in PLAYS {
        for only in 1..120 {
            survives(&format!("{play:?} at {only}"), |work| if work == only { play } else { Play::Well });
        }
    }
}
