//! Numbers as other programs write them.

use super::parts::DecimalMark;

/// A number and to how many decimals it is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Written {
    pub(super) value: f64,
    /// Below zero where an exponent leaves out whole places.
    pub(super) decimals: i32,
}

impl DecimalMark {
    /// Reads a number; `None` if the text is none. Marks between thousands are not taken: they would make two files of one.
    pub(super) fn read(self, text: &str) -> Option<Written> {
        let text = text.trim();
        let (other, mark) = match self {
            Self::Point => (',', '.'),
            Self::Comma => ('.', ','),
        };
        // The other mark could be meant for thousands wherever it stands, so a number with it is not read.
        if text.contains(other)
            || !text.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+' || c == mark)
        {
            return None;
        }
        let plain = text.replace(mark, ".");
        let value = plain.parse::<f64>().ok().filter(|value| value.is_finite())?;
        let lower = plain.to_ascii_lowercase();
        let (digits, exponent) = lower.split_once('e').unwrap_or((&lower, "0"));
        let written = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        let exponent = exponent.parse::<i32>().unwrap_or(0);
        Some(Written { value, decimals: i32::try_from(written).unwrap_or(0).saturating_sub(exponent) })
    }
}

impl Written {
    /// Writes it in a unit that is `10^places` times as large, to the same place.
    pub(super) fn shifted(self, places: i32) -> String {
        let decimals = self.decimals.saturating_add(places).clamp(0, 15);
        let value = self.value / 10f64.powi(places);
        format!("{value:.*}", usize::try_from(decimals).unwrap_or(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_marks_are_read_with_their_decimals_and_never_taken_for_each_other() {
        let read = |mark: DecimalMark, text| mark.read(text).map(|w| (w.value, w.decimals));
        assert_eq!(read(DecimalMark::Point, " 3.700 "), Some((3.7, 3)));
        assert_eq!(read(DecimalMark::Comma, "-3,70"), Some((-3.7, 2)));
        assert_eq!(read(DecimalMark::Point, "1.5E-3"), Some((0.0015, 4)));
        assert_eq!(read(DecimalMark::Point, "2e2"), Some((200.0, -2)));
        for (mark, text) in [
            (DecimalMark::Point, "3,7"),
            (DecimalMark::Comma, "3.7"),
            (DecimalMark::Point, "1,234.5"),
            (DecimalMark::Comma, "1.234,5"),
            (DecimalMark::Point, "inf"),
            (DecimalMark::Point, "nan"),
            (DecimalMark::Point, ""),
            (DecimalMark::Point, "12 s"),
        ] {
            assert_eq!(mark.read(text), None, "{text}");
        }
    }

    #[test]
    fn a_unit_that_is_a_thousand_times_as_large_keeps_the_place_to_which_it_is_written() {
        let shifted = |text| DecimalMark::Point.read(text).unwrap().shifted(3);
        assert_eq!(shifted("-1500"), "-1.500");
        assert_eq!(shifted("12.5"), "0.0125");
        assert_eq!(shifted("2e3"), "2");
    }
}
