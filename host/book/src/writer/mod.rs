//! The writer: takes what is measured into memory at once and brings it into the book in a thread of its own.
//!
//! Whoever talks to a fixture must never wait for a disk: it drops the load after seconds of silence. So it only pushes, and
//! asks for news. A book that is locked, full, damaged, removed or that hangs ends nothing; it is tried again, and what it has
//! not taken by the end is put beside it as a small book of its own.
//!
//! | file | what |
//! |---|---|
//! | [`backlog`], [`queue`] | what waits, what is kept, when to try again, what to tell: plain steps with the time passed in |
//! | [`worker`], [`book_store`] | one piece of work on whatever keeps it; a book as that |
//! | [`mod@thread`], [`news`] | the thread round the queue, and what it has to tell |
//! | [`kept`] | where something is kept |
//! | [`rest`], [`aside`], [`folder`], [`note`], [`take_in`] | what the book did not take, put beside it, and taken in later |
//! | [`mod@record_entry`] | an entry made without a book at hand |
//! | [`same`] | whether a book has an entry already |

pub mod aside;
mod backlog;
mod book_store;
mod folder;
mod kept;
mod news;
mod note;
mod queue;
mod record_entry;
mod rest;
mod same;
mod take_in;
#[cfg(test)]
mod tests;
mod thread;
mod worker;

pub use backlog::Acknowledged;
pub use kept::Kept;
pub use news::News;
pub use queue::{Queue, RETRY_EVERY, RecordingTerms};
pub use record_entry::record_entry;
pub use rest::{Rest, RestEntry};
pub use thread::Writer;
pub use worker::{Done, Work, Worker};
