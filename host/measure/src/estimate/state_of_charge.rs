//! State of charge from the voltage without load, as an interval.
//!
//! Input: the voltage that the cell would settle at and the table of the cell's class (`open_circuit`); output: the
//! interval that the voltage's and the table's uncertainty (k = 2) leave open. Lithium cobalt cells are flat between 10
//! and 40 %: a few millivolts are then ten per cent. Where no table exists there is no number. The table bends, so the
//! ends of the interval are read from it one by one, and the standard uncertainty is a quarter of the interval. Tables are
//! of new cells; in one that has aged another charge belongs to the same voltage.

use super::measurement::Measurement;
use super::open_circuit::curve;
use super::{Estimate, Quantity};
use crate::uncertainty::{Input, Measurand};

/// Coverage of the interval in standard uncertainties.
const COVERAGE: f64 = 2.0;
/// Least standard uncertainty: tables tell a state of charge to 3 to 5 % at best, in their steep part.
const LEAST: f64 = 0.02;

/// Estimates the state of charge from the settled voltage without load; of a cell that is not known to be new, with what
/// ageing may have done.
pub(super) fn state_of_charge(
    m: &Measurement<'_>,
    settled: Result<&Estimate, &str>,
    is_new: bool,
) -> Result<Estimate, String> {
    let settled = settled.map_err(|why| format!("no voltage without load: {why}"))?;
    let curve = curve(m.nameplate)?;
    let voltage = settled.value;
    let inputs = [
        settled.as_input("voltage without load", "V"),
        Input::new("cells of one class", "V", 0.0, curve.spread_at(voltage)),
        Input::new("temperature", "V", 0.0, curve.temperature_v(settled.conditions.temperature_c)),
        Input::new("class next to the label's", "V", 0.0, curve.other_class_v),
        Input::new("chemistry not told", "V", 0.0, curve.chemistry_v),
    ];
    let deviation =
        Measurand::new(inputs.clone(), |volts: [f64; 5]| volts.iter().sum()).budget().standard_uncertainty;
    let value = curve.charge_at(voltage);
    let [low, high] = [-1.0, 1.0].map(|side| curve.charge_at(voltage + side * COVERAGE * deviation));
    let aged = if is_new { 0.0 } else { curve.aged_charge(value) };
    let reach = |side: f64| side.max(COVERAGE * LEAST).hypot(COVERAGE * aged);
    let lowest = (value - reach(value - low)).max(0.0);
    let highest = (value + reach(high - value)).min(1.0);
    let standard = ((highest - lowest) / 2.0 / COVERAGE).max(LEAST);

    // The slope that turns the voltage's uncertainty into the interval's, and what remains for reading the table.
    let slope = (high - low) / (2.0 * COVERAGE * deviation);
    let rest = (standard * standard - (slope * deviation).powi(2) - aged * aged).max(0.0).sqrt();
    let [a, b, c, d, e] = inputs;
    let aged = Input::new("a cell that has aged", "1", 0.0, aged);
    let lines = [a, b, c, d, e, aged, Input::new("reading the table", "1", 0.0, rest)];
    let sensitivities = [slope, slope, slope, slope, slope, 1.0, 1.0];
    let budget = Measurand::new(lines, |_: [f64; 7]| value).budget_with(sensitivities);

    let method = format!(
        "voltage without load in the table of the {:.2} V class: {}",
        curve.table.charge_limit_v, curve.table.source
    );
    let mut estimate = Estimate::of(Quantity::StateOfCharge, budget, &method);
    estimate.standard_uncertainty = standard;
    estimate.interval = Some([lowest, highest]);
    estimate.conditions = settled.conditions.clone();
    estimate.conditions.rest_voltage_v = Some(voltage);
    estimate.warnings = settled.warnings.clone();
    if curve.chemistry_v > 0.0 {
        estimate.warnings.push("chemistry not told; the table is that of a cobalt cell".to_owned());
    }
    if settled.conditions.temperature_c.is_none() {
        estimate
            .warnings
            .push("the cell's temperature was not measured; the table is for 25 degC".to_owned());
    }
    Ok(estimate)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::FrontEnd;
    use crate::estimate::open_circuit::tables;
    use crate::estimate::synthetic::from_points;
    use crate::estimate::tests::nameplate;
    use crate::nameplate::{Chemistry, Nameplate};

    fn at(voltage: f64, limit: f64, chemistry: Chemistry) -> Result<Estimate, String> {
        let plate = Nameplate { charge_limit_v: limit, chemistry, ..nameplate(3.0) };
        let (trace, front_end) = (from_points(Vec::new()), FrontEnd::fixture());
        let mut rest = Estimate::new(Quantity::RestVoltage, voltage, 0.005, "rest");
        rest.conditions.temperature_c = Some(25.0);
        state_of_charge(&Measurement::new(&trace, &plate, &front_end), Ok(&rest), true)
    }

    #[test]
    fn a_cell_that_may_have_aged_is_told_less_closely_but_full_is_full() {
        let (trace, front_end) = (from_points(Vec::new()), FrontEnd::fixture());
        let plate = Nameplate { charge_limit_v: 4.35, ..nameplate(3.0) };
        let m = Measurement::new(&trace, &plate, &front_end);
        let width = |voltage: f64, is_new| {
            let mut rest = Estimate::new(Quantity::RestVoltage, voltage, 0.005, "rest");
            rest.conditions.temperature_c = Some(25.0);
            state_of_charge(&m, Ok(&rest), is_new).unwrap().standard_uncertainty
        };
        assert!(width(3.85, false) > 2.0 * width(3.85, true));
        assert!(width(4.335, false) < 1.2 * width(4.335, true));
    }

    #[test]
    fn every_point_of_a_table_is_inside_its_own_interval() {
        for table in tables().unwrap() {
            for (percent, millivolts) in table.percent.iter().zip(&table.voltage_mv) {
                let estimate = at(millivolts / 1e3, table.charge_limit_v, Chemistry::Lco).unwrap();
                let [low, high] = estimate.interval.unwrap();
                approx::assert_relative_eq!(estimate.value, percent / 100.0, epsilon = 1e-9);
                assert!(
                    low <= estimate.value && estimate.value <= high && estimate.standard_uncertainty >= LEAST
                );
            }
        }
    }

    #[test]
    fn the_flat_part_is_wider_than_the_steep_part() {
        let width = |voltage| at(voltage, 4.35, Chemistry::Lco).unwrap().standard_uncertainty;
        assert!(width(3.71) > 1.5 * width(4.1), "{} {}", width(3.71), width(4.1));
    }

    #[test]
    fn an_unknown_chemistry_widens_at_4_20_v_and_not_above() {
        let width = |limit, chemistry| at(3.9, limit, chemistry).unwrap().standard_uncertainty;
        assert!(width(4.2, Chemistry::LithiumIon) > 2.0 * width(4.2, Chemistry::Lco));
        approx::assert_relative_eq!(width(4.35, Chemistry::LithiumIon), width(4.35, Chemistry::Lco));
    }

    #[test]
    fn where_no_table_exists_there_is_no_number() {
        assert!(at(3.9, 4.45, Chemistry::Lco).unwrap_err().contains("4.45 V"));
        assert!(at(3.3, 3.65, Chemistry::Lfp).unwrap_err().contains("Lfp"));
        assert!(at(3.9, 4.2, Chemistry::Nmc).unwrap_err().contains("Nmc"));
        assert!(at(3.9, 4.18, Chemistry::Lco).is_ok() && at(3.9, 4.37, Chemistry::Lco).is_ok());
    }
}
