//! The folders in which something may lie beside a book.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::Digest;
use crate::files::folder_of;

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
    let owners = [Path::new("/proc/self"), folder_of(book), book];
    let is_owner = |path: &&Path| std::fs::metadata(path).is_ok_and(|known| known.uid() == found.uid());
    found.is_dir() && found.mode() & 0o022 == 0 && owners.iter().any(is_owner)
}

#[cfg(not(unix))]
pub(super) fn is_ours(folder: &Path, _: &Path) -> bool {
    folder.is_dir()
}
