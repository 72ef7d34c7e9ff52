//! What can be estimated: names, units and the order in which people read them.

use serde::{Deserialize, Serialize};

/// What can be estimated. The name in JSON is [`Quantity::key`] and never changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Quantity {
    /// Voltage without load, at the end of the rest.
    #[serde(rename = "rest_voltage_v")]
    RestVoltage,
    /// Slope of the rest voltage at the end of the rest.
    #[serde(rename = "rest_drift_v_per_h")]
    RestDrift,
    /// Charge in the cell relative to full, an interval.
    #[serde(rename = "state_of_charge")]
    StateOfCharge,
    /// Direct-current resistance by the two-level method.
    #[serde(rename = "resistance_dc_ohm")]
    ResistanceTwoLevel,
    /// Voltage drop over current 100 ms after the current rose.
    #[serde(rename = "resistance_100ms_ohm")]
    Resistance100Milliseconds,
    /// The same after 1 s.
    #[serde(rename = "resistance_1s_ohm")]
    Resistance1Second,
    /// The same after 10 s.
    #[serde(rename = "resistance_10s_ohm")]
    Resistance10Seconds,
    /// The two-level resistance corrected to 25 degC.
    #[serde(rename = "resistance_25c_ohm")]
    Resistance25Celsius,
    /// Charge taken out between full and the end-of-discharge voltage.
    #[serde(rename = "capacity_ah")]
    Capacity,
    /// Capacity over rated capacity.
    #[serde(rename = "capacity_fraction")]
    CapacityFraction,
    /// Charge counted over the whole trace, positive taken out.
    #[serde(rename = "counted_charge_ah")]
    CountedCharge,
    /// Growth of thickness over the nominal one, as a fraction.
    #[serde(rename = "thickness_growth")]
    ThicknessGrowth,
    /// Largest rise of the cell's temperature over the air during the test.
    #[serde(rename = "temperature_rise_k")]
    TemperatureRise,
    /// Largest rise over the air before any load.
    #[serde(rename = "rest_temperature_rise_k")]
    RestTemperatureRise,
    /// Loss of rest voltage per day of storage.
    #[serde(rename = "self_discharge_v_per_day")]
    SelfDischarge,
    /// The same as a share of the whole charge per 30 days.
    #[serde(rename = "self_discharge_per_month")]
    SelfDischargePerMonth,
    /// Voltage without load as it would be after a very long rest.
    #[serde(rename = "settled_voltage_v")]
    SettledVoltage,
    /// Voltage drop over current 10 ms after the current rose; only where sampling and step are fast enough.
    #[serde(rename = "resistance_10ms_ohm")]
    Resistance10Milliseconds,
    /// The same after 2 s.
    #[serde(rename = "resistance_2s_ohm")]
    Resistance2Seconds,
    /// The one after 10 s without what the charge taken out explains.
    #[serde(rename = "resistance_10s_without_charge_ohm")]
    Resistance10SecondsWithoutCharge,
    /// Relative difference of two pulses of one run, beyond what the current explains.
    #[serde(rename = "contact_difference")]
    ContactDifference,
    /// Resistance at 25 degC over what cells of that size usually have.
    #[serde(rename = "resistance_over_class")]
    ResistanceOverClass,
    /// Capacity concluded from a part of a discharge; an estimate, not a capacity.
    #[serde(rename = "capacity_from_part_ah")]
    CapacityFromPart,
    /// Charge taken out while the voltage was above its end: the capacity is this or more.
    #[serde(rename = "capacity_at_least_ah")]
    CapacityAtLeast,
    /// The same over rated capacity.
    #[serde(rename = "capacity_fraction_at_least")]
    CapacityFractionAtLeast,
}

