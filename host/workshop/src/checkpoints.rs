//! Checkpoints: how far the book has come, noted in a file where nobody who can write the book can write.
//!
//! A file takes many checkpoints of one book, one below the other, and only grows. Before another is put below, the book must
//! still hold what it held at those that are there: a checkpoint of a book that was cut would hide the cut.

use crate::fault::Result;
use crate::keeping_fault::KeepingFault;
use crate::shop::Workshop;
use celltriage_book::{BookFault, Checkpoint, SecretKey};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// How every checkpoint begins, whatever its version.
const BEGINS: &str = "celltriage checkpoint ";

impl Workshop<'_> {
    /// Returns how far the book has come, signed where there is a key.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn checkpoint(&self, key: Option<&SecretKey>) -> Result<Checkpoint> {
        let checkpoint = self.book.checkpoint(self.now())?;
        Ok(match key {
            Some(key) => checkpoint.sign(key),
            None => checkpoint,
        })
    }

    /// Puts a checkpoint below those that a file holds, or begins the file.
    ///
    /// # Errors
    /// [`KeepingFault::BesideTheBook`], [`KeepingFault::NothingToNote`]; the file holds something else; the book does not hold what it held at an earlier one;
    /// the file cannot be written.
    pub fn note(&self, checkpoint: &Checkpoint, file: &Path) -> Result<()> {
        not_beside(self.book.path(), file)?;
        if checkpoint.chains.is_empty() {
            return Err(KeepingFault::NothingToNote.into());
        }
        let earlier = match std::fs::read_to_string(file) {
            Ok(text) => Some(text),
            Err(error) if error.kind() == ErrorKind::NotFound => None,
            Err(error) => return Err(KeepingFault::on("read", file)(error).into()),
        };
        for one in earlier.as_deref().map(|text| read_all(text, file)).transpose()?.iter().flatten() {
            if one.book != checkpoint.book {
                return Err(KeepingFault::OfAnotherBook { file: file.to_owned(), book: one.book }.into());
            }
            if let Some(fault) = self.book.held(one)?.faults.first() {
                return Err(KeepingFault::NotHeld { file: file.to_owned(), what: in_words(fault) }.into());
            }
        }
        let cannot = KeepingFault::on("write", file);
        let mut options = OpenOptions::new();
        // A file that was not there is made: a link that leads elsewhere is not followed.
        match &earlier {
            Some(_) => options.append(true),
            None => options.write(true).create_new(true),
        };
        let between = match earlier.as_deref() {
            None | Some("") => "",
            Some(text) if text.ends_with('\n') => "\n",
            Some(_) => "\n\n",
        };
        let mut open = options.open(file).map_err(&cannot)?;
        let written = open.write_all(format!("{between}{checkpoint}").as_bytes());
        written.and_then(|()| open.sync_all()).map_err(&cannot)?;
        Ok(())
    }
}

/// Returns a fault of a comparison in words.
fn in_words(fault: &BookFault) -> String {
    fault.entry.map_or_else(|| fault.what.clone(), |entry| format!("entry {entry}: {}", fault.what))
}

/// Reads all checkpoints of a text from a file.
pub(crate) fn read_all(text: &str, file: &Path) -> Result<Vec<Checkpoint>, KeepingFault> {
    let mut pieces: Vec<String> = Vec::new();
    for line in text.lines() {
        let begins = line.trim_start().starts_with(BEGINS);
        match pieces.last_mut().filter(|_| !begins) {
            Some(piece) => {
                piece.push('\n');
                piece.push_str(line);
            }
            None if begins || !line.trim().is_empty() => pieces.push(line.to_owned()),
            None => {}
        }
    }
    let read = |piece: &String| {
        piece.parse().map_err(|why| KeepingFault::NotCheckpoints { file: file.to_owned(), why })
    };
    pieces.iter().map(read).collect()
}

/// Says whether a file would prove something: it does not lie in the folder of the book.
///
/// # Errors
/// [`KeepingFault::BesideTheBook`].
pub(crate) fn not_beside(book: &Path, file: &Path) -> Result<(), KeepingFault> {
    if lies_beside(book, file) {
        return Err(KeepingFault::BesideTheBook { file: file.to_owned() });
    }
    Ok(())
}

/// Returns whether a file lies, or would lie, in the folder of the book, also by way of a link.
pub fn lies_beside(book: &Path, file: &Path) -> bool {
    let of_file = folders(file);
    folders(book).iter().any(|folder| of_file.contains(folder))
}

/// Returns the folder in which a file stands by its name, and the one where it lies if the name is a link.
fn folders(file: &Path) -> Vec<PathBuf> {
    let by_name = std::path::absolute(file).ok().and_then(|file| file.parent().map(Path::to_owned));
    let by_name = by_name.map(|folder| folder.canonicalize().unwrap_or(folder));
    let where_it_lies = file.canonicalize().ok().and_then(|file| file.parent().map(Path::to_owned));
    [by_name, where_it_lies].into_iter().flatten().collect()
}
