//! The shop's own labels by model: those it keeps as files, and those its book has seen, the newest used first.
//!
//! A label file wins over what the book has of the same model: somebody wrote it down on purpose, while an entry may hold a slip. An
//! entry that was struck is passed over for the same reason.

use crate::fault::Result;
use crate::kept_models::{cells_of, newest_labels};
use crate::newest_labels::UsedLabel;
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_book::Book;
use celltriage_custody::State;
use celltriage_measure::nameplate::Nameplate;
use jiff::Timestamp;
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// So many of the newest cells of a model are looked at for a label where the newest was struck (our choice).
const MOST_LOOKED_AT: u32 = 20;
/// Most bytes of a label file: such files have some hundred (our choice).
const MOST_BYTES: u64 = 1 << 16;

/// A model with its label.
#[derive(Clone, Debug, PartialEq)]
pub struct LibraryModel {
    /// The shop's name for it.
    pub name: String,
    /// What its label says.
    pub nameplate: Nameplate,
    /// Where the label is from.
    pub from: LabelFrom,
    /// Entry and time of its newest assessment.
    pub used: Option<(u32, Timestamp)>,
}

/// Where a label of the library is from.
#[derive(Clone, Debug, PartialEq)]
pub enum LabelFrom {
    /// A label file of the shop, with its text.
    File(PathBuf, String),
    /// An entry of the book.
    Entry(u32),
}

/// All models, and what could not be read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ModelLibrary {
    /// The models: those used last first, then those never used, by name.
    pub models: Vec<LibraryModel>,
    /// Label files that cannot be used, with the reason.
    pub faults: Vec<String>,
}

impl ModelLibrary {
    /// Reads the library of a shop; `files` is a folder of label files or one of them, and `simulated` says whether the models of
    /// simulated cells are meant. A book or a folder that is not there yet holds none.
    ///
    /// # Errors
    /// The book cannot be read. A label file that cannot is told in [`ModelLibrary::faults`].
    pub fn read(book: &Path, files: Option<&Path>, simulated: bool) -> Result<Self> {
        let mut models: BTreeMap<String, LibraryModel> = BTreeMap::new();
        if book.exists() {
            let book = Book::open_to_read(book)?;
            for ((_, name), used) in newest_labels(&book, simulated)? {
                let at = Some((used.entry, used.at));
                let Some(label) = counting(&book, &name, simulated, used)? else { continue };
                let from = LabelFrom::Entry(label.entry);
                let model = LibraryModel { name: name.clone(), nameplate: label.nameplate, from, used: at };
                models.insert(name, model);
            }
        }
        let mut faults = Vec::new();
        for path in files.map(label_files).unwrap_or_default() {
            match of_file(&path) {
                Ok(model) => {
                    let used = models.get(&model.name).and_then(|known| known.used);
                    models.insert(model.name.clone(), LibraryModel { used, ..model });
                }
                Err(why) => faults.push(why),
            }
        }
        let mut models: Vec<LibraryModel> = models.into_values().collect();
        models.sort_by_key(|model| std::cmp::Reverse(model.used.map_or(0, |(entry, _)| entry)));
        Ok(Self { models, faults })
    }

    /// Returns the models in whose name a text stands, in large or small letters.
    pub fn named(&self, part: &str) -> Vec<&LibraryModel> {
        let part = part.trim().to_lowercase();
        self.models.iter().filter(|model| model.name.to_lowercase().contains(&part)).collect()
    }
}

/// Returns the newest label of a model that no person has struck.
fn counting(book: &Book, model: &str, simulated: bool, newest: UsedLabel) -> Result<Option<UsedLabel>> {
    let is_struck = |cell: &str, entry: u32| -> Result<bool> {
        Ok(State::about(book, &[cell])?.struck.contains_key(&entry))
    };
    if !is_struck(&newest.cell, newest.entry)? {
        return Ok(Some(newest));
    }
    let mut others = cells_of(book, model, simulated, Some(MOST_LOOKED_AT))?;
    others.sort_by_key(|cell| std::cmp::Reverse(cell.entry));
    for cell in others {
        if is_struck(&cell.cell, cell.entry)? {
            continue;
        }
        let entry = book.entry(cell.entry)?.filter(|entry| entry.kind == ASSESSMENT);
        let found = entry.as_ref().and_then(|entry| Some((entry.at, assessment_of(entry).ok()?)));
        if let Some((at, assessment)) = found {
            let nameplate = assessment.cell.nameplate;
            return Ok(Some(UsedLabel { entry: cell.entry, at, cell: cell.cell, nameplate }));
        }
    }
    Ok(None)
}

/// Returns the label files that a path names: itself, or those of a folder by name.
fn label_files(path: &Path) -> Vec<PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let Ok(entries) = std::fs::read_dir(path) else { return Vec::new() };
    let mut files: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    files.retain(|file| file.extension().is_some_and(|ending| ending == "toml") && file.is_file());
    files.sort();
    files
}

