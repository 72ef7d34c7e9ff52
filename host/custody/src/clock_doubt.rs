//! Whether the computer's clock may be wrong, by the time of the book's last entry.
//!
//! Days in the book decide when a watch ends, how long a look speaks for a charge and when a calibration is due, so a wrong
//! clock does harm long after it was put right.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// So far may the clock stand before the last entry without a question: benches that write into one book have clocks of
/// their own, and computers that ask a time server agree within seconds (our choice, on the wide side).
pub const TOLERANCE: SignedDuration = SignedDuration::from_mins(2);
/// So long after the last entry may the clock stand without a question: a shop that works writes every day (our choice).
/// What counts days cannot then be shortened by a jump of more than a day that nobody has seen.
pub const QUIET: SignedDuration = SignedDuration::from_hours(24);
/// No clock that is right stands before this: 2024-01-01 UTC, earlier than the first line of this program. A clock without
/// a battery begins years before it (our choice).
const PROGRAM_BEGAN: Timestamp = Timestamp::constant(1_704_067_200, 0);

/// Why the clock may be wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// It stands before this program was written.
    BeforeProgram,
    /// It stands before the last entry.
    BeforeLast(Timestamp),
    /// Nothing was written for long, or it stands ahead.
    LongAfter(Timestamp),
}

/// Returns what speaks against a clock that says `now`, where the book's last entry is of `last`.
pub fn doubt(now: Timestamp, last: Option<Timestamp>) -> Option<Doubt> {
    if now < PROGRAM_BEGAN {
        return Some(Doubt::BeforeProgram);
    }
    let last = last?;
    let since = now.duration_since(last);
    if since < -TOLERANCE {
        Some(Doubt::BeforeLast(last))
    } else if since > QUIET {
        Some(Doubt::LongAfter(last))
    } else {
        None
    }
}

impl Doubt {
    /// Says both times in words, as they are where the shop is.
    pub fn words(self, now: Timestamp, zone: &TimeZone) -> String {
        let day =
            |at: Timestamp| at.to_zoned_datetime(zone.clone()).strftime("%a %-d %b %Y %H:%M").to_string();
        let now = day(now);
        match self {
            Doubt::BeforeProgram => {
                format!("this computer says {now}, which is before this program was written")
            }
            Doubt::BeforeLast(last) | Doubt::LongAfter(last) => {
                format!("this computer says {now}; the newest entry of the book is of {}", day(last))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZone;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn a_clock_is_in_doubt_before_the_last_entry_a_day_after_it_and_before_the_program() {
        let last = at("2026-11-27T17:40:00Z");
        for (now, expected) in [
            ("2026-11-27T17:40:00Z", None),
            ("2026-11-27T17:38:00Z", None),
            ("2026-11-27T17:37:59.999Z", Some(Doubt::BeforeLast(last))),
            ("2025-11-27T17:40:00Z", Some(Doubt::BeforeLast(last))),
            ("2026-11-28T17:40:00Z", None),
            ("2026-11-28T17:40:00.001Z", Some(Doubt::LongAfter(last))),
            ("2036-11-28T17:40:00Z", Some(Doubt::LongAfter(last))),
            ("2023-12-31T23:59:59Z", Some(Doubt::BeforeProgram)),
            ("1969-12-31T23:59:59Z", Some(Doubt::BeforeProgram)),
            ("-009999-06-02T00:00:00Z", Some(Doubt::BeforeProgram)),
        ] {
            assert_eq!(doubt(at(now), Some(last)), expected, "{now}");
        }
        assert_eq!(doubt(at("2024-01-01T00:00:00Z"), None), None);
        assert_eq!(doubt(at("2036-01-01T00:00:00Z"), None), None, "an empty book says nothing");
        assert_eq!(doubt(at("2023-12-31T23:59:59Z"), None), Some(Doubt::BeforeProgram));
        // A last entry at the end of all time is no reason to fail.
        assert_eq!(doubt(last, Some(Timestamp::MAX)), Some(Doubt::BeforeLast(Timestamp::MAX)));
        assert_eq!(doubt(last, Some(Timestamp::MIN)), Some(Doubt::LongAfter(Timestamp::MIN)));
    }

    #[test]
    fn both_times_are_told_as_they_are_where_the_shop_is() {
        let zone = TimeZone::fixed(jiff::tz::offset(1));
        let told = Doubt::LongAfter(at("2026-11-27T16:40:00Z")).words(at("2026-11-30T07:02:00Z"), &zone);
        assert_eq!(
            told,
            "this computer says Mon 30 Nov 2026 08:02; the newest entry of the book is of Fri 27 Nov 2026 17:40"
        );
        let told = Doubt::BeforeProgram.words(at("1969-12-31T23:30:00Z"), &zone);
        assert!(told.contains("Thu 1 Jan 1970 00:30, which is before this program"), "{told}");
    }
}
