//! The thread round the queue: whoever measures pushes and asks for news, and never waits for more than this lock.
//!
//! The lock of the queue is never held during a request to the book, so a disk that hangs holds up the thread alone.

use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use crate::{NewEntry, RecordingNumber};

use super::aside;
use super::backlog::Acknowledged;
use super::book_store::BookStore;
use super::kept::Kept;
use super::news::News;
use super::queue::{Queue, RecordingTerms};
use super::worker::Worker;

/// So long a writer that is dropped without an end waits for what it still has (our choice).
const AT_DROP: Duration = Duration::from_millis(500);

/// Brings a recording and its entries into a book, in a thread of its own.
pub struct Writer {
    shared: Arc<Shared>,
    book: PathBuf,
}

struct Shared {
    queue: Mutex<Queue>,
    changed: Condvar,
    began: Instant,
    /// The store is closed: nothing of the book is open here any more.
    closed: AtomicBool,
}

impl Shared {
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn now(&self) -> Duration {
        self.began.elapsed()
    }

    /// Waits until something holds, at most so long.
    fn wait(&self, patience: Duration, mut holds: impl FnMut(&Queue) -> bool) -> MutexGuard<'_, Queue> {
        let waited = self.changed.wait_timeout_while(self.queue(), patience, |queue| !holds(queue));
        waited.unwrap_or_else(PoisonError::into_inner).0
    }

    fn close(&self) {
        // Under the lock, so that nobody looks before and waits after.
        let queue = self.queue();
        self.closed.store(true, Ordering::Relaxed);
        drop(queue);
        self.changed.notify_all();
    }

    fn serve(&self, store: &mut dyn Worker) {
        loop {
            let mut queue = self.queue();
            let work = loop {
                if queue.is_over() {
                    return;
                }
                let now = self.now();
                if let Some(work) = queue.next(now) {
                    break work;
                }
                queue = match queue.pause(now) {
                    Some(pause) => {
                        self.changed.wait_timeout(queue, pause).unwrap_or_else(PoisonError::into_inner).0
                    }
                    None => self.changed.wait(queue).unwrap_or_else(PoisonError::into_inner),
                };
            };
            drop(queue);
            let outcome = store.perform(&work);
            self.queue().done(outcome, self.now());
            self.changed.notify_all();
        }
    }
}

impl Writer {
    /// Begins a recording in a book, which is begun where there is none.
    pub fn begin(terms: RecordingTerms) -> Self {
        let store = BookStore::at(&terms.book, false);
        Self::on(store, terms)
    }

    /// The same in a book that this program had open: one whose file is gone is not begun again.
    pub fn begin_in_open_book(terms: RecordingTerms) -> Self {
        let store = BookStore::at(&terms.book, true);
        Self::on(store, terms)
    }

    /// The same on any store.
    pub fn on(mut store: impl Worker + 'static, terms: RecordingTerms) -> Self {
        let book = terms.book.clone();
        let shared = Arc::new(Shared {
            queue: Mutex::new(Queue::new(terms)),
            changed: Condvar::new(),
            began: Instant::now(),
            closed: AtomicBool::new(false),
        });
        let served = Arc::clone(&shared);
        let thread = std::thread::Builder::new().name("book writer".to_owned());
        let spawned = thread.spawn(move || {
            served.serve(&mut store);
            drop(store);
            served.close();
        });
        if let Err(error) = spawned {
            shared.close();
            let why = format!("book {}: the system gives no thread to write it ({error})", book.display());
            shared.queue().refuse(why);
        }
        Self { shared, book }
    }

    /// Takes a frame; returns its ticket: it is on the disk once so many bytes are acknowledged.
    pub fn push(&self, frame: &[u8]) -> u64 {
        let ticket = self.shared.queue().push(frame);
        self.shared.changed.notify_all();
        ticket
    }

    /// Takes an entry, which is brought to the disk at once.
    pub fn enter(&self, entry: NewEntry) {
        self.shared.queue().enter(entry);
        self.shared.changed.notify_all();
    }

    /// Returns what is to be told and was not yet.
    pub fn news(&self) -> Vec<News> {
        self.shared.queue().news(self.shared.now())
    }

    /// Returns up to where everything is on the disk.
    pub fn acknowledged(&self) -> Acknowledged {
        self.shared.queue().acknowledged()
    }

    /// Returns the recording, once it is begun.
    pub fn recording(&self) -> Option<RecordingNumber> {
        self.shared.queue().recording()
    }

    /// Returns how many frames are nowhere.
    pub fn lost_frames(&self) -> u64 {
        self.shared.queue().lost_frames()
    }

    /// Reads the frames that are in memory; how many bytes before them are only on the disk comes first.
    pub fn read<T>(&self, read: impl FnOnce(u64, &[u8]) -> T) -> T {
        let queue = self.shared.queue();
        let (dropped, bytes) = queue.bytes();
        read(dropped, bytes)
    }

    /// Returns the book.
    pub fn book(&self) -> &Path {
        &self.book
    }

    /// Waits for the book's first word, where nothing runs yet that must not wait.
    pub fn wait_for_first_word(&self, patience: Duration) {
        drop(self.shared.wait(patience, Queue::has_answered));
    }

    /// Waits until everything pushed so far is on the disk, where nothing runs that must not wait; returns whether it is.
    pub fn settle(&self, patience: Duration) -> bool {
        self.shared.queue().end(self.shared.now());
        self.shared.changed.notify_all();
        self.shared.wait(patience, |queue| queue.is_all_kept() || queue.is_hopeless()).is_all_kept()
    }

    /// Writes the last entry, to which the recording belongs, and waits at most so long; what the book has not taken by then is
    /// put beside it.
    pub fn finish(self, entry: NewEntry, patience: Duration) -> Kept {
        self.shared.queue().finish_with(entry, self.shared.now());
        self.shared.changed.notify_all();
        let mut queue = self.shared.wait(patience, |queue| queue.is_all_kept() || queue.is_hopeless());
        if queue.is_all_kept()
            && let Some(entry) = queue.take_finished()
        {
            return Kept::InBook(Box::new(entry));
        }
        let rest = queue.give_up();
        drop(queue);
        self.shared.changed.notify_all();
        aside::keep(rest, patience)
    }
}

impl Drop for Writer {
    /// What waits is brought to the disk as far as that takes no time, and the book is closed; nothing is put beside it. Who
    /// closes a book last brings its log into the one file, which a person then copies.
    fn drop(&mut self) {
        if !self.shared.queue().is_over() {
            self.settle(AT_DROP);
            drop(self.shared.queue().give_up());
            self.shared.changed.notify_all();
        }
        drop(self.shared.wait(AT_DROP, |_| self.shared.closed.load(Ordering::Relaxed)));
    }
}

impl fmt::Debug for Writer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Writer").field("book", &self.book).finish_non_exhaustive()
    }
}
