//! What a person says of the clock, and whether something may be written by it.
//!
//! Days in the book decide when a watch ends, how long a look speaks for a charge and when a calibration is due, so a wrong
//! clock does harm long after it was put right. A person who can look at a calendar answers for it; nobody's silence does.
//! Asking is for each face; the refusal is here.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use celltriage_custody::clock_doubt::{Doubt, doubt};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// What a person has said of the clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ClockWord {
    /// Nothing.
    #[default]
    Unsaid,
    /// That a calendar shows this day.
    Stated(Date),
    /// Asked about it, that its date is right.
    Confirmed,
}

/// What the clock says beside the book's last entry.
#[derive(Clone, Debug)]
pub struct ClockReading {
    /// The time now.
    pub now: Timestamp,
    /// The time zone of the workshop.
    pub zone: TimeZone,
    /// Time of the last entry; `None` in a book without entries.
    pub last: Option<Timestamp>,
}

impl ClockReading {
    fn today(&self) -> Date {
        self.now.to_zoned_datetime(self.zone.clone()).date()
    }

    /// Checks that a day that was stated is the clock's.
    ///
    /// # Errors
    /// [`Fault::AnotherDay`].
    pub fn agrees_with(&self, word: ClockWord) -> Result<()> {
        match word {
            ClockWord::Stated(stated) if stated != self.today() => {
                let now = self.now.to_zoned_datetime(self.zone.clone());
                Err(Fault::AnotherDay { stated, now: now.strftime("%a %-d %b %Y %H:%M").to_string() })
            }
            _ => Ok(()),
        }
    }

    /// Checks that something may be written by this clock.
    ///
    /// # Errors
    /// [`Fault::AnotherDay`], or [`Fault::ClockInDoubt`] if nobody answers for a clock that may be wrong.
    pub fn allows(&self, word: ClockWord) -> Result<()> {
        self.agrees_with(word)?;
        match self.open_doubt(word) {
            Some(doubt) => {
                let told = doubt.words(self.now, &self.zone);
                Err(Fault::ClockInDoubt { doubt, told, today: self.today() })
            }
            None => Ok(()),
        }
    }

    /// Returns a warning: for what only reads, and for what nothing may hold up.
    pub fn warning(&self, word: ClockWord) -> Option<String> {
        if self.agrees_with(word).is_err() {
            let today = self.today();
            return Some(format!(
                "the day stated with the call is not {today}, as this computer has it; look at its clock"
            ));
        }
        let doubt = self.open_doubt(word)?;
        Some(format!("{}; is the computer's date right?", doubt.words(self.now, &self.zone)))
    }

    /// What speaks against the clock and is not answered for.
    fn open_doubt(&self, word: ClockWord) -> Option<Doubt> {
        let found = doubt(self.now, self.last)?;
        match word {
            ClockWord::Unsaid => Some(found),
            // A day before the program's own is stated by a script that copies the clock, and by nobody who looked.
            ClockWord::Stated(_) => (found == Doubt::BeforeProgram).then_some(found),
            ClockWord::Confirmed => None,
        }
    }
}

impl Workshop<'_> {
    /// Reads the clock beside the book's last entry.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn clock_reading(&self) -> Result<ClockReading> {
        let last = self.book.time_of_last_entry()?;
        Ok(ClockReading { now: self.now(), zone: self.zone().clone(), last })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn reading(now: &str) -> ClockReading {
        let last = Some("2026-11-25T12:00:00Z".parse().unwrap());
        ClockReading { now: now.parse().unwrap(), zone: TimeZone::UTC, last }
    }

    #[test]
    fn a_clock_in_doubt_writes_only_if_a_person_answers_for_it() {
        let early = reading("2026-11-24T12:00:00Z");
        let refused = early.allows(ClockWord::Unsaid).unwrap_err();
        assert!(matches!(refused, Fault::ClockInDoubt { doubt: Doubt::BeforeLast(_), .. }), "{refused}");
        assert!(refused.to_string().ends_with("Wed 25 Nov 2026 12:00; nothing was written"), "{refused}");
        assert!(early.warning(ClockWord::Unsaid).unwrap().ends_with("is the computer's date right?"));
        for answered in [ClockWord::Stated(date(2026, 11, 24)), ClockWord::Confirmed] {
            assert!(early.allows(answered).is_ok(), "{answered:?}");
            assert_eq!(early.warning(answered), None, "{answered:?}");
        }
        assert!(reading("2026-11-25T12:00:30Z").allows(ClockWord::Unsaid).is_ok());
    }

    #[test]
    fn another_day_than_the_clock_s_is_refused_also_without_a_doubt() {
        let sound = reading("2026-11-25T12:00:30Z");
        let other = ClockWord::Stated(date(2026, 11, 26));
        let refused = sound.allows(other).unwrap_err();
        assert!(matches!(refused, Fault::AnotherDay { .. }), "{refused}");
        assert!(sound.warning(other).unwrap().contains("is not 2026-11-25"));
    }

    #[test]
    fn a_clock_from_before_the_program_is_not_answered_for_by_a_day_that_copies_it() {
        let flat = reading("1970-01-01T00:00:10Z");
        let stated = ClockWord::Stated(date(1970, 1, 1));
        let refused = flat.allows(stated).unwrap_err();
        assert!(matches!(refused, Fault::ClockInDoubt { doubt: Doubt::BeforeProgram, .. }), "{refused}");
        assert!(flat.allows(ClockWord::Confirmed).is_ok(), "a person was asked");
    }
}
