//! Findings that end by their rule: warm cells that are felt again, alarms after which a cell is watched again; no others.

use crate::life::{Came, Life};
use crate::told::{Ended, Held, OfCell};
use celltriage_workshop::findings::NewLook;
use jiff::Timestamp;

impl Life<'_> {
    /// A look at a cell's temperature.
    pub(crate) fn felt(&mut self, cell: &str, warm: bool) -> Came {
        let temperature_c = if warm { 24.0 } else { 18.3 };
        let look = NewLook { cell: cell.to_owned(), temperature_c, air_c: 18.0 };
        let (signer, now) = (self.signer(), self.clock.true_time.get());
        let done = self.shop.look_at_temperature(&signer, &self.rules, &look).map(|done| done.entry);
        if let Some(entry) = self.noted(cell, done)? {
            self.told.cells.entry(cell.to_owned()).or_default().felt.push((entry, now, warm));
        }
        Ok(())
    }

    /// A person ends what an entry found: that a cell was warm at rest, or an alarm. Nothing else ends so.
    pub(crate) fn ended(&mut self, cell: &str, back: u8) -> Came {
        let entries = self.told.cells.get(cell).map_or(&[][..], |told| &told.entries);
        let Some(entry) = entries.iter().rev().nth(usize::from(back)).copied() else { return Ok(()) };
        let (signer, told) = (self.signer(), self.told.cells.get(cell).cloned().unwrap_or_default());
        let done = self.shop.end_finding(&signer, &self.rules, entry, "cold again").map(|done| done.entry);
        let Some(by) = self.noted(cell, done)? else { return Ok(()) };
        self.tally.ended += 1;
        let since = self.told.times.get(&entry).copied().unwrap_or(jiff::Timestamp::MIN);
        let stands = told.held.iter().find(|(held, _)| *held == entry).map(|(_, why)| *why);
        let stands_again = || told.ended.iter().find(|ended| ended.entry == entry && ended.may_stand);
        let found = stands.or_else(|| stands_again().map(|ended| ended.why));
        match found {
            Some(Held::KeptApart) => self.was_cool_for_an_hour(cell, &told, since)?,
            Some(Held::WarmAlarm | Held::ReactingAlarm) => {
                self.tally.alarms_ended += 1;
                was_quiet(cell, &told, since)?;
                if found == Some(Held::ReactingAlarm) && told.judged.is_none_or(|judged| judged < since) {
                    return Err(("who reacted is judged first", format!("{cell}: entry {entry}")));
                }
            }
            _ => {
                let what = format!("{cell}: entry {entry}, {found:?}, ended by {by}");
                return Err(("only warmth and alarms end by their rule", what));
            }
        }
        if let (Some(told), Some(why)) = (self.told.cells.get_mut(cell), found) {
            told.held.retain(|(held, _)| *held != entry);
            told.ended.retain(|ended| ended.entry != entry);
            told.ended.push(Ended { entry, why, by, may_stand: false });
        }
        Ok(())
    }

    fn was_cool_for_an_hour(&self, cell: &str, told: &OfCell, since: Timestamp) -> Came {
        let later = told.felt.iter().filter(|(_, at, _)| *at >= since);
        let mut felt: Vec<_> = later.map(|(entry, at, warm)| (*at, *entry, *warm)).collect();
        felt.sort_unstable();
        let cool: Vec<_> = felt.iter().rev().take_while(|(.., warm)| !warm).map(|(at, ..)| *at).collect();
        let minutes = match (cool.last(), cool.first()) {
            (Some(first), Some(last)) => last.duration_since(*first).as_mins(),
            _ => 0,
        };
        // A clock that goes wrong between two looks makes an hour of less; what contradicts itself ends nothing.
        if minutes < 60 && !self.clock_was_wrong {
            return Err(("warmth ends after an hour of being cool", format!("{cell}: {minutes} min")));
        }
        Ok(())
    }
}

/// An alarm ends by a later watch of six hours or more that told none, whatever the clock says.
fn was_quiet(cell: &str, told: &OfCell, since: Timestamp) -> Came {
    let longest = told.quiet.iter().filter(|(_, began, _)| *began >= since).map(|(.., hours)| *hours);
    let longest = longest.fold(0.0, f64::max);
    // A reading is missing at the end.
    if longest < 5.99 {
        let what = format!("{cell}: the longest watch since took {longest:.2} h");
        return Err(("an alarm ends by six quiet hours on the fixture", what));
    }
    Ok(())
}
