//! The numbers that a policy may look at, and how each is found in the evidence.
//!
//! Input: [`Evidence`]; output: a value with its doubt, or the reason why there is none. A number that is made here brings
//! where its doubt comes from, since no estimate has it.

use crate::evidence::{Evidence, RunOutcome, trip_key};
use crate::measured::Measured;
use crate::several_cells::several_cells;
use celltriage_measure::estimate::{Estimate, Quantity, at_unknown_temperature};
use celltriage_measure::uncertainty::{Contribution, PRACTICALLY_NORMAL};
use celltriage_protocol::event::TripCause;

/// What a criterion of a policy may look at: an estimate, or a number made of estimates and label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measurand {
    /// An estimate.
    Estimate(Quantity),
    /// Resistance times rated capacity: nearly the same for small and large cells of one kind.
    ResistanceTimesCapacity,
}

/// Doubt of a single reading that made the fixture refuse: 0.1 % gain and 0.5 mV offset at 4.5 V, rounded up.
const REFUSED_READING_DOUBT_V: f64 = 0.005;

/// Trips whose number is a voltage outside the window before a load.
const REFUSED_VOLTAGE: [TripCause; 2] = [TripCause::VoltageLow, TripCause::VoltageHigh];

/// A number as it was found, and what it was made from if it is not an estimate itself.
#[derive(Clone, Debug, PartialEq)]
pub struct LookedUp {
    /// The number.
    pub measured: Measured,
    /// The estimate that it was made from.
    pub made_from: Option<Quantity>,
    /// Where its doubt comes from, where the estimate's own budget does not say it.
    pub budget: Vec<Contribution>,
}

impl From<Measured> for LookedUp {
    fn from(measured: Measured) -> Self {
        Self { measured, made_from: None, budget: Vec::new() }
    }
}

impl Measurand {
    /// Returns the name in policies.
    pub const fn key(self) -> &'static str {
        match self {
            Measurand::Estimate(quantity) => quantity.key(),
            Measurand::ResistanceTimesCapacity => "resistance_times_capacity_ohm_ah",
        }
    }

    /// Returns the measurand with this name.
    pub fn from_key(key: &str) -> Option<Self> {
        let estimates = Quantity::ALL.into_iter().map(Measurand::Estimate);
        estimates.chain([Measurand::ResistanceTimesCapacity]).find(|measurand| measurand.key() == key)
    }

    /// Returns the unit's symbol.
    pub const fn unit(self) -> &'static str {
        match self {
            Measurand::Estimate(quantity) => quantity.unit(),
            Measurand::ResistanceTimesCapacity => "ohm.Ah",
        }
    }

    /// Returns the estimate whose conditions belong to it.
    pub const fn quantity(self) -> Option<Quantity> {
        match self {
            Measurand::Estimate(quantity) => Some(quantity),
            Measurand::ResistanceTimesCapacity => None,
        }
    }

    /// Looks the number up, or says why there is none.
    pub fn look_up(self, evidence: &Evidence<'_>) -> Result<LookedUp, String> {
        let found = match self {
            Measurand::Estimate(Quantity::RestVoltage) => estimate(evidence, Quantity::RestVoltage)
                .or_else(|why| refused_voltage(evidence).ok_or(why))
                .and_then(|found| several_cells(found.value, evidence.nameplate).map_or(Ok(found), Err))
                .map(LookedUp::from),
            Measurand::Estimate(quantity) => estimate(evidence, quantity).map(LookedUp::from),
            Measurand::ResistanceTimesCapacity => resistance_times_capacity(evidence),
        }?;
        if found.measured.is_sound() {
            Ok(found)
        } else {
            Err("the calculation gave no finite number".to_owned())
        }
    }
}

fn estimate(evidence: &Evidence<'_>, quantity: Quantity) -> Result<Measured, String> {
    match evidence.estimates.get(quantity) {
        Some(found) => Ok(Measured {
            value: found.value,
            standard_uncertainty: found.standard_uncertainty,
            interval: found.interval,
            degrees_of_freedom: found.degrees_of_freedom,
        }),
        None => Err(evidence.estimates.missing.get(&quantity).cloned().unwrap_or_default()),
    }
}

/// The fixture refuses a voltage outside its window before a rest can be measured; that one reading still counts.
fn refused_voltage(evidence: &Evidence<'_>) -> Option<Measured> {
    match evidence.run {
        RunOutcome::Tripped { cause, value, .. }
            if REFUSED_VOLTAGE.map(trip_key).contains(&cause.as_str()) =>
        {
            Some(Measured::new(*value, REFUSED_READING_DOUBT_V))
        }
        _ => None,
    }
}

/// Takes the resistance corrected to 25 degC. The two-level value itself is taken only where no temperature is known
/// at all, with a wide doubt: at a known temperature outside of 15 to 35 degC resistance is not graded.
fn resistance_times_capacity(evidence: &Evidence<'_>) -> Result<LookedUp, String> {
    let rated = evidence.nameplate.rated_capacity_ah;
    let why = match estimate(evidence, Quantity::Resistance25Celsius) {
        Ok(found) => {
            let measured = Measured {
                degrees_of_freedom: found.degrees_of_freedom,
                ..Measured::new(found.value * rated, found.standard_uncertainty * rated)
            };
            // The rated capacity is a figure agreed upon: the shares are those of the resistance.
            let made_from = Some(Quantity::Resistance25Celsius);
            return Ok(LookedUp { measured, made_from, budget: Vec::new() });
        }
        Err(why) => why,
    };
    let without_temperature = |one: &&Estimate| one.conditions.temperature_c.is_none();
    // What is made of an undefined number must not look like one.
    let is_sound = |one: &&Estimate| Measured::new(one.value, one.standard_uncertainty).is_sound();
    let two_level = evidence.estimates.get(Quantity::ResistanceTwoLevel);
    let uncorrected = two_level.filter(without_temperature).filter(is_sound);
    let budget = at_unknown_temperature(uncorrected.ok_or(why)?, rated);
    let measured = Measured {
        degrees_of_freedom: Some(budget.degrees_of_freedom).filter(|degrees| *degrees < PRACTICALLY_NORMAL),
        ..Measured::new(budget.value, budget.standard_uncertainty)
    };
    Ok(LookedUp { measured, made_from: Some(Quantity::ResistanceTwoLevel), budget: budget.contributions })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_measurand_is_found_by_its_name() {
        for quantity in Quantity::ALL {
            assert_eq!(Measurand::from_key(quantity.key()), Some(Measurand::Estimate(quantity)));
        }
        assert_eq!(Measurand::from_key("resistance"), None);
    }
}
