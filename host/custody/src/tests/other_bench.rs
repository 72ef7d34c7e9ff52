//! What came from another bench lifts nothing here that it cannot have known of; what that bench itself found, it may end.

use super::findings::watch;
use super::*;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::test_support::example;
use celltriage_book::{Book, NewEntry};
use celltriage_instrument::hot_cell::record::{Ended, watch_entry};
use celltriage_verdict::KnownKind;
use jiff::Timestamp;

const CELL: &str = "PE-1";

/// Two benches, each with a book of its own.
struct Benches {
    folder: tempfile::TempDir,
    here: Book,
    there: Book,
}

impl Benches {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let open = |name: &str| Book::open(folder.path().join(name)).unwrap();
        let (here, there) = (open("here"), open("there"));
        Self { folder, here, there }
    }

    /// The state here after the book from there was taken in, of which what is kept says the same.
    fn merged(&mut self) -> State {
        self.here.merge(&self.folder.path().join("there")).unwrap();
        State::keep_up(&mut self.here, &mut |_| {}).unwrap();
        State::read(&self.here).unwrap()
    }
}

fn write(book: &mut Book, event: Event) -> u32 {
    let kind = event.kind();
    let signed = Signed { schema: SCHEMA, by: "Ines Harrow".to_owned(), on: TODAY, event };
    let inputs = serde_json::to_value(&signed).unwrap();
    book.append(NewEntry { inputs, ..entry(kind, CELL, serde_json::Value::Null) }).unwrap().number
}

fn assess(book: &mut Book) -> u32 {
    let mut made = example(|_| {});
    made.conditions.date = TODAY;
    book.append(entry(ASSESSMENT, CELL, serde_json::to_value(&made).unwrap())).unwrap().number
}

fn judged_intact(book: &mut Book) {
    let world = World { state: State::read(book).unwrap(), ..World::new() };
    write(book, world.judgement(CELL, LegalState::IntactWaste));
}

fn held(state: &State) -> Vec<u32> {
    state.cells[CELL].found.iter().filter(|found| found.stands()).map(|found| found.entry).collect()
}

#[test]
fn a_release_there_ends_their_watch_and_not_ours() {
    let mut benches = Benches::new();
    write(&mut benches.there, hold(CELL, date(2026, 11, 26)));
    write(&mut benches.there, release(CELL));
    let alone = benches.merged();
    assert!(held(&alone).is_empty() && alone.cells[CELL].watch.is_none(), "it is theirs");
    let mut benches = Benches::new();
    let ours = write(&mut benches.here, hold(CELL, date(2027, 1, 10)));
    write(&mut benches.there, hold(CELL, date(2026, 11, 26)));
    let both = benches.merged();
    assert_eq!(both.cells[CELL].watch.as_ref().unwrap().hold.until, date(2027, 1, 10), "the later end");
    write(&mut benches.there, release(CELL));
    let state = benches.merged();
    assert!(held(&state).contains(&ours), "{:?}", held(&state));
    assert_eq!(state.cells[CELL].watch.as_ref().unwrap().hold.until, date(2027, 1, 10));
    write(&mut benches.here, release(CELL));
    assert!(held(&State::read(&benches.here).unwrap()).is_empty(), "who releases here has seen both");
}

#[test]
fn a_judgement_there_makes_no_cell_milder_that_was_found_critical_here() {
    let mut benches = Benches::new();
    assess(&mut benches.there);
    write(&mut benches.there, escalation(CELL));
    judged_intact(&mut benches.there);
    assert!(benches.merged().cells[CELL].acute().is_none(), "they have judged what they found");
    let mut benches = Benches::new();
    assess(&mut benches.here);
    write(&mut benches.here, escalation(CELL));
    assess(&mut benches.there);
    judged_intact(&mut benches.there);
    let state = benches.merged();
    assert_eq!(state.cells[CELL].legal(), LegalState::Critical);
    assert!(state.cells[CELL].acute().is_some());
    judged_intact(&mut benches.here);
    assert!(State::read(&benches.here).unwrap().cells[CELL].acute().is_none(), "who judges here has seen it");
}

#[test]
fn a_test_there_on_the_same_day_ends_no_incident_here() {
    let short = || incident(CELL, LifeEvent::ShortCircuit);
    let mut benches = Benches::new();
    write(&mut benches.there, short());
    assess(&mut benches.there);
    assert!(held(&benches.merged()).is_empty(), "they have tested it since");
    let mut benches = Benches::new();
    let ours = write(&mut benches.here, short());
    assess(&mut benches.there);
    assert_eq!(held(&benches.merged()), [ours]);
}

#[test]
fn looks_and_watches_there_may_be_older_than_what_was_found_here() {
    let may_end = |state: &State, entry: u32, kind| state.cells[CELL].grounds.may_end(&found(entry, kind));
    let look_twice = |book: &mut Book| {
        let found = write(book, incident(CELL, LifeEvent::ShortCircuit));
        for minutes in [0, 120] {
            write(book, temperature_look(CELL, minutes, 18.2));
        }
        let whole = watch_entry(CELL, &watch(7.0, Ended::Time), Timestamp::UNIX_EPOCH).unwrap();
        book.append(whole).unwrap();
        found
    };
    let mut benches = Benches::new();
    let ours = write(&mut benches.here, incident(CELL, LifeEvent::ShortCircuit));
    let theirs = look_twice(&mut benches.there) + ours;
    let state = benches.merged();
    for kind in [KnownKind::WarmAtRest, KnownKind::HeatAlarm] {
        assert!(may_end(&state, ours, kind).is_err(), "{kind:?}");
        assert_eq!(may_end(&state, theirs, kind), Ok(()), "{kind:?}");
    }
    // One at which it was warm here, between theirs, counts against theirs too.
    let mut benches = Benches::new();
    let warm = write(&mut benches.here, temperature_look(CELL, 60, 24.0));
    let theirs = look_twice(&mut benches.there) + warm;
    assert!(may_end(&benches.merged(), theirs, KnownKind::WarmAtRest).is_err());
    for minutes in [150, 230] {
        write(&mut benches.here, temperature_look(CELL, minutes, 18.2));
    }
    assert_eq!(may_end(&State::read(&benches.here).unwrap(), theirs, KnownKind::WarmAtRest), Ok(()));
}
