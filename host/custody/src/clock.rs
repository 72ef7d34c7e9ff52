//! Civil days: one year from a decision, and the days that are left.
//!
//! Takes and gives calendar days at the place of the shop; no time of day, no time zone. A year ends on the same day of
//! the next year; a year that begins on 29 February ends on 28 February, the earlier of the two days that could be
//! meant. The last day counts as the last day on which the thing may be handed over; whether the authority counts it so
//! is a question for the authority, and the list says how many days are left so that nobody waits for it.

use crate::limits::Amount;
use jiff::ToSpan;
use jiff::civil::Date;

/// Returns the day that ends `years` years from `date`.
pub fn years_after(date: Date, years: u32) -> Date {
    // Saturating: the year 9999 is not a case for a workshop, and an overflow must not end the program.
    date.saturating_add(i64::from(years).years())
}

/// Returns the day that is `days` days after `date`.
pub fn days_after(date: Date, days: u32) -> Date {
    date.saturating_add(i64::from(days).days())
}

/// Returns the day that ends a time from `begin`; `None` if the amount is none of time.
pub fn end_of(begin: Date, amount: Amount) -> Option<Date> {
    match amount {
        Amount::Days(days) => Some(days_after(begin, days)),
        Amount::Years(years) => Some(years_after(begin, years)),
        Amount::Mass(_) | Amount::Energy(_) | Amount::Volume(_) => None,
    }
}

/// Returns the days from `today` to `day`; negative where it is past.
pub fn days_left(today: Date, day: Date) -> i64 {
    today.until(day).map_or(0, |span| i64::from(span.get_days()))
}

/// Returns the days left in words.
pub fn in_words(left: i64) -> String {
    match left {
        ..=-2 => format!("{} days overdue", -left),
        -1 => "1 day overdue".to_owned(),
        0 => "today is the last day".to_owned(),
        1 => "1 day left".to_owned(),
        _ => format!("{left} days left"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_year_ends_on_the_same_day_and_a_leap_day_a_day_early() {
        for (begin, end, days) in [
            (date(2026, 11, 25), date(2027, 11, 25), 365),
            (date(2027, 3, 1), date(2028, 3, 1), 366),
            (date(2028, 2, 28), date(2029, 2, 28), 366),
            (date(2028, 2, 29), date(2029, 2, 28), 365),
            (date(2028, 3, 1), date(2029, 3, 1), 365),
            (date(2026, 12, 31), date(2027, 12, 31), 365),
        ] {
            assert_eq!(years_after(begin, 1), end, "{begin}");
            assert_eq!(days_left(begin, end), days, "{begin}");
        }
    }

    #[test]
    fn days_left_cross_months_years_and_go_below_zero() {
        assert_eq!(days_left(date(2026, 12, 8), date(2026, 12, 9)), 1);
        assert_eq!(days_left(date(2028, 2, 28), date(2028, 3, 1)), 2);
        assert_eq!(days_left(date(2027, 1, 1), date(2026, 12, 31)), -1);
        assert_eq!(days_left(date(2026, 1, 1), date(2028, 1, 1)), 730);
        assert_eq!(days_after(date(2028, 2, 28), 2), date(2028, 3, 1));
    }

    #[test]
    fn days_left_are_told_in_words() {
        let told: Vec<_> = [-2, -1, 0, 1, 2].into_iter().map(in_words).collect();
        let expected =
            ["2 days overdue", "1 day overdue", "today is the last day", "1 day left", "2 days left"];
        assert_eq!(told, expected);
    }
}
