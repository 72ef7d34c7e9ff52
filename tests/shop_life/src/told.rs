//! What people and the fixture have told the book, noted beside it: who is held for what, where each cell lies, what was written.
//!
//! It takes only what was accepted, and knows no rule but one: what was found stands until its entry is struck, a watch until it is
//! released; and what an entry has ended stands again once that entry is struck.

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
    /// A watch on the fixture told an alarm about it: that it is warm.
    WarmAlarm,
    /// The same: that it reacts.
    ReactingAlarm,
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

/// What was ended by its rule.
#[derive(Clone, Copy, Debug)]
pub struct Ended {
    /// The entry that found it.
    pub entry: u32,
    /// What it was.
    pub why: Held,
    /// The entry that has ended it.
    pub by: u32,
    /// Whether a look or a watch was struck since on which that may have rested: it may stand again.
    pub may_stand: bool,
}

/// What was told of a cell. Times are true ones, whatever a clock says.
#[derive(Clone, Debug, Default)]
pub struct OfCell {
    /// What stands against it, by entry.
    pub held: Vec<(u32, Held)>,
    /// What stood against it and was ended by its rule.
    pub ended: Vec<Ended>,
    /// Entries that say that others were struck, and those others.
    pub struck: Vec<(u32, u32)>,
    /// Where it lies.
    pub lies: Lies,
    /// The entry with which it went into the device that it is in.
    pub fitted_by: Option<u32>,
    /// Entries about it, the oldest first.
    pub entries: Vec<u32>,
    /// When it was last said to be reacting.
    pub reacted: Option<Timestamp>,
    /// When it was last judged to be less than critical.
    pub judged: Option<Timestamp>,
    /// When its temperature was felt, by entry, and whether it was warm.
    pub felt: Vec<(u32, Timestamp, bool)>,
    /// Watches on the fixture that told nothing and ran to their end, by entry: when they began, and how many hours they took.
    pub quiet: Vec<(u32, Timestamp, f64)>,
    /// When it last was in a device, or something happened to it.
    pub used: Option<Timestamp>,
    /// When it was last shorted.
    pub shorted: Option<Timestamp>,
    /// When it was last tested to the end.
    pub screened: Option<Timestamp>,
    /// When it was last tested to the end with every sign looked for and none found.
    pub looked_at: Option<Timestamp>,
    /// When it was last looked at under its watch.
    pub seen: Option<Timestamp>,
    /// When its watch began, and for how many days.
    pub watch: Option<(Timestamp, u8)>,
}

impl OfCell {
    /// Takes in that an entry was struck: what it found stands no more, what it had ended stands again.
    pub fn strike(&mut self, struck: u32) {
        if self.held.iter().any(|(held, why)| *held == struck && *why == Held::Watch) {
            self.watch = None;
        }
        self.held.retain(|(held, _)| *held != struck);
        let back = self.ended.extract_if(.., |ended| ended.by == struck);
        self.held.extend(back.map(|ended| (ended.entry, ended.why)));
        self.ended.retain(|ended| ended.entry != struck);
        let (felt, watched) = (self.felt.len(), self.quiet.len());
        self.felt.retain(|(felt, ..)| *felt != struck);
        self.quiet.retain(|(quiet, ..)| *quiet != struck);
        let (a_look, a_watch) = (self.felt.len() < felt, self.quiet.len() < watched);
        for ended in &mut self.ended {
            let rests = if ended.why == Held::KeptApart { a_look } else { a_watch };
            ended.may_stand |= rests && struck < ended.by;
        }
        // It was another cell that went into the device.
        if self.fitted_by.take_if(|fitted| *fitted == struck).is_some() {
            self.lies = Lies::Loose;
        }
    }

    /// Says whether it was in a device, or something happened to it, and it was not tested to the end since.
    pub fn is_unscreened(&self) -> bool {
        self.used.is_some_and(|used| self.screened.is_none_or(|screened| screened <= used))
    }

    /// Says whether it was shorted, and not tested to the end with every sign looked for since.
    pub fn is_shaken(&self) -> bool {
        self.shorted.is_some_and(|shorted| self.looked_at.is_none_or(|looked| looked <= shorted))
    }
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
    /// When each entry about a cell was told.
    pub times: BTreeMap<u32, Timestamp>,
}

impl Told {
    /// Notes an entry about a cell.
    pub fn about(&mut self, cell: &str, entry: u32, at: Timestamp) -> &mut OfCell {
        self.entries.push(entry);
        self.times.insert(entry, at);
        let cell = self.cells.entry(cell.to_owned()).or_default();
        cell.entries.push(entry);
        cell
    }

    /// What stands against a cell.
    pub fn held(&self, cell: &str) -> &[(u32, Held)] {
        self.cells.get(cell).map_or(&[], |cell| &cell.held)
    }
}
