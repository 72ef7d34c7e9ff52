//! A stretch of entries, checked with a few requests for all of them.
//!
//! What is read at once for many entries only ever says that one fits. Whatever does not is looked at by itself, row by row, and
//! that look says what is wrong ([`entry_fits`]).

use std::collections::BTreeMap;

use super::super::identity::Identity;
use super::super::seal::Belongings;
use super::super::store::{EntryRow, PersonalRow, Rows, Wanted};
use super::super::texts::unpack_into;
use super::super::{Digest, Problem};
use super::entry::entry_fits;
use super::found::Verification;
use super::words::are_words_of;

/// Entries to a stretch (our choice: some hundred kilobytes).
pub(super) const STRETCH: i64 = 256;

/// What was found in a stretch.
#[derive(Debug)]
pub(super) struct Stretch {
    pub(super) found: Verification,
    /// Numbers of its first and last entry; 0 where it has none.
    pub(super) first: i64,
    pub(super) last: i64,
    /// Each chain's first entry in it: number, form, position, and the digest that it follows.
    pub(super) opens: BTreeMap<i64, (i64, i64, i64, Digest)>,
    /// Each chain's last entry in it: position and digest.
    pub(super) heads: BTreeMap<i64, (i64, Digest)>,
    pub(super) real: bool,
    pub(super) simulated: bool,
}

/// An entry with what was read of it.
struct Seen {
    row: EntryRow,
    belongings: Belongings,
    words: Option<String>,
    inputs: Option<Digest>,
    result: Option<Digest>,
    words_fit: bool,
    bytes: u64,
}

impl Stretch {
    /// Checks the entries from one number to another, both included.
    pub(super) fn of(rows: &dyn Rows, identity: &Identity, first: i64, last: i64) -> Result<Self, Problem> {
        let mut stretch = Self {
            found: Verification::default(),
            first: 0,
            last: 0,
            opens: BTreeMap::new(),
            heads: BTreeMap::new(),
            real: false,
            simulated: false,
        };
        let mut seen = Vec::new();
        let wanted = Wanted { after: Some(first.saturating_sub(1)), ..Wanted::default() };
        let heard = rows.entries(&wanted, &mut |row| {
            let within = row.number <= last;
            if within {
                stretch.follow(&row);
                seen.push(Seen::of(row));
            }
            Ok(within)
        });
        // What cannot be read at once is looked at by itself.
        if let Err(problem) = read_beside(rows, &mut seen, first, last) {
            stretch.found.say(problem)?;
        }
        let mut link = (0, None);
        for one in &seen {
            match one.fits(rows, identity, &mut link) {
                Ok(true) => {
                    stretch.found.bytes = stretch.found.bytes.saturating_add(one.bytes);
                    continue;
                }
                Ok(false) => {}
                Err(problem) => stretch.found.say(problem)?,
            }
            match entry_fits(rows, identity, &one.row, &mut stretch.found) {
                Err(Problem::Corrupt { detail }) => stretch.found.fault(Some(one.row.number), detail),
                Err(problem) => stretch.found.say(problem)?,
                Ok(()) => {}
            }
        }
        if let Err(problem) = heard {
            stretch.found.say(problem)?;
        }
        Ok(stretch)
    }

    /// Takes in the next row: whether it continues the one before it in its chain.
    fn follow(&mut self, row: &EntryRow) {
        let number = row.number;
        self.real |= row.simulated == Some(false);
        self.simulated |= row.simulated == Some(true);
        self.found.entries = self.found.entries.saturating_add(1);
        self.found.last = Some(row.digest);
        if self.first == 0 {
            self.first = number;
        } else if number != self.last + 1 {
            self.found.fault(Some(number), format!("it does not follow entry {}", self.last));
        }
        self.last = number;
        match self.heads.insert(row.chain, (row.position, row.digest)) {
            None => {
                self.opens.insert(row.chain, (number, row.form, row.position, row.previous));
            }
            Some(head) => self.continues(number, (row.position, row.previous), head),
        }
    }

