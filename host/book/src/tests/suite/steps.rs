//! Steps that may be taken with two books, drawn at random; each says what came of it.

use proptest::prelude::*;

use super::keeping::STORY;
use super::{assessment, file, second};
use crate::store::Store;
use crate::{Book, BookError, Change, NewEntry, Problem, RecordingNumber};

/// An entry to be written.
#[derive(Clone, Debug)]
pub(super) struct Small {
    cell: u8,
    person: Option<u8>,
    attached: Vec<u8>,
    corrects: Option<u32>,
    /// Finishes the unfinished recording at this place, under its own cell.
    finishes: Option<usize>,
    simulated: Option<bool>,
    /// Does not fit the book.
    bad: bool,
}

/// A step.
#[derive(Clone, Debug)]
pub(super) enum Step {
    Append(Small),
    AppendAll(Vec<Small>),
    AppendKeeping(Small, Vec<(u8, Option<u8>)>),
    Begin(u8),
    Record(u32, Vec<u8>),
    Blank(u32),
    Keep(Vec<(u8, Option<u8>)>),
    Forget,
    Merge,
}

fn small() -> impl Strategy<Value = Small> {
    let parts = (
        0..3_u8,
        proptest::option::of(0..3_u8),
        proptest::collection::vec(0..4_u8, 0..3),
        proptest::option::weighted(0.2, 0..6_u32),
        proptest::option::weighted(0.5, 0..3_usize),
        prop_oneof![6 => Just(Some(false)), 3 => Just(None), 1 => Just(Some(true))],
        proptest::bool::weighted(0.05),
    );
    parts.prop_map(|(cell, person, attached, corrects, finishes, simulated, bad)| Small {
        cell,
        person,
        attached,
        corrects,
        finishes,
        simulated,
        bad,
    })
}

/// Draws a step.
pub(super) fn step() -> impl Strategy<Value = Step> {
    let changes = || proptest::collection::vec((0..4_u8, proptest::option::of(any::<u8>())), 0..4);
    prop_oneof![
        4 => small().prop_map(Step::Append),
        1 => proptest::collection::vec(small(), 0..4).prop_map(Step::AppendAll),
        1 => (small(), changes()).prop_map(|(new, changes)| Step::AppendKeeping(new, changes)),
        2 => (0..3_u8).prop_map(Step::Begin),
        3 => (1..6_u32, proptest::collection::vec(any::<u8>(), 0..5)).prop_map(|(to, bytes)| Step::Record(to, bytes)),
        1 => (1..8_u32).prop_map(Step::Blank),
        1 => changes().prop_map(Step::Keep),
        1 => Just(Step::Forget),
        2 => Just(Step::Merge),
    ]
}

impl Small {
    fn entry(&self, book: &Book) -> Result<NewEntry, BookError> {
        let person = self.person.map(|person| format!("person {person}"));
        let unfinished = book.unfinished_recordings()?;
        let finished = self.finishes.and_then(|place| unfinished.get(place));
        let cell = finished.map_or_else(|| format!("C-{}", self.cell), |recording| recording.cell_id.clone());
        Ok(NewEntry {
            kind: if self.bad { " bad".into() } else { "assessment".into() },
            inputs: serde_json::json!({ "by": person, "cell": cell }),
            summary: format!("{cell} seen by {}", person.as_deref().unwrap_or("nobody")),
            personal: person.into_iter().collect(),
            simulated: self.simulated,
            corrects: self.corrects,
            attachments: self.attached.iter().map(|byte| file("trace", &[*byte; 3])).collect(),
            recordings: finished.map(|recording| recording.number).into_iter().collect(),
            ..assessment(&cell)
        })
    }
}

fn changes(drawn: &[(u8, Option<u8>)]) -> Vec<Change> {
    let change = |(key, value): &(u8, Option<u8>)| Change {
        key: format!("key {key}"),
        value: value.map(|value| value.to_string()),
        labels: vec![("all".into(), i64::from(value.unwrap_or(0))), (format!("label {}", key % 2), 0)],
    };
    drawn.iter().map(change).collect()
}

fn told<T: std::fmt::Debug>(done: Result<T, BookError>) -> String {
    match done {
        Ok(done) => format!("{done:?}"),
        Err(BookError { problem: Problem::Refused { rule }, .. }) => {
            panic!("the book asked for what its database refuses: {rule}")
        }
        Err(error) => error.to_string(),
    }
}

impl Step {
    /// Takes the step with a book, beside another one; returns what came of it.
    pub(super) fn take(&self, book: &mut Book, other: &dyn Store) -> String {
        let last = book.last().unwrap().map_or(0, |head| head.number);
        match self {
            Self::Append(new) => told(new.entry(book).and_then(|new| book.append(new))),
            Self::AppendAll(new) => {
                let new: Result<_, _> = new.iter().map(|one| one.entry(book)).collect();
                told(new.and_then(|new| book.append_all(new)))
            }
            Self::AppendKeeping(new, drawn) => {
                let from = book.kept_to(STORY).unwrap();
                let new = new.entry(book).unwrap();
                told(book.append_keeping(new, last, (STORY, from), &changes(drawn)))
            }
            Self::Begin(cell) => told(book.begin_recording(&format!("C-{cell}"), second(i64::from(*cell)))),
            Self::Record(to, bytes) => told(book.append_recording(RecordingNumber(*to), bytes)),
            Self::Blank(entry) => told(book.blank(*entry, "asked", "A. Hale", second(5))),
            Self::Keep(drawn) => {
                let from = book.kept_to(STORY).unwrap();
                told(book.keep(STORY, from, last, &changes(drawn)))
            }
            Self::Forget => told(book.forget_kept(STORY)),
            Self::Merge => told(book.merge_from(other)),
        }
    }
}
