//! Whatever comes in whatever order: what was acknowledged is in the book, in order, once.

use std::path::Path;
use std::time::Duration;

use proptest::prelude::*;

use super::{Play, Played, entry, step, terms};
use crate::{Queue, Work};

#[derive(Clone, Debug)]
enum Act {
    Push(usize),
    Enter,
    Step(Play),
    /// A piece of work is taken and its answer comes only with the next step.
    Hang,
    Pass(u64),
}

fn play() -> impl Strategy<Value = Play> {
    prop_oneof![
        4 => Just(Play::Well),
        1 => Just(Play::Locked),
        1 => Just(Play::Full),
        1 => Just(Play::DoneUntold),
    ]
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        (0_usize..4_000).prop_map(Act::Push),
        Just(Act::Enter),
        play().prop_map(Act::Step),
        play().prop_map(Act::Step),
        Just(Act::Hang),
        (0_u64..4_000).prop_map(Act::Pass),
    ]
}

proptest! {
    #[test]
    fn what_was_acknowledged_is_in_the_book_in_order_once(acts in prop::collection::vec(act(), 0..200)) {
        let (mut queue, mut book) = (Queue::new(terms(Path::new("cells.book"))), Played::default());
        let (mut now, mut pushed, mut entries) = (Duration::ZERO, Vec::new(), 0_i64);
        let mut under_way: Option<Work> = None;
        for act in acts {
            match act {
                Act::Push(length) => {
                    let frame: Vec<u8> = (0..length).map(|place| (pushed.len() + place) as u8).collect();
                    let ticket = queue.push(&frame);
                    pushed.extend(frame);
                    prop_assert_eq!(ticket, pushed.len() as u64);
                }
                Act::Enter => {
                    entries += 1;
                    queue.enter(entry(entries));
                }
                Act::Hang => under_way = under_way.take().or_else(|| queue.next(now)),
                Act::Step(play) => {
                    if let Some(work) = under_way.take().or_else(|| queue.next(now)) {
                        let outcome = book.does(&work, play);
                        queue.done(outcome, now);
                    }
                }
                Act::Pass(milliseconds) => now += Duration::from_millis(milliseconds),
            }
            let kept = queue.acknowledged();
            prop_assert!(kept.bytes as usize <= book.bytes().len() && kept.entries as usize <= book.entries.len());
            prop_assert!(pushed.starts_with(book.bytes()));
        }
        if let Some(work) = under_way.take() {
            let outcome = book.does(&work, Play::Well);
            queue.done(outcome, now);
        }
        queue.finish_with(entry(0), now);
        for _ in 0..1_000 {
            now += Duration::from_secs(3);
            step(&mut queue, &mut book, now, Play::Well);
        }
        prop_assert!(queue.is_all_kept());
        prop_assert_eq!(book.bytes(), &pushed[..]);
        let wanted: Vec<String> = (1..=entries).chain([0]).map(|number| format!("alarm {number}")).collect();
        let found: Vec<String> = book.entries.iter().map(|entry| entry.summary.clone()).collect();
        prop_assert_eq!(found, wanted);
    }
}
