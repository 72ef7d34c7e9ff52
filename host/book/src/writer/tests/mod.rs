//! Tests of the writer, by what they concern; here a book that is played, and the words they share.

mod beside;
mod faults;
mod properties;
mod steps;
mod threads;

use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;

use crate::{
    BookError, Done, Entry, Head, Id, NewEntry, Problem, Queue, RecordingNumber, RecordingTerms, Work,
    Worker, record_entry,
};

/// What a played book does with a piece of work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Play {
    /// It is done.
    Well,
    /// Refused, for another program holds the lock.
    Locked,
    /// Refused, for the disk is full.
    Full,
    /// Done, but the answer is an error: the sync did not come back well.
    DoneUntold,
}

/// A book in memory.
#[derive(Default)]
struct Played {
    recording: Option<Vec<u8>>,
    finished: bool,
    entries: Vec<NewEntry>,
    /// How many bytes there were before each entry.
    after: Vec<usize>,
}

impl Played {
    fn does(&mut self, work: &Work, play: Play) -> Result<Done, BookError> {
        match play {
            Play::Well => Ok(self.commit(work)),
            Play::Locked => Err(refused(Problem::Locked)),
            Play::Full => Err(refused(Problem::DiskFull)),
            Play::DoneUntold => {
                // A recording that was begun and not told is left empty, and another is begun.
                if !matches!(work, Work::Begin { .. }) {
                    self.commit(work);
                }
                Err(refused(Problem::Storage(rusqlite::Error::QueryReturnedNoRows)))
            }
        }
    }

    fn commit(&mut self, work: &Work) -> Done {
        match work {
            Work::Open { recording } => {
                let recorded = recording.filter(|_| !self.finished).and(self.recording.as_ref());
                Done::Opened { recorded: recorded.map(|bytes| bytes.len() as u64) }
            }
            Work::Begin { .. } => {
                self.recording = Some(Vec::new());
                Done::Begun(RecordingNumber(1))
            }
            Work::Append { bytes, .. } => {
                assert!(!self.finished, "nothing is added to a finished recording");
                self.recording.as_mut().expect("begun").extend_from_slice(bytes);
                Done::Appended
            }
            Work::Enter(entry) => {
                // As every store must: one that was written already is not written twice.
                if self.entries.last() != Some(&**entry) {
                    self.finished |= !entry.recordings.is_empty();
                    self.after.push(self.recording.as_ref().expect("begun").len());
                    self.entries.push(NewEntry::clone(entry));
                }
                Done::Entered(Box::new(written(self.entries.len() as u32, entry)))
            }
        }
    }

    fn bytes(&self) -> &[u8] {
        self.recording.as_deref().unwrap_or_default()
    }
}

fn refused(problem: Problem) -> BookError {
    problem.at(Path::new("cells.book"))
}

fn written(number: u32, new: &NewEntry) -> Entry {
    let head = Head {
        number,
        chain: Id([0; 16]),
        position: number,
        from: None,
        at: new.at,
        kind: new.kind.clone(),
        subject: new.subject.clone(),
        simulated: new.simulated,
        fate: None,
        summary: new.summary.clone(),
        program: new.program.clone(),
        corrects: None,
        previous: crate::Digest::BEGINNING,
        digest: crate::Digest::BEGINNING,
    };
    Entry { head, inputs: new.inputs.clone(), result: new.result.clone() }
}

/// Takes a step as the thread does: the next piece of work, if there is one, done in no time.
fn step(queue: &mut Queue, book: &mut Played, now: Duration, play: Play) -> bool {
    let Some(work) = queue.next(now) else { return false };
    let outcome = book.does(&work, play);
    queue.done(outcome, now);
    true
}

fn terms(book: &Path) -> RecordingTerms {
    RecordingTerms { book: book.to_owned(), cell: "C-1".into(), began: second(0), most_bytes: 1 << 20 }
}

fn second(seconds: i64) -> Timestamp {
    Timestamp::from_second(1_790_000_000 + seconds).unwrap()
}

/// The n-th entry about the cell.
fn entry(number: i64) -> NewEntry {
    let new = NewEntry::of("alarm", crate::Subject::cell("C-1"), second(number));
    record_entry(NewEntry { summary: format!("alarm {number}"), ..new }, &number).unwrap()
}

struct Instantly;

impl Worker for Instantly {
    fn perform(&mut self, _: &Work) -> Result<Done, BookError> {
        Err(refused(Problem::DiskFull))
    }
}
