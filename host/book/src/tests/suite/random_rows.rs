//! Random calls below the book's own rules: every database takes the same and refuses the same.

use std::sync::Arc;

use proptest::prelude::*;

use super::between::Between;
use super::calls::Calls;
use super::dump::dump;
use super::{Place, begin, file, fill, write};
use crate::store::{EntryRow, KeptRow, KeptTo, LinkRow, PersonalRow, RecordingRow, RowsMut, Store};
use crate::texts::Packed;
use crate::{BLANKED_KIND, Book, Chain, Digest, Id, Problem, Sort, Subject};

/// A call: which, how far its numbers are from those that fit, and a choice.
type Call = (u8, i64, i64, u8);

fn call() -> impl Strategy<Value = Call> {
    let off = || prop_oneof![9 => Just(0), 1 => Just(-1_i64), 1 => Just(1_i64)];
    let which = prop_oneof![3 => 0..20_u8, 1 => Just(3_u8), 1 => 4..10_u8];
    (which, off(), off(), 0..4_u8)
}

fn entry(rows: &dyn RowsMut, off: i64, place_off: i64, choice: u8) -> Result<EntryRow, Problem> {
    let last = rows.last()?.ok_or(Problem::Missing)?;
    let number = last.number + 1 + off;
    let chain = if choice == 3 { 2 } else { 1 };
    Ok(EntryRow {
        number,
        chain,
        position: rows.head(chain)?.map_or(0, |(position, _)| position) + 1 + place_off,
        origin: if choice == 2 { 2 } else { 1 },
        origin_number: number,
        kind: [BLANKED_KIND, "look", "", "look"][usize::from(choice)].into(),
        fate: [None, Some("reuse".into()), None, Some("".into())][usize::from(choice)].clone(),
        corrects: Some(i64::from(choice) + 1),
        ..last
    })
}

/// Makes a call.
fn make(rows: &mut dyn RowsMut, (which, off, place_off, choice): Call) -> Result<(), Problem> {
    let next = rows.last()?.map_or(0, |row| row.number) + 1 + off;
    let name = ["C-1", "C-2", "", "C-3"][usize::from(choice)];
    let recording = rows.last_recording()?;
    let digest = Digest::of(&[choice]);
    match which {
        0 => rows.add_book(Id([choice; 16])).map(drop),
        1 => {
            let bench = if place_off == 0 { "bench" } else { "" }.to_owned();
            rows.add_chain(&Chain { id: Id([choice; 16]), bench, home: false }).map(drop)
        }
        2 => rows.set_sort(Sort::Mixed),
        3 => rows.add_entry(&entry(rows, off, place_off, choice)?),
        4 => rows.add_text(next * 2 + i64::from(choice % 2), &Packed::of("{}")),
        5 => rows.add_words(next, name),
        6 => {
            let place = rows.about(next)?.len() as i64 + 1 + place_off;
            rows.add_about(next, place, &Subject::cell(name))
        }
        7 => {
            let place = rows.personal(next)?.len() as i64 + 1 + place_off;
            rows.add_personal(next, place, &PersonalRow::of([choice; 16], name))
        }
        8 => rows.blank(i64::from(choice), "blank"),
        9 => {
            let place = rows.attachments(next)?.len() as i64 + 1 + place_off;
            rows.add_attachment(next, place, &file(name, &[choice]))
        }
        10 => {
            let (origin, origin_number) = (i64::from(choice).clamp(1, 3), i64::from(choice) + place_off);
            let (number, cell_id) = (recording + 1 + off, if choice == 0 { "" } else { "C-1" }.to_owned());
            rows.add_recording(&RecordingRow {
                number,
                at_ms: 7,
                cell_id,
                origin,
                origin_number,
                finished: None,
            })
        }
        11 => {
            let place = rows.last_chunk(recording + off)? + 1 + place_off;
            rows.add_chunk(recording + off, place, &[choice])
        }
        12 => {
            let number = rows.last_link()?.map_or(0, |link| link.number) + 1 + place_off;
            let position = i64::from(choice);
            rows.add_link(&LinkRow { number, recording: recording + off, position, content: digest, digest })
        }
        13 => rows.finish(recording - i64::from(choice), next, digest, 5),
        14 => rows.add_known_as(i64::from(choice), place_off, next - 1),
        15 => rows.set_kept_to("story", &KeptTo { version: 1, number: next, digest }),
        16 | 19 => {
            let value = KeptRow { packed: Packed::of(name), digest };
            let labels = [("all".to_owned(), off), (name.to_owned(), place_off), ("all".to_owned(), off)];
            rows.set_kept("count", name, (off == 0).then_some(&value), &labels)
        }
        17 => rows.clear_kept("story"),
        _ => rows.clear_all_kept(),
    }
}

/// Runs requests of many calls each; returns whether each call and each request was taken, and what is left.
fn run(new: super::New, requests: &[(Vec<Call>, bool)]) -> Vec<String> {
    let place = new();
    let mut store = Between { inner: place.store(), calls: Arc::new(Calls::seeded(1)) };
    begin(&mut store, 1);
    fill(&mut Book::over(Box::new(store), "a book of the suite"));
    let mut store = place.store();
    let mut told = Vec::new();
    for (calls, fails) in requests {
        let done = write(&mut *store, |rows| {
            for call in calls {
                let taken = make(rows, *call);
                let known = matches!(&taken, Ok(()) | Err(Problem::Refused { .. }));
                assert!(known, "{call:?}: {taken:?}");
                told.push(format!("{call:?} taken {}", taken.is_ok()));
            }
            if *fails { Err(Problem::Grown) } else { Ok(()) }
        });
        told.push(format!("request taken {}", done.is_ok()));
        told.extend(dump(&*store));
        assert_eq!(store.own_check().unwrap(), [""; 0]);
    }
    let other: Box<dyn Store> = place.store();
    told.extend(dump(&*other));
    told
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn the_same_calls_are_taken_and_the_same_refused(
        requests in proptest::collection::vec(
            (proptest::collection::vec(call(), 1..12), proptest::bool::weighted(0.1)), 1..8),
    ) {
        let (sqlite, memory) = (run(Place::sqlite, &requests), run(Place::memory, &requests));
        for (one, other) in sqlite.iter().zip(&memory) {
            prop_assert_eq!(one, other);
        }
        prop_assert_eq!(sqlite.len(), memory.len());
    }
}
