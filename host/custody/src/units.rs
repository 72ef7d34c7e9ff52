//! Mass, energy and volume as whole numbers, so that a sum is exact and counts nothing twice by rounding.
//!
//! Takes grams, kilograms, watt-hours and litres as people write them; gives thousandths of them, rounded up: what
//! is counted against a limit must not come out too small.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::iter::Sum;

/// A mass in mg.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Milligrams(pub u64);

/// An energy in mWh.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MilliwattHours(pub u64);

/// A volume in ml.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millilitres(pub u64);

/// Heaviest mass in g that is taken as meant: a lorry load. More is a slip of the pen.
const MOST_GRAMS: f64 = 40_000_000.0;
/// Largest energy in Wh that is taken as meant.
const MOST_WATT_HOURS: f64 = 10_000_000.0;
/// Largest volume in l that is taken as meant: a sea container.
const MOST_LITRES: f64 = 100_000.0;

impl Milligrams {
    /// Makes a mass from grams, rounded up; `None` if the figure is not above zero or is absurd.
    pub fn from_grams(grams: f64) -> Option<Self> {
        scaled_up(grams, MOST_GRAMS).map(Self)
    }

    /// Makes a mass from kilograms, rounded up; `None` if the figure is not above zero or is absurd.
    pub fn from_kilograms(kilograms: f64) -> Option<Self> {
        Self::from_grams(kilograms * 1_000.0)
    }

    /// Makes a mass from whole kilograms.
    pub const fn kilograms(kilograms: u64) -> Self {
        Self(kilograms.saturating_mul(1_000_000))
    }

    /// Makes a mass from whole grams.
    pub const fn grams(grams: u64) -> Self {
        Self(grams.saturating_mul(1_000))
    }

    /// Returns the sum.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl MilliwattHours {
    /// Makes an energy from watt-hours, rounded up; `None` if the figure is not above zero or is absurd.
    pub fn from_watt_hours(watt_hours: f64) -> Option<Self> {
        scaled_up(watt_hours, MOST_WATT_HOURS).map(Self)
    }

    /// Makes an energy from whole watt-hours.
    pub const fn watt_hours(watt_hours: u64) -> Self {
        Self(watt_hours.saturating_mul(1_000))
    }
}

impl Millilitres {
    /// Makes a volume from litres, rounded up; `None` if the figure is not above zero or is absurd.
    pub fn from_litres(litres: f64) -> Option<Self> {
        scaled_up(litres, MOST_LITRES).map(Self)
    }
}

/// Returns a thousand times the figure, rounded up. A figure that is a whole number of thousandths but for the last
/// digits of its binary form stays that number.
fn scaled_up(figure: f64, most: f64) -> Option<u64> {
    if !(figure > 0.0 && figure <= most) {
        return None;
    }
    let scaled = figure * 1_000.0;
    let nearest = scaled.round();
    let up = if (scaled - nearest).abs() < 1e-6 { nearest } else { scaled.ceil() };
    // In range by the check above; a tiny figure still counts as one thousandth.
    Some((up as u64).max(1))
}

impl Sum for Milligrams {
    fn sum<I: Iterator<Item = Self>>(masses: I) -> Self {
        masses.fold(Self::default(), Self::plus)
    }
}

impl Sum for Millilitres {
    fn sum<I: Iterator<Item = Self>>(volumes: I) -> Self {
        Self(volumes.fold(0, |sum, volume| sum.saturating_add(volume.0)))
    }
}

impl Sum for MilliwattHours {
    fn sum<I: Iterator<Item = Self>>(energies: I) -> Self {
        Self(energies.fold(0, |sum, energy| sum.saturating_add(energy.0)))
    }
}

impl fmt::Display for Milligrams {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 >= 1_000_000 {
            out.pad(&format!("{} kg", decimal(self.0.div_ceil(1_000))))
        } else {
            out.pad(&format!("{} g", decimal(self.0)))
        }
    }
}

impl fmt::Display for MilliwattHours {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.pad(&format!("{} Wh", decimal(self.0)))
    }
}

impl fmt::Display for Millilitres {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.pad(&format!("{} l", decimal(self.0)))
    }
}

/// Writes thousandths as a decimal number without trailing zeros.
fn decimal(thousandths: u64) -> String {
    let (whole, rest) = (thousandths / 1_000, thousandths % 1_000);
    if rest == 0 {
        return whole.to_string();
    }
    format!("{whole}.{rest:03}").trim_end_matches('0').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_up_and_absurd_ones_refused() {
        assert_eq!(Milligrams::from_grams(45.2), Some(Milligrams(45_200)));
        assert_eq!(Milligrams::from_grams(45.2001), Some(Milligrams(45_201)));
        assert_eq!(Milligrams::from_kilograms(2.5), Some(Milligrams(2_500_000)));
        assert_eq!(MilliwattHours::from_watt_hours(5.1 * 3.8), Some(MilliwattHours(19_380)));
        assert_eq!(Millilitres::from_litres(60.0), Some(Millilitres(60_000)));
        for wrong in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e12] {
            assert_eq!(Milligrams::from_grams(wrong), None, "{wrong}");
            assert_eq!(MilliwattHours::from_watt_hours(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_mass_is_written_in_the_unit_that_fits() {
        assert_eq!(Milligrams(45_200).to_string(), "45.2 g");
        assert_eq!(Milligrams::kilograms(30).to_string(), "30 kg");
        assert_eq!(Milligrams(1_234_567).to_string(), "1.235 kg", "rounded up, as it is counted");
        assert_eq!(MilliwattHours(19_380).to_string(), "19.38 Wh");
        assert_eq!(Millilitres(420_000).to_string(), "420 l");
    }

    #[test]
    fn a_sum_is_exact_and_never_wraps() {
        let many = std::iter::repeat_n(Milligrams(1), 1_000).sum::<Milligrams>();
        assert_eq!(many, Milligrams::grams(1));
        assert_eq!(Milligrams(u64::MAX).plus(Milligrams(1)), Milligrams(u64::MAX));
    }
}
