//! What an entry is about: a thing of the shop, by its sort and its name.

use std::fmt;

use super::Problem;

/// The sorts of things that entries are about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SubjectKind {
    /// A cell.
    Cell,
    /// A model of cells.
    Model,
    /// A fixture.
    Fixture,
    /// Something that fixtures are checked with.
    Standard,
    /// A container.
    Container,
    /// A shipment.
    Shipment,
    /// The book itself.
    Book,
}

/// A thing that entries are about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subject {
    /// Its sort. Two things of different sorts may have one name.
    pub kind: SubjectKind,
    /// Its name in the shop.
    pub name: String,
}

impl SubjectKind {
    /// All sorts.
    pub const ALL: [Self; 7] =
        [Self::Cell, Self::Model, Self::Fixture, Self::Standard, Self::Container, Self::Shipment, Self::Book];

    /// Returns the word under which it is stored; it never changes.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cell => "cell",
            Self::Model => "model",
            Self::Fixture => "fixture",
            Self::Standard => "standard",
            Self::Container => "container",
            Self::Shipment => "shipment",
            Self::Book => "book",
        }
    }

    /// Reads the stored word.
    pub(super) fn of_word(word: &str) -> Result<Self, Problem> {
        let known = Self::ALL.into_iter().find(|kind| kind.word() == word);
        known.ok_or_else(|| Problem::Corrupt { detail: format!("unknown sort of subject: {word}") })
    }
}

impl Subject {
    /// Returns the thing of this sort and name.
    pub fn new(kind: SubjectKind, name: impl Into<String>) -> Self {
        Self { kind, name: name.into() }
    }

    /// Returns the cell of this name.
    pub fn cell(name: impl Into<String>) -> Self {
        Self::new(SubjectKind::Cell, name)
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.kind.word(), self.name)
    }
}
