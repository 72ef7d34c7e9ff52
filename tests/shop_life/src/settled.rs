//! What puts things right: an entry that is struck, and a cell that is treated as the rules want it.

use crate::bench::Tested;
use crate::cells::name;
use crate::life::{Came, Life};
use crate::step::{Eyes, Judging, Seen, Tag};
use crate::told::Lies;
use celltriage_workshop::Workshop;
use celltriage_workshop::corrections::NewCorrection;
use jiff::SignedDuration;

/// Looks at a watched cell, a day apart, since where clocks contradict each other a longer time without an entry counts as a day.
const LOOKS: u32 = 31;

impl Life<'_> {
    /// Whatever clocks and people have done: who does what the rules want gets a cell judged and out of its watch.
    pub(crate) fn settled(&mut self, number: u8) -> Came {
        let cell = &name(number);
        let told = self.told.cells.get(cell).cloned().unwrap_or_default();
        if told.entries.is_empty() || told.lies != Lies::Loose || self.shop.to_judge(cell).is_err() {
            return Ok(());
        }
        self.clock.wrong_by.set(SignedDuration::ZERO);
        // A decision with a wrong date is replaced by a new one. Another tag's entry that blocks the test has to be struck first.
        let refused = self.tally.refused;
        let looked_at =
            Tested { cell: number, tag: Tag::Own, eyes: Eyes::Careful, full: false, mishap: None };
        self.tested(&looked_at)?;
        if self.tally.refused > refused {
            return Ok(());
        }
        self.watched(cell, 28)?;
        for _ in 0..LOOKS {
            self.clock.pass(SignedDuration::from_hours(24));
            self.seen(cell, Seen::Cool)?;
        }
        let refused = self.tally.refused;
        self.judged(cell, Judging::Damaged, true)?;
        self.not_refused_since(refused, "judged", cell)?;
        self.released(cell)?;
        self.not_refused_since(refused, "released", cell)
    }

    fn not_refused_since(&self, refused: u64, what: &str, cell: &str) -> Came {
        if self.tally.refused == refused {
            return Ok(());
        }
        Err(("nothing is stuck for good", format!("{cell} is not {what}: {:?}", self.last_refusal)))
    }

    pub(crate) fn struck(&mut self, cell: &str, back: u8) -> Came {
        let entries = self.told.cells.get(cell).map_or(&[][..], |told| &told.entries);
        let Some(entry) = entries.iter().rev().nth(usize::from(back)).copied() else { return Ok(()) };
        let new = NewCorrection { entry, because: "the wrong cell".to_owned(), strike: true };
        let signer = self.signer();
        let done = Workshop::correct(&mut self.shop, &signer, &self.rules, &new).map(|done| done.entry);
        if let Some(by) = self.noted(cell, done)? {
            self.tally.struck += 1;
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            told.struck.push((by, entry));
            told.strike(entry);
            // Which of several signs it was is not noted: nothing is promised of this cell any more.
            told.reacted = None;
            (told.used, told.shorted) = (None, None);
        }
        Ok(())
    }
}
