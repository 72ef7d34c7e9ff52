//! `book export`: what was kept with an entry, as files.

use crate::error::Error;
use crate::io::Io;
use celltriage_workshop::Workshop;
use std::path::Path;

/// Writes what was kept with an entry into a folder, and says each file.
///
/// # Errors
/// A book error, or an input error where a file cannot be written.
pub(super) fn export(shop: &Workshop<'_>, number: u64, folder: &Path, io: &mut Io<'_>) -> Result<(), Error> {
    let files = shop.export(number)?;
    std::fs::create_dir_all(folder)
        .map_err(|error| Error::input(format!("cannot make {}: {error}", folder.display())))?;
    let mut written = Vec::new();
    for file in files {
        let path = folder.join(&file.name);
        std::fs::write(&path, file.bytes)
            .map_err(|error| Error::input(format!("cannot write {}: {error}", path.display())))?;
        written.push(path);
    }
    for path in written {
        io.say(&path.display().to_string());
    }
    Ok(())
}
