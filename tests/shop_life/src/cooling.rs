//! Warm cells: felt again, and released by the rule that is for them and no other.

use crate::life::{Came, Life};
use crate::told::Held;
use celltriage_workshop::findings::NewLook;

impl Life<'_> {
    /// A look at a cell's temperature.
    pub(crate) fn felt(&mut self, cell: &str, warm: bool) -> Came {
        let temperature_c = if warm { 24.0 } else { 18.3 };
        let look = NewLook { cell: cell.to_owned(), temperature_c, air_c: 18.0 };
        let (signer, now) = (self.signer(), self.clock.true_time.get());
        let done = self.shop.look_at_temperature(&signer, &self.rules, &look).map(|done| done.entry);
        if let Some(entry) = self.noted(cell, done)? {
            let told = self.told.cells.entry(cell.to_owned()).or_default();
            match warm {
                true => told.cool.clear(),
                false => told.cool.push((entry, now)),
            }
        }
        Ok(())
    }

    /// A person ends what an entry found. Only that a cell was warm at rest ends so, by an hour of being cool since.
    pub(crate) fn ended(&mut self, cell: &str, back: u8) -> Came {
        let entries = self.told.cells.get(cell).map_or(&[][..], |told| &told.entries);
        let Some(entry) = entries.iter().rev().nth(usize::from(back)).copied() else { return Ok(()) };
        let (signer, told) = (self.signer(), self.told.cells.get(cell).cloned().unwrap_or_default());
        let done = self.shop.end_finding(&signer, &self.rules, entry, "cold again").map(|done| done.entry);
        let Some(by) = self.noted(cell, done)? else { return Ok(()) };
        self.tally.ended += 1;
        let warm = told.held.iter().any(|(held, why)| *held == entry && *why == Held::KeptApart);
        if !warm {
            return Err(("only warmth ends by cooling", format!("{cell}: entry {entry}, ended by {by}")));
        }
        let since: Vec<_> = told.cool.iter().filter(|(look, _)| *look > entry).map(|(_, at)| *at).collect();
        let minutes = match (since.first(), since.last()) {
            (Some(first), Some(last)) => last.duration_since(*first).as_mins(),
            _ => 0,
        };
        // A clock that goes wrong between two looks makes an hour of less; what contradicts itself ends nothing.
        if minutes < 60 && !self.clock_was_wrong {
            return Err(("warmth ends after an hour of being cool", format!("{cell}: {minutes} min")));
        }
        if let Some(told) = self.told.cells.get_mut(cell) {
            told.held.retain(|(held, why)| (*held, *why) != (entry, Held::KeptApart));
        }
        Ok(())
    }
}
