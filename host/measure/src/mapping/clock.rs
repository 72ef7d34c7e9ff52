//! Times as other programs write them, in seconds.

use super::number::Written;
use super::parts::{DecimalMark, TimeUnit};
use jiff::civil::{DateTime, date};

impl TimeUnit {
    /// Reads a time in seconds, dates since the year 2000; `None` if the text is none.
    pub(super) fn read(self, text: &str, mark: DecimalMark) -> Option<f64> {
        let number = || mark.read(text).map(|Written { value, .. }| value);
        match self {
            Self::Seconds => number(),
            Self::Milliseconds => number().map(|value| value / 1e3),
            Self::Minutes => number().map(|value| value * 60.0),
            Self::Hours => number().map(|value| value * 3600.0),
            Self::Clock => clock(text, mark),
            Self::Date => of_date(text, [0, 1, 2], mark),
            Self::DateDayFirst => of_date(text, [2, 1, 0], mark),
            Self::DateMonthFirst => of_date(text, [2, 0, 1], mark),
        }
    }
}

/// Reads `hh:mm:ss`, `mm:ss`, and days before them: `1:02:03:04`, `1d 02:03:04`, `1 02:03:04`.
fn clock(text: &str, mark: DecimalMark) -> Option<f64> {
    let text = text.trim();
    let (days, rest) = match text.split_once(|c: char| c.is_whitespace() || c == 'd' || c == 'D') {
        Some((days, rest)) => (days.trim().parse::<u32>().ok()?, rest.trim()),
        None => (0, text),
    };
    let parts: Vec<&str> = rest.split(':').collect();
    let (seconds, larger) = parts.split_last()?;
    if larger.is_empty() || larger.len() > 3 {
        return None;
    }
    // A clock may count its hours past 24; minutes and seconds stay below 60.
    let mut total = mark.read(seconds).or_else(|| DecimalMark::Point.read(seconds))?.value;
    if !(0.0..60.0).contains(&total) {
        return None;
    }
    for (place, part) in larger.iter().rev().enumerate() {
        let value = part.trim().parse::<u32>().ok().filter(|value| place > 0 || *value < 60)?;
        total += f64::from(value) * [60.0, 3600.0, 86400.0].get(place)?;
    }
    Some(total + f64::from(days) * 86400.0)
}

/// Reads a date and time of day; `order` has the places of year, month and day.
fn of_date(text: &str, order: [usize; 3], mark: DecimalMark) -> Option<f64> {
    let text = text.trim();
    let lower = text.to_ascii_lowercase();
    let (text, afternoon) = match (lower.strip_suffix("pm"), lower.strip_suffix("am")) {
        (Some(rest), _) => (rest, Some(true)),
        (_, Some(rest)) => (rest, Some(false)),
        _ => (lower.as_str(), None),
    };
    let (day, time) = text.trim().split_once(|c: char| c == 't' || c.is_whitespace())?;
    let parts: Vec<i16> =
        day.split(['-', '.', '/']).map(|part| part.parse::<i16>().ok()).collect::<Option<_>>()?;
    let [year, month, of_month] = order.map(|place| parts.get(place).copied());
    let year = year?;
    let year = if (0..100).contains(&year) { year + 2000 } else { year };
    let small = |value: Option<i16>| i8::try_from(value?).ok();
    let midnight = DateTime::from(date_of(year, small(month)?, small(of_month)?)?);
    let seconds_of_day = clock(time.trim().trim_end_matches('z'), mark)?;
    let noon_rule = match afternoon {
        Some(true) if seconds_of_day < 43200.0 => 43200.0,
        Some(false) if seconds_of_day >= 43200.0 => -43200.0,
        _ => 0.0,
    };
    let days = midnight.since(DateTime::from(date(2000, 1, 1))).ok()?.get_days();
    Some(f64::from(days) * 86400.0 + seconds_of_day + noon_rule)
}

fn date_of(year: i16, month: i8, day: i8) -> Option<jiff::civil::Date> {
    jiff::civil::Date::new(year, month, day).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(unit: TimeUnit, text: &str) -> Option<f64> {
        unit.read(text, DecimalMark::Point)
    }

    #[test]
    fn times_of_every_writing_are_seconds() {
        assert_eq!(read(TimeUnit::Milliseconds, "1500"), Some(1.5));
        assert_eq!(read(TimeUnit::Hours, "0.5"), Some(1800.0));
        for (text, seconds) in [
            ("00:01:02.5", 62.5),
            ("30:00:00", 108_000.0),
            ("1:02", 62.0),
            ("1:00:00:01", 86_401.0),
            ("1d 00:00:01", 86_401.0),
            ("2 01:00:00", 176_400.0),
        ] {
            assert_eq!(read(TimeUnit::Clock, text), Some(seconds), "{text}");
        }
        assert_eq!(TimeUnit::Clock.read("00:00:01,25", DecimalMark::Comma), Some(1.25));
        for text in ["12", "00:61:00", "00:00:61", "a:b", "", "1:2:3:4:5"] {
            assert_eq!(read(TimeUnit::Clock, text), None, "{text}");
        }
    }

    #[test]
    fn dates_differ_by_what_lies_between_them() {
        let between = |unit, a, b| read(unit, b).unwrap() - read(unit, a).unwrap();
        assert_eq!(between(TimeUnit::Date, "2026-02-28 23:59:59.5", "2026-03-01T00:00:01Z"), 1.5);
        assert_eq!(between(TimeUnit::DateDayFirst, "28.02.2026 23:00:00", "01.03.2026 01:00:00"), 7200.0);
        assert_eq!(between(TimeUnit::DateMonthFirst, "2/28/26 11:59:59 PM", "3/1/26 12:00:01 AM"), 2.0);
        assert_eq!(read(TimeUnit::Date, "2026-02-30 00:00:00"), None);
        assert_eq!(read(TimeUnit::DateDayFirst, "2/28/2026 00:00:00"), None);
    }
}
