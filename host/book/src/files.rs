//! The files around a book: its folder, what carries its name there, and what SQLite keeps beside a database.

use std::path::{Path, PathBuf};

/// Endings of the files that SQLite keeps beside a database; left behind, they would be read into another one of the same name
/// (<https://www.sqlite.org/tempfiles.html>, 2).
const BESIDE: [&str; 3] = ["-wal", "-shm", "-journal"];

/// Returns the folder of a file.
pub fn folder_of(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Returns the files of a folder that have a book's name with `.BEGIN` behind it and end with `end`, in their order.
pub fn named_after(book: &Path, folder: &Path, begin: &str, end: &str) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let begin = format!("{}.{begin}", name_of(book));
    let fits = |path: &PathBuf| {
        let name = name_of(path);
        name.starts_with(&begin) && name.ends_with(end)
    };
    let mut found: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).filter(fits).collect();
    found.sort();
    found
}

/// Returns the names of the files that SQLite would keep beside a database.
pub fn kept_beside(database: &Path) -> [PathBuf; 3] {
    BESIDE.map(|ending| with_ending(database, ending))
}

/// Returns the name of a file without its folder.
pub(super) fn name_of(file: &Path) -> String {
    file.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Returns a path with something behind it.
pub(super) fn with_ending(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

/// Returns the file in which SQLite keeps the log of another file.
pub(super) fn log_of(database: &Path) -> PathBuf {
    with_ending(database, "-wal")
}

/// Removes a database of ours and what SQLite keeps beside it.
pub(super) fn remove(database: &Path) {
    for file in [database.to_owned()].into_iter().chain(kept_beside(database)) {
        let _may_not_be_there = std::fs::remove_file(file);
    }
}

/// Brings a folder's names to the disk, where the system can.
pub(super) fn sync(folder: &Path) -> std::io::Result<()> {
    if cfg!(unix) { std::fs::File::open(folder)?.sync_all() } else { Ok(()) }
}
