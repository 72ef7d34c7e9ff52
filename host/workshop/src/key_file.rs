//! Keys that sign checkpoints, kept in files of their own, away from the book.

use crate::checkpoints::not_beside;
use crate::fault::Result;
use crate::keeping_fault::KeepingFault;
use celltriage_book::{Key, SecretKey};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// Writes a key made of random bytes into a new file that only its owner reads, and returns the public one.
///
/// # Errors
/// [`KeepingFault::BesideTheBook`], [`KeepingFault::InTheWay`], or the file cannot be written.
pub fn new_key(book: &Path, file: &Path, random: [u8; 32]) -> Result<Key> {
    not_beside(book, file)?;
    let key = SecretKey::of(random);
    let cannot = |error: std::io::Error| match error.kind() {
        ErrorKind::AlreadyExists => KeepingFault::InTheWay { file: file.to_owned() },
        _ => KeepingFault::on("write", file)(error),
    };
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut open = options.open(file).map_err(cannot)?;
    open.write_all(key.text().as_bytes()).and_then(|()| open.sync_all()).map_err(cannot)?;
    Ok(key.public())
}

/// Reads the key of a file, which must not lie beside the book that it is to sign for.
///
/// # Errors
/// [`KeepingFault::BesideTheBook`], [`KeepingFault::NotAKey`], or the file cannot be read.
pub fn read_key(book: &Path, file: &Path) -> Result<SecretKey> {
    not_beside(book, file)?;
    let text = std::fs::read_to_string(file).map_err(KeepingFault::on("read", file))?;
    Ok(SecretKey::read(&text).map_err(|why| KeepingFault::NotAKey { file: file.to_owned(), why })?)
}