/// Reads a label file; one without a model is called as the file is.
fn of_file(path: &Path) -> std::result::Result<LibraryModel, String> {
    let shown = path.display().to_string();
    let about = std::fs::metadata(path).map_err(|error| format!("{shown}: {error}"))?;
    if about.len() > MOST_BYTES {
        return Err(format!("{shown}: it has more than {MOST_BYTES} bytes, so it is no label file"));
    }
    let text = std::fs::read_to_string(path).map_err(|error| format!("{shown}: {error}"))?;
    let mut nameplate = Nameplate::from_toml(&text, &shown).map_err(|faults| faults.to_string())?;
    let stem = || path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let name = nameplate.model.clone().unwrap_or_else(stem);
    nameplate.model = Some(name.clone());
    Ok(LibraryModel { name, nameplate, from: LabelFrom::File(path.to_owned(), text), used: None })
}

/// Keeps a label as a file of the library's folder; returns the file. A file that is there is never written over.
///
/// # Errors
/// There is no folder to keep it in, or the file cannot be written.
pub fn keep_label(folder: &Path, label: &Nameplate, on: Date) -> std::io::Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    let letter = |letter: char| if letter.is_alphanumeric() || letter == '-' { letter } else { '-' };
    let stem: String = label.model.as_deref().unwrap_or("model").chars().map(letter).collect();
    let numbered = |number: u32| match number {
        1 => folder.join(format!("{stem}.toml")),
        number => folder.join(format!("{stem}-{number}.toml")),
    };
    let text = format!("# As read from the label on {on}.\n{}", label.to_toml());
    for path in (1..1000).map(numbered) {
        match std::fs::File::create_new(&path) {
            Ok(mut file) => return file.write_all(text.as_bytes()).map(|()| path),
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
    Err(std::io::Error::other("too many label files of this name"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;
    use celltriage_book::{NewEntry, Subject};
    use celltriage_measure::test_support::nameplate;

    fn assess(book: &mut Book, cell: &str, model: &str, rated_capacity_ah: f64) {
        let made = example(|subject| {
            subject.nameplate = Nameplate { model: Some(model.to_owned()), rated_capacity_ah, ..nameplate() };
        });
        let result = serde_json::to_value(&made).unwrap();
        let new = NewEntry::of(ASSESSMENT, Subject::cell(cell), Timestamp::UNIX_EPOCH);
        book.append(NewEntry { summary: "one".to_owned(), result, ..new }).unwrap();
    }

    fn shown(library: &ModelLibrary) -> Vec<(&str, f64, bool)> {
        let from_file = |model: &LibraryModel| matches!(model.from, LabelFrom::File(..));
        library
            .models
            .iter()
            .map(|one| (one.name.as_str(), one.nameplate.rated_capacity_ah, from_file(one)))
            .collect()
    }

    #[test]
    fn the_newest_used_comes_first_and_a_file_wins_over_the_book() {
        let folder = tempfile::tempdir().unwrap();
        let (path, files) = (folder.path().join("book.sqlite"), folder.path().join("models"));
        assert_eq!(ModelLibrary::read(&path, Some(&files), false).unwrap(), ModelLibrary::default());
        let mut book = Book::open(&path).unwrap();
        for (cell, model, ah) in [("A", "tablet 1", 3.0), ("B", "scanner", 2.0), ("C", "tablet 1", 3.1)] {
            assess(&mut book, cell, model, ah);
        }
        let library = ModelLibrary::read(&path, Some(&files), false).unwrap();
        assert_eq!(shown(&library), [("tablet 1", 3.1, false), ("scanner", 2.0, false)]);
        assert_eq!(ModelLibrary::read(&path, None, true).unwrap(), ModelLibrary::default(), "none simulated");
        let label = |model: &str, rated_capacity_ah| Nameplate {
            model: Some(model.to_owned()),
            rated_capacity_ah,
            ..nameplate()
        };
        let day: Date = "2026-11-25".parse().unwrap();
        let kept = keep_label(&files, &label("tablet 1", 3.05), day).unwrap();
        assert!(kept.ends_with("tablet-1.toml"), "{}", kept.display());
        let second = keep_label(&files, &label("tablet/1", 4.0), day).unwrap();
        assert!(second.ends_with("tablet-1-2.toml"), "{}", second.display());
        std::fs::write(files.join("bad.toml"), "rated_capacity_ah = 3.0\n").unwrap();
        std::fs::write(files.join("notes.txt"), "no label").unwrap();
        let library = ModelLibrary::read(&path, Some(&files), false).unwrap();
        assert_eq!(
            shown(&library),
            [("tablet 1", 3.05, true), ("scanner", 2.0, false), ("tablet/1", 4.0, true)]
        );
        assert!(
            library.faults.len() == 1 && library.faults[0].contains("charge_limit_v"),
            "{:?}",
            library.faults
        );
        let names = |part| library.named(part).into_iter().map(|one| one.name.as_str()).collect::<Vec<_>>();
        assert_eq!(
            (names("TABLET"), names("scan"), names("x")),
            (vec!["tablet 1", "tablet/1"], vec!["scanner"], vec![])
        );
        // One file is a library too.
        let one = ModelLibrary::read(&path, Some(&second), false).unwrap();
        assert_eq!(one.models.len(), 3);
    }
}
