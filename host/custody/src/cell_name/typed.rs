//! What a person types or scans where a cell or an entry is asked for: a name, a tag, `entry:12`, or `cell:` and a name as it is.
//!
//! A number is the name of a cell, always: a shop that numbers its cells must never meet another cell's entry. Who means the entry
//! writes `entry:12`. `cell:` takes what follows as it is, for names of older books that a tag or a prefix would swallow.

use super::tag::{BadTag, name_on};
use super::{CellName, NotAName};
use unicode_normalization::UnicodeNormalization;

/// What stands before the number of an entry.
pub const ENTRY: &str = "entry:";
/// What stands before a name that is taken as it is.
pub const CELL: &str = "cell:";

/// What was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A cell.
    Cell(String),
    /// An entry of the book.
    Entry(u32),
}

/// Why it cannot be understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotUnderstood {
    /// A tag that was read wrongly.
    #[error(transparent)]
    Tag(#[from] BadTag),
    /// No name for a cell.
    #[error(transparent)]
    Name(#[from] NotAName),
    /// No number of an entry.
    #[error("`{0}` is no number of an entry: write {ENTRY}12, or 12")]
    Number(String),
    /// An entry where a cell is asked for.
    #[error("a cell is asked for here, and {ENTRY}{0} is an entry: write the cell's name")]
    EntryForCell(u32),
}

impl Typed {
    /// Reads what may be a cell or an entry. Names that a new cell could not have are left to the book, which may know them.
    ///
    /// # Errors
    /// A tag that does not fit, a number that is none, or nothing at all.
    pub fn read(text: &str) -> Result<Self, NotUnderstood> {
        if let Some(number) = text.strip_prefix(ENTRY) {
            return entry_number(number).map(Self::Entry);
        }
        if let Some(name) = text.strip_prefix(CELL) {
            return Ok(Self::Cell(name.to_owned()));
        }
        let name: String = text.nfc().collect();
        if name.trim().is_empty() {
            return Err(NotAName::Empty.into());
        }
        match name_on(&name) {
            Some(name) => Ok(Self::Cell(name?.to_owned())),
            None => Ok(Self::Cell(name)),
        }
    }
}

/// Reads a cell that the book knows.
///
/// # Errors
/// As [`Typed::read`], and where an entry was typed.
pub fn known_cell(text: &str) -> Result<String, NotUnderstood> {
    match Typed::read(text)? {
        Typed::Cell(name) => Ok(name),
        Typed::Entry(number) => Err(NotUnderstood::EntryForCell(number)),
    }
}

/// Reads a cell that may be new: what is not marked with `cell:` must be a name for one.
///
/// # Errors
/// As [`known_cell`], and what is wrong with the name.
pub fn new_cell(text: &str) -> Result<String, NotUnderstood> {
    let name = known_cell(text)?;
    if !text.starts_with(CELL) {
        CellName::new(&name)?;
    }
    Ok(name)
}

/// Reads an entry where only an entry can be meant: its number, with or without the word before it.
///
/// # Errors
/// It is no number.
pub fn entry_number(text: &str) -> Result<u32, NotUnderstood> {
    let number = text.strip_prefix(ENTRY).unwrap_or(text);
    number.parse().map_err(|_| NotUnderstood::Number(text.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell_name::tag::tag_of;

    #[test]
    fn a_number_is_a_cell_unless_it_is_said_to_be_an_entry() {
        let cell = |name: &str| Ok(Typed::Cell(name.to_owned()));
        assert_eq!(Typed::read("12"), cell("12"));
        assert_eq!(Typed::read("entry:12"), Ok(Typed::Entry(12)));
        assert_eq!(Typed::read("cell:12"), cell("12"));
        assert_eq!(Typed::read(&tag_of("12").unwrap()), cell("12"));
        assert_eq!(Typed::read("cell:entry:12"), cell("entry:12"));
        for bad in ["entry:", "entry:x", "entry:-1", "entry:99999999999"] {
            assert!(matches!(Typed::read(bad), Err(NotUnderstood::Number(_))), "{bad}");
        }
        assert_eq!(known_cell("entry:12"), Err(NotUnderstood::EntryForCell(12)));
        assert_eq!((entry_number("12"), entry_number("entry:12")), (Ok(12), Ok(12)));
        assert!(entry_number("PE-1").is_err());
    }

    #[test]
    fn names_of_older_books_are_read_and_new_ones_are_checked() {
        for old in ["A+BC", "x\u{200b}y"] {
            assert_eq!(known_cell(old).as_deref(), Ok(old));
            assert!(new_cell(old).is_err(), "{old}");
        }
        assert_eq!(known_cell("cell:A+B").as_deref(), Ok("A+B"));
        assert!(matches!(known_cell("A+B"), Err(NotUnderstood::Tag(_))));
        assert_eq!(new_cell("cell:A+B").as_deref(), Ok("A+B"), "whether it is new, the book says");
        let tag = tag_of("PE-0001").unwrap();
        assert_eq!((known_cell(&tag).as_deref(), new_cell(&tag).as_deref()), (Ok("PE-0001"), Ok("PE-0001")));
        assert_eq!(new_cell("A\u{308}1").as_deref(), Ok("Ä1"));
        assert!(known_cell("").is_err() && known_cell(" ").is_err());
    }
}
