//! Values over a rising axis, read by straight lines between the points.
//!
//! Takes an axis and any number of columns of the same length; gives the segment that an axis value lies in and the
//! values there. The caller keeps the segment of last time as a hint: simulated quantities move slowly, so the
//! search is almost always over at once.

/// Where on an axis a value lies: between point `index` and the next, at `fraction` of the way.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    index: usize,
    fraction: f64,
}

impl Place {
    /// Finds a value on an axis that rises strictly, starting from an earlier place.
    ///
    /// Beyond the ends the fraction is below 0 or above 1, which extends the first or last line. An axis of one point
    /// has one place.
    pub fn find(axis: &[f64], value: f64, hint: Self) -> Self {
        let Some(last) = axis.len().checked_sub(2) else {
            return Self::default();
        };
        let mut index = hint.index.min(last);
        while index > 0 && axis.get(index).is_some_and(|&point| value < point) {
            index -= 1;
        }
        while index < last && axis.get(index + 1).is_some_and(|&point| value >= point) {
            index += 1;
        }
        match axis.get(index..index + 2) {
            Some(&[low, high]) => Self { index, fraction: (value - low) / (high - low) },
            _ => Self::default(),
        }
    }

    /// Holds the place inside the axis, so that the end values go on flat.
    pub fn held(self) -> Self {
        Self { fraction: self.fraction.clamp(0.0, 1.0), ..self }
    }

    /// Reads a column at this place; a column without points reads as zero.
    pub fn read(self, column: &[f64]) -> f64 {
        match column.get(self.index..) {
            Some(&[low, high, ..]) => low + self.fraction * (high - low),
            Some(&[only]) => only,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AXIS: [f64; 4] = [0.0, 0.1, 0.5, 1.0];
    const COLUMN: [f64; 4] = [3.0, 3.6, 3.8, 4.3];

    #[test]
    fn points_and_the_lines_between_them_are_read() {
        for (axis, column) in AXIS.iter().zip(COLUMN) {
            let value = Place::find(&AXIS, *axis, Place::default()).read(&COLUMN);
            assert!((value - column).abs() < 1e-12, "{axis}: {value}");
        }
        assert!((Place::find(&AXIS, 0.3, Place::default()).read(&COLUMN) - 3.7).abs() < 1e-12);
    }

    #[test]
    fn the_hint_changes_nothing_but_the_search() {
        for index in 0..6 {
            for step in 0..30 {
                let value = f64::from(step) / 20.0 - 0.2;
                let hint = Place { index, fraction: 0.0 };
                assert_eq!(Place::find(&AXIS, value, hint), Place::find(&AXIS, value, Place::default()));
            }
        }
    }

    #[test]
    fn beyond_the_ends_lines_go_on_unless_held() {
        let below = Place::find(&AXIS, -0.05, Place::default());
        assert!((below.read(&COLUMN) - 2.7).abs() < 1e-12);
        assert!((below.held().read(&COLUMN) - 3.0).abs() < 1e-12);
        let above = Place::find(&AXIS, 1.1, Place::default());
        assert!((above.read(&COLUMN) - 4.4).abs() < 1e-12);
        assert!((above.held().read(&COLUMN) - 4.3).abs() < 1e-12);
    }

    #[test]
    fn a_single_point_holds_everywhere() {
        assert_eq!(Place::find(&[0.5], 0.9, Place::default()).read(&[0.06]), 0.06);
    }
}
