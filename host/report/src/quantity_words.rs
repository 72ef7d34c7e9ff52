//! A few words for each quantity, as pages and papers name it.

use celltriage_measure::estimate::Quantity;

/// Returns a few words for a quantity.
pub const fn quantity_words(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::RestVoltage => "rest voltage",
        Quantity::RestDrift => "drift at rest",
        Quantity::StateOfCharge => "state of charge",
        Quantity::ResistanceTwoLevel => "resistance, two-level",
        Quantity::Resistance100Milliseconds => "resistance at 100 ms",
        Quantity::Resistance1Second => "resistance at 1 s",
        Quantity::Resistance10Seconds => "resistance at 10 s",
        Quantity::Resistance25Celsius => "resistance at 25 °C",
        Quantity::Capacity => "capacity",
        Quantity::CapacityFraction => "capacity of rated",
        Quantity::CountedCharge => "charge counted",
        Quantity::ThicknessGrowth => "growth of thickness",
        Quantity::TemperatureRise => "warming in the test",
        Quantity::RestTemperatureRise => "warm at rest",
        Quantity::SelfDischarge => "self-discharge",
        Quantity::SelfDischargePerMonth => "self-discharge a month",
        Quantity::SettledVoltage => "settled voltage",
        Quantity::Resistance10Milliseconds => "resistance at 10 ms",
        Quantity::Resistance2Seconds => "resistance at 2 s",
        Quantity::Resistance10SecondsWithoutCharge => "resistance less charge",
        Quantity::ContactDifference => "contact change",
        Quantity::ResistanceOverClass => "resistance over usual",
        Quantity::CapacityAtLeast => "capacity, at least",
        Quantity::CapacityFractionAtLeast => "capacity of rated, at least",
        Quantity::CapacityFromPart => "capacity from a part",
    }
}
