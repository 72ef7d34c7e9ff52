//! What is counted: an amount, its unit, its limit, and on which side of the limit to stay.
//!
//! Containers count by these; what follows beyond a limit is in the rule's text.

use jiff::ToSpan;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Counted {
    /// Time since the decision to discard the cell.
    TimeSinceDecision,
    /// How long records are kept.
    RecordKeeping,
    /// Time between two trainings of a person.
    TrainingInterval,
    /// All universal waste on the site together, batteries or not.
    UniversalWasteOnSite,
    /// Hazardous waste that arises in a calendar month.
    HazardousWasteInAMonth,
    /// Mass of one cell.
    CellMass,
    /// Mass of one battery.
    BatteryMass,
    /// Energy of one cell, as on its label.
    CellEnergy,
    /// Energy of one battery, as on its label.
    BatteryEnergy,
    /// Gross mass of one package.
    PackageGrossMass,
    /// Cells in one package.
    CellsInPackage,
    /// Lithium cells and batteries in one vehicle (transport unit).
    LithiumBatteriesInVehicle,
    /// Portable batteries that a site sells in a year.
    BatteriesSoldInAYear,
    /// What one person brings in a day.
    MassFromOnePersonInADay,
    /// Volume of all lithium batteries stored.
    StoredVolume,
    /// Volume of one group of stored batteries.
    GroupVolume,
    /// Distance between two groups of stored batteries.
    DistanceBetweenGroups,
    /// State of charge.
    StateOfCharge,
}

impl Counted {
    /// Returns whether it is about batteries of several cells. What this program assesses is held against the limits of
    /// a cell, which are lower; a battery of one cell counts as a cell (UN Manual of
    /// Tests and Criteria, 38.3.2.3, from memory).
    pub const fn is_of_batteries(self) -> bool {
        matches!(self, Counted::BatteryMass | Counted::BatteryEnergy)
    }

    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Counted::TimeSinceDecision => "time since the decision to discard",
            Counted::RecordKeeping => "time that records are kept",
            Counted::TrainingInterval => "time between two trainings",
            Counted::UniversalWasteOnSite => "universal waste on the site",
            Counted::HazardousWasteInAMonth => "hazardous waste in a month",
            Counted::CellMass => "mass of a cell",
            Counted::BatteryMass => "mass of a battery",
            Counted::CellEnergy => "energy of a cell",
            Counted::BatteryEnergy => "energy of a battery",
            Counted::PackageGrossMass => "gross mass of a package",
            Counted::CellsInPackage => "cells in a package",
            Counted::LithiumBatteriesInVehicle => "lithium batteries in a vehicle",
            Counted::BatteriesSoldInAYear => "batteries sold in a year",
            Counted::MassFromOnePersonInADay => "mass from one person in a day",
            Counted::StoredVolume => "volume stored",
            Counted::GroupVolume => "volume of a group",
            Counted::DistanceBetweenGroups => "distance between groups",
            Counted::StateOfCharge => "state of charge",
        }
    }
}

/// Unit of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Calendar days.
    Day,
    /// Calendar years.
    Year,
    /// g.
    Gram,
    /// kg.
    Kilogram,
    /// Wh.
    WattHour,
    /// m³.
    CubicMetre,
    /// mm.
    Millimetre,
    /// %.
    Percent,
    /// Things, counted one by one.
    Piece,
}

impl Unit {
    /// Returns the symbol, or the word for a time.
    pub const fn symbol(self) -> &'static str {
        match self {
            Unit::Day => "days",
            Unit::Year => "years",
            Unit::Gram => "g",
            Unit::Kilogram => "kg",
            Unit::WattHour => "Wh",
            Unit::CubicMetre => "m³",
            Unit::Millimetre => "mm",
            Unit::Percent => "%",
            Unit::Piece => "piece",
        }
    }
}

/// On which side of a limit one has to stay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Bound {
    /// Up to the limit, the limit included.
    AtMost,
    /// Under the limit, the limit excluded.
    Below,
    /// From the limit on, the limit included.
    AtLeast,
}

impl Bound {
    /// Returns the words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Bound::AtMost => "at most",
            Bound::Below => "below",
            Bound::AtLeast => "at least",
        }
    }
}

/// An amount with its limit. What follows beyond it is in the rule's text.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counter {
    /// What is counted.
    pub of: Counted,
    /// The limit, in `unit`; greater than zero.
    pub limit: f64,
    /// Its unit.
    pub unit: Unit,
    /// On which side to stay.
    pub bound: Bound,
}

impl Counter {
    /// Returns whether an amount in the counter's unit stays on the right side; what is not a number does not.
    pub fn keeps(&self, amount: f64) -> bool {
        match self.bound {
            Bound::AtMost => amount <= self.limit,
            Bound::Below => amount < self.limit,
            Bound::AtLeast => amount >= self.limit,
        }
    }

    /// Returns the last day of a time that began on a day; absent where no time is counted, or past the calendar.
    ///
    /// A year after 29 February ends on 28 February: the earlier of the two days that could be meant. Days are civil
    /// days of the place, so that no time zone can move them.
    pub fn last_day(&self, began: Date) -> Option<Date> {
        // A limit is checked to be a whole number where a time is counted.
        let whole = self.limit as i64;
        match self.unit {
            Unit::Day => began.checked_add(whole.days()).ok(),
            Unit::Year => began.checked_add(whole.years()).ok(),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn counter(limit: f64, unit: Unit, bound: Bound) -> Counter {
        Counter { of: Counted::TimeSinceDecision, limit, unit, bound }
    }

    #[test]
    fn a_limit_itself_belongs_to_at_most_and_at_least_and_not_to_below() {
        let keeps = |bound, amount| counter(30.0, Unit::Kilogram, bound).keeps(amount);
        assert!(keeps(Bound::AtMost, 30.0) && !keeps(Bound::AtMost, 30.001));
        assert!(keeps(Bound::Below, 29.999) && !keeps(Bound::Below, 30.0));
        assert!(keeps(Bound::AtLeast, 30.0) && !keeps(Bound::AtLeast, 29.999));
        for bound in [Bound::AtMost, Bound::Below, Bound::AtLeast] {
            assert!(!keeps(bound, f64::NAN));
        }
    }

    #[test]
    fn a_year_ends_on_the_same_day_and_after_a_leap_day_on_the_28th() {
        let year = counter(1.0, Unit::Year, Bound::AtMost);
        for (began, last) in [
            (date(2026, 11, 25), date(2027, 11, 25)),
            (date(2028, 2, 29), date(2029, 2, 28)),
            (date(2027, 2, 28), date(2028, 2, 28)),
            (date(2027, 3, 1), date(2028, 3, 1)),
        ] {
            assert_eq!(year.last_day(began), Some(last));
        }
        assert_eq!(
            counter(14.0, Unit::Day, Bound::AtLeast).last_day(date(2028, 2, 20)),
            Some(date(2028, 3, 5))
        );
        assert_eq!(counter(30.0, Unit::Kilogram, Bound::AtMost).last_day(date(2026, 1, 1)), None);
        assert_eq!(year.last_day(Date::MAX), None);
    }
}
