//! A thickness as a person types it where one point is asked for: `3.3`, `3,3`, `3.3 mm`, several readings with blanks between.

use super::{ObservationError, Observations};

impl Observations {
    /// Reads the readings of one point in mm as typed at a question that asks for this one point.
    ///
    /// A comma between two digits is a decimal one where the line has no point: nobody is in doubt there, since readings are asked
    /// for with blanks between. In files and options such a comma stays refused ([`Observations::parse_thickness`]).
    ///
    /// # Errors
    /// As [`Observations::parse_thickness`].
    pub fn thickness_as_typed(line: &str) -> Result<Vec<f64>, ObservationError> {
        Self::parse_thickness(&with_points(line.trim()))
    }
}

/// Returns the line with a point for each decimal comma.
fn with_points(line: &str) -> String {
    if line.contains('.') {
        return line.to_owned();
    }
    let letters: Vec<char> = line.chars().collect();
    let is_digit = |place: Option<usize>| {
        place.and_then(|place| letters.get(place)).is_some_and(|letter| letter.is_ascii_digit())
    };
    let turned = letters.iter().enumerate().map(|(place, letter)| {
        let between = is_digit(place.checked_sub(1)) && is_digit(place.checked_add(1));
        if *letter == ',' && between { '.' } else { *letter }
    });
    turned.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thickness_is_read_as_people_type_it() {
        for (line, want) in [
            ("3.3", &[3.3][..]),
            ("3,3", &[3.3]),
            ("3.3 mm", &[3.3]),
            (" 3,3mm\n", &[3.3]),
            ("3", &[3.0]),
            ("3.31 3.30 3.32", &[3.31, 3.30, 3.32]),
            ("3,31 3,30", &[3.31, 3.30]),
            ("3,31; 3,30", &[3.31, 3.30]),
            ("3,31, 3,30", &[3.31, 3.30]),
            ("3.31,3.30", &[3.31, 3.30]),
        ] {
            assert_eq!(Observations::thickness_as_typed(line).as_deref(), Ok(want), "{line}");
        }
    }

    #[test]
    fn what_is_doubtful_or_no_thickness_is_told() {
        for line in ["3,3,3", "33", "330", "0,03", "3.3 in", "three", ".", ",", "3.1 4.9", "3.3,3"] {
            let read = Observations::thickness_as_typed(line);
            // 33 mm is a thick cell and no slip that shows here.
            assert_eq!(read.is_err(), line != "33", "{line}: {read:?}");
        }
        // A file and an option still refuse what may be two numbers.
        assert!(Observations::parse_thickness("3,3").is_err());
    }
}
