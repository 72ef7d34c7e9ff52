//! The disk of the book: a folder, or a small file system of its own that can truly be full.
//!
//! No switch of the product plays this: the story's folder is a tmpfs of some megabytes, and a file of ballast takes the room. That
//! needs a mount, so it is done only where the program runs in mount namespace of its own ([`crate::room`]), which takes all of it
//! away with the program. Elsewhere such a step does nothing.

use crate::bench::Found;
use crate::life::{Came, Life};
use crate::room;
use crate::step::Step;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::aside;
use celltriage_book::{Book, Kept};
use celltriage_instrument::hot_cell::record::WatchRecord;
use celltriage_workshop::Workshop;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Room on a disk that may become full: more than the longest story takes.
const ROOM: &str = "size=32m,mode=700";
/// Ballast is written in such pieces.
static PIECE: [u8; 1 << 16] = [0; 1 << 16];

/// The disk.
pub(crate) struct Disk {
    folder: tempfile::TempDir,
    is_mounted: bool,
    is_full: bool,
    /// What lies beside the book, or is to, with what it tells of a cell.
    pending: Vec<Pending>,
}

/// What the book did not take.
struct Pending {
    cell: String,
    file: PathBuf,
    what: What,
}

/// What was to be told to the book.
enum What {
    Decision(Found),
    Watch(Box<WatchRecord>, Timestamp),
}

impl Disk {
    /// A disk for a story; one of its own where the story fills it and that can be had.
    pub(crate) fn of(story: &[Step]) -> Result<Self, String> {
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
        let folder = folder.map_err(|error| error.to_string())?;
        let wanted = story.iter().any(|step| matches!(step, Step::DiskFull(_)));
        let is_mounted = wanted && room::is_ours() && mounted(folder.path());
        Ok(Self { folder, is_mounted, is_full: false, pending: Vec::new() })
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.folder.path().join("book.sqlite")
    }

    pub(crate) const fn is_full(&self) -> bool {
        self.is_full
    }

    fn ballast(&self) -> PathBuf {
        self.folder.path().join("ballast")
    }

    /// Takes all room but so many kilobytes.
    fn fill(&self, left: u8) -> std::io::Result<()> {
        let mut ballast = OpenOptions::new().create(true).append(true).open(self.ballast())?;
        while ballast.write_all(&PIECE).is_ok() {}
        while ballast.write_all(&[0; 4096]).is_ok() {}
        let length = ballast.metadata()?.len();
        ballast.set_len(length.saturating_sub(u64::from(left) * 1024))
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        if self.is_mounted {
            // Lazily: a thread of a writer may still be closing its book.
            let _goes_with_the_program = Command::new("umount").arg("-l").arg(self.folder.path()).status();
        }
    }
}

fn mounted(folder: &Path) -> bool {
    let mount = Command::new("mount").args(["-t", "tmpfs", "-o", ROOM, "tmpfs"]).arg(folder).status();
    mount.is_ok_and(|status| status.success())
}

impl Life<'_> {
    /// The disk is full.
    pub(crate) fn disk_full(&mut self, left: u8) -> Came {
        if !self.disk.is_mounted || self.disk.is_full {
            return Ok(());
        }
        self.disk.fill(left).map_err(|error| ("the computer gives a folder", error.to_string()))?;
        self.disk.is_full = true;
        self.tally.full_disks += 1;
        Ok(())
    }

    /// There is room again; the program is started again, and takes in what lies beside the book.
    pub(crate) fn disk_freed(&mut self) -> Came {
        if !self.disk.is_full {
            return Ok(());
        }
        let freed = std::fs::remove_file(self.disk.ballast());
        freed.map_err(|error| ("the computer gives a folder", error.to_string()))?;
        self.disk.is_full = false;
        let fails = |error: celltriage_book::BookError| {
            ("what lies beside a book is taken in once there is room", error.to_string())
        };
        let mut book = Book::open(&self.path).map_err(fails)?;
        for file in aside::beside(&self.path) {
            aside::take_in(&mut book, &file).map_err(fails)?;
            self.tally.taken_in += 1;
        }
        self.shop = Workshop::new(book, self.clock, TimeZone::UTC);
        for Pending { cell, file, what } in std::mem::take(&mut self.disk.pending) {
            if file.exists() {
                return Err(("what lies beside a book is taken in once there is room", format!("{file:?}")));
            }
            self.touched = Some(cell.clone());
            match what {
                What::Decision(found) => {
                    // What else lay beside may be taken in first: files go by the clock of their day, which may have been wrong.
                    let untold = self.untold(&cell)?;
                    let decided = untold.iter().find(|head| head.kind == ASSESSMENT);
                    let Some(entry) = decided.map(|head| head.number) else {
                        return Err((
                            "nothing that lies beside a book is lost",
                            format!("of {cell}: {file:?}"),
                        ));
                    };
                    self.was_found(&cell, entry, &found);
                }
                What::Watch(record, began) => self.watch_is_kept(&cell, &record, began)?,
            }
            self.promises_hold()?;
        }
        Ok(())
    }

    /// Entries about a cell that nobody was told of yet.
    pub(crate) fn untold(&self, cell: &str) -> Result<Vec<celltriage_book::Head>, (&'static str, String)> {
        let asked = |error: celltriage_book::BookError| ("the book can be asked", error.to_string());
        let book = self.shop.book();
        let mut found = Vec::new();
        for number in 1..=book.last_number().map_err(asked)? {
            if self.told.entries.contains(&number) {
                continue;
            }
            found.extend(book.head(number).map_err(asked)?.filter(|head| head.subject.name == cell));
        }
        Ok(found)
    }

    /// A decision that the book did not take.
    pub(crate) fn not_taken(&mut self, cell: &str, kept: &Kept, found: Found) -> Came {
        self.lies_beside(cell, kept, What::Decision(found))
    }

    /// A watch that the book did not take.
    pub(crate) fn watch_not_taken(
        &mut self,
        cell: &str,
        kept: &Kept,
        record: WatchRecord,
        began: Timestamp,
    ) -> Came {
        self.lies_beside(cell, kept, What::Watch(Box::new(record), began))
    }

    fn lies_beside(&mut self, cell: &str, kept: &Kept, what: What) -> Came {
        if !self.disk.is_full {
            return Err(("what is decided is in the book", format!("{kept:?}")));
        }
        self.tally.untaken += 1;
        match kept {
            Kept::Beside { file, .. } if file.exists() => {
                self.disk.pending.push(Pending { cell: cell.to_owned(), file: file.clone(), what });
                Ok(())
            }
            _ => Err(("what a book does not take lies beside it", format!("{kept:?}"))),
        }
    }
}
