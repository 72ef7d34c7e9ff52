//! What people and the fixture have told the book, noted beside it: who is held for what, where each cell lies, what was written.
//!
//! It takes only what was accepted, and knows no rule but one: what was found stands until its entry is struck, a watch until it is
//! released.

use crate::step::BoxFor;
use jiff::Timestamp;
use std::collections::BTreeMap;

/// Why a cell is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    /// A sign was said to be there.
    Sign,
    /// A decision kept it apart for what it is.
    KeptApart,
    /// A person judged it damaged or worse.
    Judged,
    /// It is under watch.
    Watch,
    /// It was seen to be worse, or reacting.
    Seen,
}

/// Where a cell lies, by what was said.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Lies {
    /// In the shop, in no box.
    #[default]
    Loose,
    /// In a box.
    In(u8),
    /// In a device.
    Fitted,
    /// It has left.
    Gone,
}

/// What was told of a cell.
#[derive(Clone, Debug, Default)]
pub struct OfCell {
    /// What stands against it, by entry.
    pub held: Vec<(u32, Held)>,
    /// Where it lies.
    pub lies: Lies,
    /// Entries about it, the oldest first.
    pub entries: Vec<u32>,
    /// When it was last said to be reacting, truly.
    pub reacted: Option<Timestamp>,
    /// When it was truly felt to be cool, one time after the other, with the entries; none since it was felt to be warm.
    pub cool: Vec<(u32, Timestamp)>,
    /// It was in a device, or something happened to it, and it was not tested to the end since.
    pub unscreened: bool,
    /// A short, and no such test with every sign looked for since.
    pub shaken: bool,
    /// When its watch truly began, and for how many days.
    pub watch: Option<(Timestamp, u8)>,
}

/// What was told of everything.
#[derive(Debug, Default)]
pub struct Told {
    /// By the name that was typed.
    pub cells: BTreeMap<String, OfCell>,
    /// Boxes that were opened.
    pub boxes: BTreeMap<u8, BoxFor>,
    /// Every entry that was acknowledged.
    pub entries: Vec<u32>,
}

impl Told {
    /// Notes an entry about a cell.
    pub fn about(&mut self, cell: &str, entry: u32) -> &mut OfCell {
        self.entries.push(entry);
        let cell = self.cells.entry(cell.to_owned()).or_default();
        cell.entries.push(entry);
        cell
    }

    /// What stands against a cell.
    pub fn held(&self, cell: &str) -> &[(u32, Held)] {
        self.cells.get(cell).map_or(&[], |cell| &cell.held)
    }
}