    /// Says so where a place in a chain does not continue the one before.
    pub(super) fn continues(
        &mut self,
        number: i64,
        (position, previous): (i64, Digest),
        head: (i64, Digest),
    ) {
        if position != head.0.saturating_add(1) || previous != head.1 {
            let missing = head.0;
            self.found.fault(Some(number), format!("it does not continue entry {missing} of its chain"));
        }
    }
}

impl Seen {
    fn of(row: EntryRow) -> Self {
        let belongings = Belongings::default();
        Self { row, belongings, words: None, inputs: None, result: None, words_fit: false, bytes: 0 }
    }

    /// Says whether all of it is what was written; no, where that is not seen at once.
    fn fits(
        &self,
        rows: &dyn Rows,
        identity: &Identity,
        link: &mut (i64, Option<Digest>),
    ) -> Result<bool, Problem> {
        let row = &self.row;
        let texts_fit = (self.inputs, self.result) == (Some(row.inputs), Some(row.result));
        if row.form != 2 || !texts_fit || !self.words_fit {
            return Ok(false);
        }
        if row.origin == 1 && row.stream.0 > 0 {
            if link.0 != row.stream.0 {
                *link = (row.stream.0, rows.link(row.stream.0)?.map(|link| link.digest));
            }
            if link.1 != Some(row.stream.1) {
                return Ok(false);
            }
        }
        Ok(row.seal(identity, &self.belongings) == row.digest
            && self.belongings.about.first() == Some(&row.subject)
            && self.belongings.personal.iter().all(PersonalRow::fits))
    }

    fn text(&mut self, is_inputs: bool, text: &[u8]) {
        let Ok(text) = std::str::from_utf8(text) else { return };
        let digest = Some(Digest::of(text.as_bytes()));
        self.bytes = self.bytes.saturating_add(text.len() as u64);
        if is_inputs {
            self.inputs = digest;
            let words = self.words.take();
            self.words_fit =
                words.is_some_and(|words| are_words_of(&words, &self.row, text, &self.belongings.personal));
        } else {
            self.result = digest;
        }
    }
}

/// Reads what belongs to the entries from one number to another.
fn read_beside(rows: &dyn Rows, seen: &mut [Seen], first: i64, last: i64) -> Result<(), Problem> {
    hand_out(seen, rows.about_between(first, last)?, |one, subject| one.belongings.about.push(subject));
    hand_out(seen, rows.personal_between(first, last)?, |one, row| one.belongings.personal.push(row));
    hand_out(seen, rows.attachments_between(first, last)?, |one, row| one.belongings.attachments.push(row));
    hand_out(seen, rows.recordings_between(first, last)?, |one, row| one.belongings.recordings.push(row));
    hand_out(seen, rows.words_between(first, last)?, |one, words| one.words = Some(words));
    let mut of = Finder { seen, at: 0 };
    let mut unpacked = Vec::new();
    rows.texts_between(first, last, &mut |number, packing, bytes| {
        if let (Some(one), Ok(text)) = (of.entry(number / 2), unpack_into(packing, bytes, &mut unpacked)) {
            one.text(number % 2 == 0, text);
        }
    })
}

/// Gives each entry what is its own.
fn hand_out<T>(seen: &mut [Seen], rows: Vec<(i64, T)>, put: impl Fn(&mut Seen, T)) {
    let mut of = Finder { seen, at: 0 };
    for (entry, row) in rows {
        if let Some(one) = of.entry(entry) {
            put(one, row);
        }
    }
}

/// Finds entries that are asked for in the order of their numbers.
struct Finder<'a> {
    seen: &'a mut [Seen],
    at: usize,
}

impl Finder<'_> {
    fn entry(&mut self, number: i64) -> Option<&mut Seen> {
        while self.seen.get(self.at).is_some_and(|one| one.row.number < number) {
            self.at += 1;
        }
        self.seen.get_mut(self.at).filter(|one| one.row.number == number)
    }
}
