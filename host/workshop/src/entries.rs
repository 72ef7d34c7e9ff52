//! Entries of the book as they are read: listed, found, one in full, and the whole story of a cell.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use crate::stands_now::StandsNow;
use celltriage_assessment::Assessment;
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_book::{
    Attachment, BookFault, Entry, Filter, Head, Recording, UnfinishedRecording, Verification,
};
use celltriage_custody::event_in_book::event_of;
use celltriage_custody::state::Struck;
use celltriage_custody::story::{Chapter, Story, chapter, story};
use celltriage_custody::{PackRules, Scope};

/// The newest entries of the book.
#[derive(Clone, Debug)]
pub struct Listed {
    /// The heads of the entries, oldest first.
    pub entries: Vec<Head>,
    /// Recordings that were never judged: the program ended before it.
    pub unfinished: Vec<UnfinishedRecording>,
}

/// An entry in full.
#[derive(Clone, Debug)]
pub struct EntryView {
    /// The entry.
    pub entry: Entry,
    /// How it was struck, if it was.
    pub struck: Option<Struck>,
    /// How its cell stands now.
    pub now: StandsNow,
    /// What it holds.
    pub content: Content,
}

/// What an entry holds.
#[derive(Clone, Debug)]
pub enum Content {
    /// A decision.
    Decision(Box<Assessment>),
    /// An event of custody, as its chapter in the story.
    Custody(Chapter),
    /// Something else: of a fixture, of a watch.
    Other,
}

/// What was kept with an entry.
#[derive(Clone, Debug)]
pub struct KeptWith {
    /// Files.
    pub attachments: Vec<Attachment>,
    /// Recordings of the fixture.
    pub recordings: Vec<Recording>,
}

impl Workshop<'_> {
    /// Returns the newest entries, of one fate or of all.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn entries(&self, fate: Option<&str>, most: u32) -> Result<Listed> {
        let filter = Filter { fate: fate.map(str::to_owned), limit: Some(most), ..Filter::default() };
        let mut entries = self.book.heads(&filter)?;
        entries.sort_by_key(|entry| entry.number);
        Ok(Listed { entries, unfinished: self.book.unfinished_recordings()? })
    }

    /// Returns the heads of the entries in which a text is found.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn find(&self, text: &str) -> Result<Vec<Head>> {
        Ok(self.book.heads(&Filter { text: Some(text.to_owned()), ..Filter::default() })?)
    }

    /// Returns the entry with a number.
    ///
    /// # Errors
    /// [`Fault::NoSuchEntry`], or the book cannot be read.
    pub fn entry(&self, number: u64) -> Result<Entry> {
        let found = match u32::try_from(number) {
            Ok(number) => self.book.entry(number)?,
            Err(_) => None,
        };
        found.ok_or_else(|| Fault::NoSuchEntry { book: self.book.path().to_owned(), number })
    }

    /// Returns an entry in full, with how its cell stands now.
    ///
    /// # Errors
    /// As [`Self::entry`], or the entry cannot be understood.
    pub fn entry_in_full(&self, number: u64) -> Result<EntryView> {
        let entry = self.entry(number)?;
        let signed = event_of(&self.book, &entry)?;
        let mut state = self.state(Scope::Names(&[&entry.subject.name]))?;
        let now = StandsNow::of(&state, &entry, signed.as_ref().map(|signed| &signed.event));
        let (now, content) = match &signed {
            Some(signed) => (now, Content::Custody(chapter(&entry, Some(signed), &state))),
            None if entry.kind == ASSESSMENT => {
                let assessment = assessment_of(&entry)?;
                (now.since(&assessment.known), Content::Decision(Box::new(assessment)))
            }
            None => (now, Content::Other),
        };
        let struck = state.struck.remove(&entry.number);
        Ok(EntryView { entry, struck, now, content })
    }

    /// Returns what was kept with an entry.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn kept_with(&self, entry: u32) -> Result<KeptWith> {
        let attachments = self.book.attachments_of(entry)?;
        Ok(KeptWith { attachments, recordings: self.book.recordings_of(entry)? })
    }

    /// Returns the whole story of a cell.
    ///
    /// # Errors
    /// The book knows nothing of the cell, or cannot be read.
    pub fn story(&self, cell: &str, rules: &PackRules) -> Result<Story> {
        Ok(story(&self.book, cell, &self.circumstances(rules))?)
    }

    /// Checks that each entry is as it was written, and that what the book keeps beside them is whole.
    ///
    /// # Errors
    /// The book cannot be read; what does not fit is no fault of this call, it is in what it returns.
    pub fn verify(&self) -> Result<Verification> {
        self.verified(false, &mut |_| {})
    }

    /// The same; what is kept is compared with all entries, which takes many times longer. `step` hears how far that is.
    ///
    /// # Errors
    /// As [`Self::verify`].
    pub fn verify_with_kept(&self, step: &mut dyn FnMut(u32)) -> Result<Verification> {
        self.verified(true, step)
    }

    fn verified(&self, kept: bool, step: &mut dyn FnMut(u32)) -> Result<Verification> {
        let mut found = self.book.verify()?;
        // Entries that are not what was written would only be said once more.
        if found.passed() {
            let faults = self.faults_of_kept(kept, step)?;
            found
                .faults
                .extend(faults.into_iter().map(|what| BookFault { entry: None, what: what.to_owned() }));
        }
        Ok(found)
    }
}
