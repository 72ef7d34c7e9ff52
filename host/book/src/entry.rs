//! An entry of the book: what is asked to be written, and what stands written.
//!
//! [`NewEntry`] goes in, [`Entry`] comes out, or its [`Head`] where the rest is not asked for; [`NewAttachment`] and
//! [`Attachment`] likewise. An attachment is a whole file as it was given (trace, nameplate, policy); what grows while a cell
//! is measured is a recording.

use jiff::Timestamp;
use serde_json::Value;

use std::ops::Deref;

use super::words::Searched;
use super::{Digest, Id, Problem, RecordingNumber, Subject};

/// The program that writes entries, as written in them.
pub const PROGRAM: &str = concat!("celltriage ", env!("CARGO_PKG_VERSION"));

/// An entry to be written.
#[derive(Clone, Debug, PartialEq)]
pub struct NewEntry {
    /// When it happened; kept to the millisecond.
    pub at: Timestamp,
    /// What sort of entry, such as `assessment` or `correction`.
    pub kind: String,
    /// What it stands under.
    pub subject: Subject,
    /// What else it is about: it is found under each of them too.
    pub about: Vec<Subject>,
    /// Whether it is about a simulated cell, or about a real one; `None` where it is about neither.
    pub simulated: Option<bool>,
    /// What was decided, if anything.
    pub fate: Option<String>,
    /// One line for a list.
    pub summary: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// Everything the decision was made from: nameplate, observations, options.
    pub inputs: Value,
    /// Everything that came out.
    pub result: Value,
    /// Texts about persons in summary, inputs and result; each can be blanked later ([`super::Book::blank`]).
    pub personal: Vec<String>,
    /// The earlier entry that this one corrects.
    pub corrects: Option<u32>,
    /// Whole files to be kept with it.
    pub attachments: Vec<NewAttachment>,
    /// The recordings that this entry finishes.
    pub recordings: Vec<RecordingNumber>,
}

/// A file to be kept with an entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAttachment {
    /// Its name, such as `trace.csv`.
    pub name: String,
    /// Its media type, such as `text/csv`.
    pub media_type: String,
    /// Its bytes as they were given.
    pub bytes: Vec<u8>,
}

/// The head of an entry: everything but what it was made from and what came out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Head {
    /// Its number: 1, 2, 3 and so on without gaps, in the order in which this book took it in.
    pub number: u32,
    /// The chain that it continues.
    pub chain: Id,
    /// Its place in the chain: 1, 2, 3 and so on without gaps.
    pub position: u32,
    /// The book into which it was first written, if that is another one, and its number there: texts of such an entry name
    /// others by their numbers there ([`super::Book::here`]).
    pub from: Option<(Id, u32)>,
    /// When it happened, to the millisecond.
    pub at: Timestamp,
    /// What sort of entry.
    pub kind: String,
    /// What it stands under.
    pub subject: Subject,
    /// Whether it is about a simulated cell, or about a real one; `None` where it says neither.
    pub simulated: Option<bool>,
    /// What was decided, if anything.
    pub fate: Option<String>,
    /// One line for a list.
    pub summary: String,
    /// The program that wrote it, with its version.
    pub program: String,
    /// The earlier entry that this one corrects, by its number in this book.
    pub corrects: Option<u32>,
    /// The digest of the entry before in its chain.
    pub previous: Digest,
    /// The digest of this entry, its attachments and recordings, and the digest before.
    pub digest: Digest,
}

/// An entry of the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its head.
    pub head: Head,
    /// Everything the decision was made from.
    pub inputs: Value,
    /// Everything that came out.
    pub result: Value,
}

impl Deref for Entry {
    type Target = Head;

    fn deref(&self) -> &Head {
        &self.head
    }
}

/// A file kept with an entry; [`super::Book::attachment`] gives its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attachment {
    /// Its name.
    pub name: String,
    /// Its media type.
    pub media_type: String,
    /// The digest of its bytes.
    pub sha256: Digest,
    /// The number of its bytes.
    pub length: u64,
}

impl NewEntry {
    /// Returns an entry of a kind under a subject, with nothing in it yet.
    pub fn of(kind: &str, subject: Subject, at: Timestamp) -> Self {
        Self {
            at,
            kind: kind.to_owned(),
            subject,
            about: Vec::new(),
            simulated: None,
            fate: None,
            summary: String::new(),
            program: PROGRAM.to_owned(),
            inputs: Value::Object(serde_json::Map::new()),
            result: Value::Object(serde_json::Map::new()),
            personal: Vec::new(),
            corrects: None,
            attachments: Vec::new(),
            recordings: Vec::new(),
        }
    }

    /// Returns what a search looks at.
    pub(super) fn words(&self) -> Searched<'_> {
        Searched {
            subject: &self.subject.name,
            fate: self.fate.as_deref(),
            kind: &self.kind,
            summary: &self.summary,
            inputs: &self.inputs,
        }
    }

    /// Says whether every text fits the book.
    pub(super) fn check(&self) -> Result<(), Problem> {
        one_line("kind", &self.kind)?;
        one_line("cell id", &self.subject.name)?;
        self.about.iter().try_for_each(|subject| one_line("subject", &subject.name))?;
        self.personal.iter().try_for_each(|text| one_line("name", text))?;
        one_line("summary", &self.summary)?;
        one_line("program", &self.program)?;
        self.fate.iter().try_for_each(|fate| one_line("fate", fate))?;
        for attachment in &self.attachments {
            one_line("attachment's name", &attachment.name)?;
            one_line("attachment's media type", &attachment.media_type)?;
        }
        Ok(())
    }
}

/// Says whether `text` is one line that a person can find again.
pub(super) fn one_line(field: &'static str, text: &str) -> Result<(), Problem> {
    let what = if text.is_empty() {
        "is empty"
    } else if text.trim() != text {
        // "C-7 " and "C-7" would look like one cell and be two.
        "begins or ends with a blank"
    } else if text.chars().any(char::is_control) {
        "holds a line break or another control character"
    } else {
        return Ok(());
    };
    Err(Problem::BadText { field, what })
}