impl Quantity {
    /// All quantities in the order in which people read them.
    pub const ALL: [Quantity; 25] = [
        Quantity::RestVoltage,
        Quantity::RestDrift,
        Quantity::SettledVoltage,
        Quantity::StateOfCharge,
        Quantity::ResistanceTwoLevel,
        Quantity::Resistance10Milliseconds,
        Quantity::Resistance100Milliseconds,
        Quantity::Resistance1Second,
        Quantity::Resistance2Seconds,
        Quantity::Resistance10Seconds,
        Quantity::Resistance10SecondsWithoutCharge,
        Quantity::Resistance25Celsius,
        Quantity::ResistanceOverClass,
        Quantity::ContactDifference,
        Quantity::Capacity,
        Quantity::CapacityFraction,
        Quantity::CapacityAtLeast,
        Quantity::CapacityFractionAtLeast,
        Quantity::CapacityFromPart,
        Quantity::CountedCharge,
        Quantity::ThicknessGrowth,
        Quantity::TemperatureRise,
        Quantity::RestTemperatureRise,
        Quantity::SelfDischarge,
        Quantity::SelfDischargePerMonth,
    ];

    /// Returns the name in JSON, with its unit.
    pub const fn key(self) -> &'static str {
        match self {
            Quantity::RestVoltage => "rest_voltage_v",
            Quantity::RestDrift => "rest_drift_v_per_h",
            Quantity::StateOfCharge => "state_of_charge",
            Quantity::ResistanceTwoLevel => "resistance_dc_ohm",
            Quantity::Resistance100Milliseconds => "resistance_100ms_ohm",
            Quantity::Resistance1Second => "resistance_1s_ohm",
            Quantity::Resistance10Seconds => "resistance_10s_ohm",
            Quantity::Resistance25Celsius => "resistance_25c_ohm",
            Quantity::Capacity => "capacity_ah",
            Quantity::CapacityFraction => "capacity_fraction",
            Quantity::CountedCharge => "counted_charge_ah",
            Quantity::ThicknessGrowth => "thickness_growth",
            Quantity::TemperatureRise => "temperature_rise_k",
            Quantity::RestTemperatureRise => "rest_temperature_rise_k",
            Quantity::SelfDischarge => "self_discharge_v_per_day",
            Quantity::SelfDischargePerMonth => "self_discharge_per_month",
            Quantity::SettledVoltage => "settled_voltage_v",
            Quantity::Resistance10Milliseconds => "resistance_10ms_ohm",
            Quantity::Resistance2Seconds => "resistance_2s_ohm",
            Quantity::Resistance10SecondsWithoutCharge => "resistance_10s_without_charge_ohm",
            Quantity::ContactDifference => "contact_difference",
            Quantity::ResistanceOverClass => "resistance_over_class",
            Quantity::CapacityFromPart => "capacity_from_part_ah",
            Quantity::CapacityAtLeast => "capacity_at_least_ah",
            Quantity::CapacityFractionAtLeast => "capacity_fraction_at_least",
        }
    }

    /// Returns whether the truth is this or more.
    pub const fn is_lower_bound(self) -> bool {
        matches!(self, Quantity::CapacityAtLeast | Quantity::CapacityFractionAtLeast)
    }

    /// Returns the unit's symbol; `1` for a plain ratio.
    pub const fn unit(self) -> &'static str {
        match self {
            Quantity::RestVoltage | Quantity::SettledVoltage => "V",
            Quantity::RestDrift => "V/h",
            Quantity::ResistanceTwoLevel
            | Quantity::Resistance100Milliseconds
            | Quantity::Resistance1Second
            | Quantity::Resistance10Seconds
            | Quantity::Resistance25Celsius
            | Quantity::Resistance10Milliseconds
            | Quantity::Resistance2Seconds
            | Quantity::Resistance10SecondsWithoutCharge => "ohm",
            Quantity::Capacity
            | Quantity::CountedCharge
            | Quantity::CapacityFromPart
            | Quantity::CapacityAtLeast => "Ah",
            Quantity::StateOfCharge
            | Quantity::CapacityFraction
            | Quantity::CapacityFractionAtLeast
            | Quantity::ThicknessGrowth
            | Quantity::ContactDifference
            | Quantity::ResistanceOverClass
            | Quantity::SelfDischargePerMonth => "1",
            Quantity::TemperatureRise | Quantity::RestTemperatureRise => "K",
            Quantity::SelfDischarge => "V/d",
        }
    }
}
