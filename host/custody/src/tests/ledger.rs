//! Custody in a real book: read back as it was written, and written by two at once.

use super::*;
use crate::error::CustodyError;
use crate::event_in_book::event_of;
use crate::kept_state::Scope;
use crate::ledger::{Ledger, Signature};
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::test_support::example;
use celltriage_book::{Book, Problem};
use celltriage_verdict::CellState;
use serde_json::json;
use std::cell::Cell as Once;

const ALL: Scope<'static> = Scope::All;

fn assessment(book: &mut Book, cell: &str, fate: Fate, condition: CellState) {
    let mut made = example(|subject| subject.nameplate.mass_g = Some(45.0));
    made.verdict.fate = fate;
    made.verdict.condition = condition;
    book.append(entry(ASSESSMENT, cell, serde_json::to_value(&made).unwrap())).unwrap();
}

fn signature() -> Signature {
    Signature { by: "Ines Harrow".to_owned(), on: TODAY, at: "2026-11-25T12:00:00Z".parse().unwrap() }
}

#[test]
fn what_is_written_is_read_back_as_the_same_state() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.sqlite");
    let mut book = Book::open(&path).unwrap();
    assessment(&mut book, "PE-1", Fate::Recycle, CellState::Intact);
    let rules = PackRules::new(Packs::built_in().unwrap());
    let circumstances = Circumstances { today: TODAY, rules: &rules };
    let mut write = |make: &dyn Fn(&State) -> Event| {
        Ledger::new()
            .record(&mut book, &signature(), &circumstances, &ALL, |state| Ok(make(state)))
            .unwrap()
            .1
    };
    write(&|_| opened("BOX", ContainerKind::Intact, "DE"));
    write(&|state| {
        let world = World { state: state.clone(), ..World::new() };
        world.judgement("PE-1", LegalState::IntactWaste)
    });
    let last = write(&|_| placed("BOX", "PE-1", None));
    drop(book);
    let book = Book::open_read_only(&path).unwrap();
    // What may be corrected is looked up when it is asked for.
    let without_entries = |state: &State| State { entries: Default::default(), ..state.clone() };
    assert_eq!(without_entries(&State::read(&book).unwrap()), without_entries(&last));
    assert!(book.verify().unwrap().passed());
    assert_eq!(last.cells["PE-1"].container(), Some("BOX"));
}

#[test]
fn a_refused_event_leaves_the_book_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
    assessment(&mut book, "PE-1", Fate::Recycle, CellState::Intact);
    let rules = PackRules::new(Packs::built_in().unwrap());
    let circumstances = Circumstances { today: TODAY, rules: &rules };
    let refused = Ledger::new()
        .record(&mut book, &signature(), &circumstances, &ALL, |_| Ok(placed("NO", "PE-1", None)))
        .unwrap_err();
    assert!(matches!(refused, CustodyError::Refused(Refusal::UnknownContainer(_))), "{refused}");
    assert_eq!(State::read(&book).unwrap().read_to, 1);
}

#[test]
fn two_who_put_one_cell_into_two_containers_at_once_do_not_both_succeed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.sqlite");
    let mut book = Book::open(&path).unwrap();
    assessment(&mut book, "PE-1", Fate::Quarantine, CellState::DamagedOrDefective);
    let rules = PackRules::new(Packs::built_in().unwrap());
    let circumstances = Circumstances { today: TODAY, rules: &rules };
    for name in ["A", "B"] {
        let event = opened(name, ContainerKind::Quarantine, "DE");
        Ledger::new().record(&mut book, &signature(), &circumstances, &ALL, |_| Ok(event.clone())).unwrap();
    }
    // The other bench writes between this one's reading and writing.
    let meddled = Once::new(false);
    let refused = Ledger::new()
        .record(&mut book, &signature(), &circumstances, &ALL, |_| {
            if !meddled.replace(true) {
                let mut other = Book::open(&path).unwrap();
                Ledger::new()
                    .record(&mut other, &signature(), &circumstances, &ALL, |_| {
                        Ok(placed("B", "PE-1", Some("b")))
                    })
                    .unwrap();
            }
            Ok(placed("A", "PE-1", Some("a")))
        })
        .unwrap_err();
    assert!(refused.to_string().contains("in container B already"), "{refused}");
    let state = State::read(&book).unwrap();
    assert_eq!((state.cells_in("A").count(), state.cells_in("B").count()), (0, 1));
}

#[test]
fn whoever_reads_while_others_write_has_each_event_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.sqlite");
    let mut book = Book::open(&path).unwrap();
    assessment(&mut book, "PE-1", Fate::Quarantine, CellState::DamagedOrDefective);
    let rules = PackRules::new(Packs::built_in().unwrap());
    let circumstances = Circumstances { today: TODAY, rules: &rules };
    let mut write = |event: Event| {
        Ledger::new().record(&mut book, &signature(), &circumstances, &ALL, |_| Ok(event.clone())).unwrap();
    };
    write(hold("PE-1", TODAY));
    let done = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let reader = Book::open_read_only(&path).unwrap();
            while !done.load(std::sync::atomic::Ordering::Relaxed) {
                let state = State::about(&reader, &["PE-1"]).unwrap();
                let watch = state.cells["PE-1"].watch.as_ref().unwrap();
                let seen: Vec<u32> = watch.inspections.iter().map(|(entry, ..)| *entry).collect();
                assert!(seen.is_sorted_by(|a, b| a < b), "{seen:?}");
            }
        });
        for _ in 0..150 {
            write(inspection("PE-1", Look::Unchanged, Some(18.0)));
        }
        done.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

