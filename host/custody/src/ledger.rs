//! Custody in the book: the state read from it, and an event written only if it still fits.
//!
//! Takes a book; gives the [`State`], and writes one event at a time. Two people at two benches may write at once: an
//! event is checked against the state up to the last entry, and written only if that entry is still the last; otherwise
//! state and check are made again. The commit holds the entry alone: what is kept is brought forward later.

use crate::about::{is_about_simulated, sort_of, subjects};
use crate::check::check;
use crate::circumstances::Circumstances;
use crate::error::CustodyError;
use crate::event::{
    CellLeft, CellReturned, ContainerLeft, ContainerReturned, Correction, Event, FollowUp, SCHEMA, Signed,
};
use crate::kept_state::Scope;
use crate::loading::{FOLD, Held};
use crate::refusal::Refusal;
use crate::state::State;
use crate::summary::summary;
use celltriage_book::{Book, BookError, Entry, MOST_BEHIND, NewAttachment, NewEntry, Problem};
use celltriage_instrument::simulated::marked;
use jiff::Timestamp;
use jiff::civil::Date;
use std::sync::Arc;

/// How often an event is tried while others write. Each failed try means that another one succeeded.
const TRIES: usize = 50;

/// Who writes, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// Who did it.
    pub by: String,
    /// On what day it happened.
    pub on: Date,
    /// When it is written down.
    pub at: Timestamp,
}

/// Who writes events one after the other: holds the state after the last one, so that the next reads little.
#[derive(Debug)]
pub struct Ledger {
    held: Option<Held>,
    most_behind: u32,
}

impl Default for Ledger {
    fn default() -> Self {
        Self::new()
    }
}

impl Ledger {
    /// Begins with nothing in memory.
    pub const fn new() -> Self {
        Self::keeping_within(MOST_BEHIND)
    }

    /// The same; what is kept falls behind by no more than so many entries.
    pub(crate) const fn keeping_within(most_behind: u32) -> Self {
        Self { held: None, most_behind }
    }

    /// Makes an event from the present state of what it is about, checks it, and writes it; it is on the disk when this returns.
    ///
    /// # Errors
    /// A refusal as an input error, or a book error; nothing is written then.
    pub fn record(
        &mut self,
        book: &mut Book,
        signature: &Signature,
        circumstances: &Circumstances<'_>,
        scope: &Scope<'_>,
        make: impl Fn(&State) -> Result<Event, Refusal>,
    ) -> Result<(Entry, Arc<State>), CustodyError> {
        self.record_with(book, signature, circumstances, scope, &[], make)
    }

    /// The same with files that are kept with the entry.
    ///
    /// # Errors
    /// As [`Ledger::record`].
    pub fn record_with(
        &mut self,
        book: &mut Book,
        signature: &Signature,
        circumstances: &Circumstances<'_>,
        scope: &Scope<'_>,
        files: &[NewAttachment],
        make: impl Fn(&State) -> Result<Event, Refusal>,
    ) -> Result<(Entry, Arc<State>), CustodyError> {
        for _ in 0..TRIES {
            self.keep_up(book)?;
            // Taken out: what is refused or overtaken leaves nothing that was only thought of.
            let mut loading = scope.load_on(book, self.held.take())?;
            if loading.from == 0 && book.kept_to(FOLD)? > 0 {
                // What is kept of it is damaged; it was read from the entries, and is kept again.
                book.forget_kept(FOLD)?;
                continue;
            }
            let last = loading.state.read_to;
            loading.state.pass_to(signature.at);
            let event = make(&loading.state)?;
            let signed = Signed { schema: SCHEMA, by: signature.by.clone(), on: signature.on, event };
            check(&loading.state, &signed, circumstances)?;
            let new = new_entry(book, &loading.state, &signed, signature.at)?;
            let new = NewEntry { attachments: files.to_vec(), ..new };
            let next = last.saturating_add(1);
            loading.touch(next, signed.event.subject(), Some(&signed.event))?;
            loading.state.apply(next, &signed);
            let written = loading.let_go();
            match book.append_after(new, last) {
                Ok(entry) => {
                    let (state, held) = written.up_to(entry.digest);
                    self.held = held;
                    return Ok((entry, state));
                }
                Err(error) if matches!(error.problem, Problem::Grown) => {}
                Err(error) => return Err(error.into()),
            }
        }
        Err(CustodyError::Overtaken { book: book.path().display().to_string() })
    }

    /// Brings what is kept forward, many entries at once, where it has fallen far behind.
    fn keep_up(&self, book: &mut Book) -> Result<(), CustodyError> {
        let behind = match &self.held {
            Some(held) => held.behind(),
            None => book.behind(FOLD)?,
        };
        if behind >= self.most_behind { State::keep_up(book, &mut |_| {}) } else { Ok(()) }
    }
}

fn new_entry(book: &Book, state: &State, signed: &Signed, at: Timestamp) -> Result<NewEntry, BookError> {
    let simulated = is_about_simulated(state, &signed.event);
    let corrects = match &signed.event {
        Event::Correction(Correction { entry, .. }) => Some(*entry),
        _ => None,
    };
    let mut about = subjects(&signed.event);
    let subject = about.remove(0);
    Ok(NewEntry {
        about,
        simulated: sort_of(state, &signed.event),
        summary: marked(&summary(signed), simulated),
        inputs: serde_json::to_value(signed).map_err(|error| book.not_storable("event", error))?,
        personal: persons(signed),
        corrects,
        ..NewEntry::of(signed.event.kind(), subject, at)
    })
}

/// The names of people in an event.
fn persons(signed: &Signed) -> Vec<String> {
    let mut persons = vec![signed.by.clone()];
    named_in(&signed.event, &mut persons);
    persons.sort();
    persons.dedup();
    // The longest first: a name may be a part of another text.
    persons.sort_by_key(|text| std::cmp::Reverse(text.len()));
    persons
}

fn named_in(event: &Event, persons: &mut Vec<String>) {
    match event {
        Event::Irregularity(irregular) => {
            irregular.event.iter().for_each(|event| named_in(event, persons));
        }
        Event::HandedOver(handed) => {
            persons.extend([handed.received_by.clone(), handed.checked_by.clone()]);
        }
        // An owner or a buyer may be a private person.
        Event::CellLeft(CellLeft { departure, .. })
        | Event::ContainerLeft(ContainerLeft { departure, .. }) => {
            persons.extend(departure.to.clone());
        }
        Event::Received(received) => {
            persons.extend(received.from.iter().chain(&received.owner).cloned());
        }
        Event::CellReturned(CellReturned { arrival, .. })
        | Event::ContainerReturned(ContainerReturned { arrival, .. }) => {
            persons.extend(arrival.from.clone());
        }
        Event::ShipmentFollowedUp(after) => match &after.follow_up {
            FollowUp::Certificate { issued_by: name, .. } | FollowUp::Refused { refused_by: name, .. } => {
                persons.push(name.clone());
            }
            FollowUp::Receipt { .. } | FollowUp::Settled { .. } => {}
        },
        Event::ShipmentDrafted(draft) => {
            persons.extend(draft.contents.iter().map(|item| item.assessor.clone()));
        }
        _ => {}
    }
}
