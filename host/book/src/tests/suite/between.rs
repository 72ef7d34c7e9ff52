//! A database between the book and another database: every call is told to [`Calls`] first.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use super::calls::Calls;
use crate::identity::{Chain, Id, Identity};
use crate::store::{
    EntryRow, KeptAll, KeptRow, KeptTo, Known, LinkRow, PersonalRow, RecordingRow, Rows, RowsMut, Store,
    Take, TakeContent, Wanted,
};
use crate::texts::Packed;
use crate::{Attachment, Digest, NewAttachment, Problem, Sort, Subject};

/// A database in front of another one.
#[derive(Debug)]
pub(super) struct Between {
    pub(super) inner: Box<dyn Store>,
    pub(super) calls: Arc<Calls>,
}

impl Store for Between {
    fn read(&self, request: &mut dyn FnMut(&dyn Rows) -> Result<(), Problem>) -> Result<(), Problem> {
        self.calls.call("read")?;
        self.inner.read(&mut |rows| request(&Reading { rows, calls: &self.calls }))
    }

    fn write(
        &mut self,
        request: &mut dyn FnMut(&mut dyn RowsMut) -> Result<(), Problem>,
    ) -> Result<(), Problem> {
        let calls = &self.calls;
        calls.call("write")?;
        self.inner.write(&mut |rows| {
            request(&mut Writing { rows, calls })?;
            calls.call("the end of write")
        })
    }

    fn hold(&self) -> Result<bool, Problem> {
        self.calls.call("hold")?;
        self.inner.hold()
    }

    fn let_go(&self) {
        self.inner.let_go();
    }

    fn wait_at_most(&mut self, patience: Duration) -> Result<(), Problem> {
        self.calls.call("wait_at_most")?;
        self.inner.wait_at_most(patience)
    }

    fn own_check(&self) -> Result<Vec<String>, Problem> {
        self.calls.call("own_check")?;
        self.inner.own_check()
    }

    fn copy_to(&self, path: &Path, step: &mut dyn FnMut(u64, u64)) -> Result<bool, Problem> {
        self.calls.call("copy_to")?;
        self.inner.copy_to(path, step)
    }

    fn scrub(&mut self) -> Result<(), Problem> {
        self.calls.call("scrub")?;
        self.inner.scrub()
    }
}

struct Reading<'a> {
    rows: &'a dyn Rows,
    calls: &'a Calls,
}

struct Writing<'a> {
    rows: &'a mut dyn RowsMut,
    calls: &'a Calls,
}

macro_rules! tell_what_is_read {
    ($($name:ident($($argument:ident: $of:ty),*) -> $result:ty;)*) => {
        tell_what_is_read! { Reading: $($name($($argument: $of),*) -> $result;)* }
        tell_what_is_read! { Writing: $($name($($argument: $of),*) -> $result;)* }
        pub(super) const READ: &[&str] = &[$(stringify!($name)),*];
    };
    ($type:ident: $($name:ident($($argument:ident: $of:ty),*) -> $result:ty;)*) => {
        impl Rows for $type<'_> {
            $(fn $name(&self $(, $argument: $of)*) -> Result<$result, Problem> {
                self.calls.call(stringify!($name))?;
                self.rows.$name($($argument),*)
            })*
        }
    };
}

macro_rules! tell_what_is_written {
    ($($name:ident($($argument:ident: $of:ty),*) -> $result:ty;)*) => {
        impl RowsMut for Writing<'_> {
            fn random(&self) -> Result<[u8; 16], Problem> {
                self.calls.call("random")?;
                self.calls.random().map_or_else(|| self.rows.random(), Ok)
            }

            $(fn $name(&mut self $(, $argument: $of)*) -> Result<$result, Problem> {
                self.calls.call(stringify!($name))?;
                self.rows.$name($($argument),*)
            })*
        }
        pub(super) const WRITTEN: &[&str] = &["random", $(stringify!($name)),*];
    };
}

tell_what_is_read! {
    identity() -> Identity;
    last() -> Option<EntryRow>;
    last_number() -> i64;
    number_after(number: i64) -> Option<i64>;
    digest_of(number: i64) -> Option<Digest>;
    head(chain: i64) -> Option<(i64, Digest)>;
    entry(number: i64) -> Option<EntryRow>;
    entry_at(chain: i64, position: i64) -> Option<EntryRow>;
    entries(wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> ();
    text(number: i64) -> Option<Packed>;
    words(entry: i64) -> Option<String>;
    about(entry: i64) -> Vec<Subject>;
    names(kind: &str) -> Vec<String>;
    personal(entry: i64) -> Vec<PersonalRow>;
    attachments(entry: i64) -> Vec<Attachment>;
    attachments_without_bytes() -> Vec<(i64, String)>;
    content(sha256: Digest) -> Option<Vec<u8>>;
    contents(take: TakeContent<'_>) -> ();
    recording(number: i64) -> Option<RecordingRow>;
    recording_from(origin: i64, number: i64) -> Option<i64>;
    recordings(entry: i64) -> Vec<RecordingRow>;
    unfinished(cell: Option<&str>) -> Vec<RecordingRow>;
    chunks(recording: i64, take: &mut dyn FnMut(&[u8])) -> ();
    chunk(recording: i64, position: i64) -> Option<Vec<u8>>;
    length(recording: i64) -> i64;
    last_link() -> Option<LinkRow>;
    link(number: i64) -> Option<LinkRow>;
    links_of(recording: i64) -> Vec<LinkRow>;
    unlinked() -> Vec<i64>;
    links(take: Take<'_, LinkRow>) -> ();
    last_recording() -> i64;
    last_chunk(recording: i64) -> i64;
    known_as(book: i64, number: i64) -> Option<i64>;
    known(take: Take<'_, Known>) -> ();
    kept_to(fold: &str) -> Option<KeptTo>;
    kept(fold: &str, key: &str) -> Option<KeptRow>;
    kept_under(fold: &str, label: &str, most: Option<u32>) -> Vec<String>;
    kept_labels(fold: &str, beginning: &str) -> Vec<(String, u64)>;
    kept_all(fold: &str, take: Take<'_, KeptAll>) -> ();
}

tell_what_is_written! {
    add_book(id: Id) -> i64;
    add_chain(chain: &Chain) -> i64;
    set_sort(sort: Sort) -> ();
    add_entry(row: &EntryRow) -> ();
    add_text(number: i64, text: &Packed) -> ();
    add_words(entry: i64, words: &str) -> ();
    add_about(entry: i64, position: i64, subject: &Subject) -> ();
    add_personal(entry: i64, position: i64, row: &PersonalRow) -> ();
    blank(entry: i64, words: &str) -> ();
    add_attachment(entry: i64, position: i64, attachment: &NewAttachment) -> ();
    add_recording(row: &RecordingRow) -> ();
    add_chunk(recording: i64, position: i64, bytes: &[u8]) -> ();
    add_link(link: &LinkRow) -> ();
    finish(recording: i64, entry: i64, sha256: Digest, length: i64) -> ();
    add_known_as(book: i64, number: i64, entry: i64) -> ();
    set_kept_to(fold: &str, to: &KeptTo) -> ();
    set_kept(fold: &str, key: &str, value: Option<&KeptRow>, labels: &[(String, i64)]) -> ();
    clear_kept(fold: &str) -> ();
    clear_all_kept() -> ();
}
