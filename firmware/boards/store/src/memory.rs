//! What the fixture remembers of earlier starts of its program, and how it numbers this one.
//!
//! A start after power-up is written into the [`Journal`]; a reset with the power on is only counted up, from the number
//! that the board kept over it, so that a program that fails again and again wears nothing. The number is that of the
//! power-up times [`RESETS`], plus the resets since: it rises with each start, whatever was lost in between. A trip stays
//! latched over resets and power failures until a person acknowledges it.
//!
//! What is not kept: a trip or its acknowledgement beyond the [`Allowance`] (the earlier state then stands), and the panic of a
//! start that has failed more than [`TOLD`] times since power-up.

use crate::allowance::Allowance;
use crate::entry::{Entry, What};
use crate::journal::Journal;
use celltriage_firmware::board::Boot;
use celltriage_protocol::description::{PastPanic, ResetCause};
use celltriage_protocol::event::Trip;
use celltriage_protocol::units::Micros;
use embedded_storage::nor_flash::NorFlash;

/// Resets that are counted before another number is written: one write in seven minutes of a program that lives 0.1 s.
pub const RESETS: u32 = 1 << 12;
/// Starts since power-up at which another panic is written down: two texts of the same failure may differ in what lay on the
/// stack before.
pub const TOLD: u32 = 8;

/// The memory.
#[derive(Clone, Debug)]
pub struct Memory {
    journal: Journal,
    allowance: Allowance,
    boot: u32,
}

impl Memory {
    /// Reads the journal in two sectors from `offset` on and numbers this start. `before` is the number of the start before,
    /// where the board has kept it over a reset with the power on; `panic` what the program left where it failed.
    pub fn begin<F: NorFlash>(
        flash: &mut F,
        offset: u32,
        before: Option<u32>,
        panic: Option<Entry>,
        reset: Option<ResetCause>,
    ) -> (Self, Boot) {
        let mut journal = Journal::open(flash, offset);
        let highest = journal.kept().boot.max(before.unwrap_or_default());
        let next = before.map(|before| before.saturating_add(1)).filter(|next| next % RESETS != 0);
        let boot = next.unwrap_or((highest / RESETS).saturating_add(1).saturating_mul(RESETS));
        // Where the flash fails, this start has its number still, and the next one may have the same.
        if next.is_none() {
            let _ = journal.append(flash, &Entry { boot, what: What::Start });
        }
        let panicked = panic.and_then(|entry| match entry.what {
            What::Panic(place) => Some(PastPanic { boot: entry.boot, place }),
            _ => None,
        });
        if let Some(past) = &panicked
            && boot % RESETS < TOLD
            && journal.kept().panic.as_ref().is_none_or(|kept| kept.place != past.place)
        {
            let _ = journal.append(flash, &Entry { boot: past.boot, what: What::Panic(past.place.clone()) });
        }
        let kept = journal.kept();
        let boot_data = Boot {
            number: boot,
            reset: if panicked.is_some() { Some(ResetCause::Panic) } else { reset },
            panic: panicked.or_else(|| kept.panic.clone()),
            trip: kept.trip,
            latched: kept.trip.filter(|_| kept.is_latched).map(|past| past.trip),
        };
        (Self { journal, allowance: Allowance::default(), boot }, boot_data)
    }

    /// Returns the number of this start.
    pub const fn boot(&self) -> u32 {
        self.boot
    }

    /// Writes down a trip.
    pub fn trip<F: NorFlash>(&mut self, flash: &mut F, trip: &Trip) {
        if self.allowance.take(trip.at) {
            // A flash that fails leaves what it kept before.
            let _ = self.journal.append(flash, &Entry { boot: self.boot, what: What::Trip(*trip) });
        }
    }

    /// Writes down that a trip was acknowledged.
    pub fn acknowledged<F: NorFlash>(&mut self, flash: &mut F, trip: u32, now: Micros) {
        if self.allowance.take(now) {
            let _ = self.journal.append(flash, &Entry { boot: self.boot, what: What::Acknowledged { trip } });
        }
    }
}

#[cfg(test)]
mod tests;
