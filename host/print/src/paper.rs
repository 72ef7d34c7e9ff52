//! What a label is printed on: its size in mm, and how fine the printer is; all in whole dots.

/// How fine a printer prints. What is sold as 203, 300 and 600 dots per inch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Fineness {
    /// 8 dots in a mm (from memory: the heads sold as 203 dpi).
    #[default]
    Dpi203,
    /// 300 dots in 25.4 mm.
    Dpi300,
    /// 600 dots in 25.4 mm.
    Dpi600,
}

/// A piece of paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Paper {
    /// Across, in mm.
    pub width_mm: f64,
    /// Down, in mm.
    pub height_mm: f64,
    /// How fine the printer is.
    pub fineness: Fineness,
}

/// Smallest and largest side of a label in mm; our choice.
pub const SIDES_MM: [f64; 2] = [10.0, 300.0];

impl Fineness {
    /// Returns how many dots lie in a mm.
    pub fn dots_in_mm(self) -> f64 {
        match self {
            Fineness::Dpi203 => 8.0,
            Fineness::Dpi300 => 300.0 / 25.4,
            Fineness::Dpi600 => 600.0 / 25.4,
        }
    }

    /// Returns a length in whole dots, no shorter than it is.
    pub(crate) fn at_least(self, mm: f64) -> u32 {
        // A length that is a whole number of dots but for rounding stays that number.
        (mm * self.dots_in_mm() - 1e-6).ceil().max(0.0) as u32
    }

    /// Returns a length in whole dots, no longer than it is.
    pub(crate) fn at_most(self, mm: f64) -> u32 {
        (mm * self.dots_in_mm() + 1e-6).floor().max(0.0) as u32
    }

    /// Returns the points of a PDF (1/72 inch) that a dot is wide.
    pub(crate) fn points_in_dot(self) -> f64 {
        72.0 / 25.4 / self.dots_in_mm()
    }
}

impl Paper {
    /// Returns width and height in whole dots that lie on it.
    pub fn dots(self) -> [u32; 2] {
        [self.width_mm, self.height_mm].map(|side| self.fineness.at_most(side))
    }

    /// Returns whether both sides are within what is printed here.
    pub fn is_plausible(self) -> bool {
        let [least, most] = SIDES_MM;
        [self.width_mm, self.height_mm].into_iter().all(|side| (least..=most).contains(&side))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_has_whole_dots_and_no_more_than_lie_on_it() {
        let dots = |width_mm, height_mm, fineness| Paper { width_mm, height_mm, fineness }.dots();
        assert_eq!(dots(50.0, 30.0, Fineness::Dpi203), [400, 240]);
        assert_eq!(dots(50.0, 30.0, Fineness::Dpi300), [590, 354]);
        assert_eq!(dots(25.4, 50.8, Fineness::Dpi600), [600, 1200]);
        assert_eq!(Fineness::Dpi203.at_least(1.5), 12);
        assert_eq!(Fineness::Dpi300.at_least(1.5), 18);
    }
}