#[test]
fn an_entry_is_written_only_after_the_entry_that_was_last() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
    assert_eq!(book.append_after(entry("note", "PE-1", json!({})), 0).unwrap().number, 1);
    let refused = book.append_after(entry("note", "PE-1", json!({})), 0).unwrap_err();
    assert!(matches!(refused.problem, Problem::Grown));
    assert_eq!(book.append_after(entry("note", "PE-1", json!({})), 1).unwrap().number, 2);
}

#[test]
fn what_another_bench_wrote_says_here_what_it_said_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let rules = PackRules::new(Packs::built_in().unwrap());
    let circumstances = Circumstances { today: TODAY, rules: &rules };
    let write = |book: &mut Book, make: &dyn Fn(&State) -> Event| {
        Ledger::new().record(book, &signature(), &circumstances, &ALL, |state| Ok(make(state))).unwrap();
    };
    let (mut here, mut there) = (Book::open(path("here")).unwrap(), Book::open(path("there")).unwrap());
    for cell in ["PE-1", "PE-2"] {
        assessment(&mut here, cell, Fate::Recycle, CellState::Intact);
    }
    write(&mut here, &|_| hold("PE-1", date(2027, 1, 10)));
    let watch = |book: &Book| State::read(book).unwrap().cells["PE-1"].watch.clone();
    let watched = watch(&here);
    assessment(&mut there, "PE-8", Fate::Quarantine, CellState::DamagedOrDefective);
    assessment(&mut there, "PE-9", Fate::Recycle, CellState::Intact);
    write(&mut there, &|state| {
        World { state: state.clone(), ..World::new() }.judgement("PE-9", LegalState::IntactWaste)
    });
    let strike = |entry: u32, of: &str, subject: &str| {
        Event::Correction(Correction {
            entry,
            of: of.to_owned(),
            subject: subject.to_owned(),
            because: "wrong tag".to_owned(),
            strike: true,
        })
    };
    let strike = strike(1, ASSESSMENT, "PE-8");
    Ledger::new()
        .record(&mut there, &signature(), &circumstances, &Scope::Entry(1), |_| Ok(strike.clone()))
        .unwrap();
    here.merge(&path("there")).unwrap();
    let state = State::read(&here).unwrap();
    // Their entry 1 is entry 4 here, and entry 1 here is another cell's.
    assert_eq!(state.struck.keys().copied().collect::<Vec<_>>(), [4]);
    assert_eq!(state.cells["PE-8"].facts.as_ref().unwrap().fate, Fate::Undecided);
    assert_eq!(state.cells["PE-1"].facts.as_ref().unwrap().fate, Fate::Recycle);
    assert_eq!(state.cells["PE-9"].legal(), LegalState::IntactWaste, "the judgement is of its assessment");
    assert_eq!(watch(&here), watched, "their times are not this bench's");
    // And what is done here goes on from there.
    write(&mut here, &|_| opened("BOX", ContainerKind::Intact, "DE"));
    write(&mut here, &|_| placed("BOX", "PE-9", None));
    assert!(here.verify().unwrap().passed());
}

#[test]
fn a_later_form_and_a_damaged_event_are_errors_and_not_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
    let mut later = entry("cell-placed", "PE-1", json!({}));
    later.inputs = json!({ "schema": 2, "by": "x" });
    let later = book.append(later).unwrap();
    assert!(event_of(&book, &later).unwrap_err().to_string().contains("format 2"));
    let damaged = book.append(entry("cell-placed", "PE-1", json!({}))).unwrap();
    assert!(event_of(&book, &damaged).unwrap_err().to_string().contains("cannot be read"));
    assert!(State::read(&book).is_err());
    let other = book.append(entry("something-else", "PE-1", json!({}))).unwrap();
    assert_eq!(event_of(&book, &other).unwrap(), None);
}

#[test]
fn the_stored_form_of_an_event_stays_what_it_is() {
    let signed = Signed {
        schema: SCHEMA,
        by: "Ines Harrow".to_owned(),
        on: TODAY,
        event: placed("BOX", "PE-1", Some("a")),
    };
    let stored = r#"{"schema":1,"by":"Ines Harrow","on":"2026-11-25","event":{"what":"cell-placed","cell":"PE-1","container":"BOX","inner":"a","weighed":null}}"#;
    assert_eq!(serde_json::to_string(&signed).unwrap(), stored);
    assert_eq!(serde_json::from_str::<Signed>(stored).unwrap(), signed);
}

#[test]
fn the_kind_of_the_entry_is_the_kind_in_the_event() {
    for event in [placed("BOX", "PE-1", None), hold("PE-1", TODAY), agreed("S1"), handed_over("S1", None)] {
        assert_eq!(serde_json::to_value(&event).unwrap()["what"], event.kind());
        assert!(Event::KINDS.contains(&event.kind()));
    }
}
