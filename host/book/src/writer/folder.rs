//! The folders in which something may lie beside a book.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::Digest;

/// Brings a folder's names to the disk, where the system can.
pub(super) fn sync(folder: &Path) {
    let _not_every_system_can = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
}

/// Returns the name of the book's file.
pub(super) fn name_of(book: &Path) -> String {
    book.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Returns the folder of the book.
pub(super) fn folder_of(book: &Path) -> PathBuf {
    let folder = book.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new(".")).to_owned()
}

/// Returns the folder for a book whose own folder cannot be written; two books of one name have different ones.
pub(super) fn second_folder(book: &Path) -> PathBuf {
    let path = std::path::absolute(book).unwrap_or_else(|_| book.to_owned());
    let digits = Digest::of(path.as_os_str().as_encoded_bytes()).to_string();
    std::env::temp_dir().join(format!("celltriage-{}", digits.get(..16).unwrap_or(&digits)))
}

/// Makes a folder that only this user may write.
pub(super) fn made_for_us(folder: &Path) -> std::io::Result<()> {
    let mut builder = std::fs::DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    match builder.create(folder) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => Err(error),
        _ => Ok(()),
    }
}

/// Says whether a folder below the temporary one, where everybody may write, is one that only we or the book's owner can have
/// filled.
#[cfg(unix)]
pub(super) fn is_ours(folder: &Path, book: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let Ok(found) = std::fs::symlink_metadata(folder) else { return false };
    let owners = [Path::new("/proc/self"), &folder_of(book), book];
    let is_owner = |path: &&Path| std::fs::metadata(path).is_ok_and(|known| known.uid() == found.uid());
    found.is_dir() && found.mode() & 0o022 == 0 && owners.iter().any(is_owner)
}

#[cfg(not(unix))]
pub(super) fn is_ours(folder: &Path, _: &Path) -> bool {
    folder.is_dir()
}
