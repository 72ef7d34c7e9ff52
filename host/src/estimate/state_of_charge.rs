//! State of charge from the rest voltage, as an interval.
//!
//! Takes the rest voltage and the table of the cell's class of charge limit (`chemistry/open_circuit_voltage.toml`);
//! gives the interval that the voltage's and the table's uncertainty (k = 2) leave open. Lithium cobalt cells are flat
//! between 10 and 40 %: a few millivolts are then ten per cent. Where no table exists there is no number.

use super::measurement::Measurement;
use super::{Estimate, Quantity};
use crate::nameplate::Chemistry;
use serde::Deserialize;

/// The tables as they are in the repository.
const TABLES: &str = include_str!("../chemistry/open_circuit_voltage.toml");
/// A table serves cells whose charge limit is this close to its own, in V.
const SAME_CLASS_V: f64 = 0.03;
/// Cells of unknown chemistry may be mixed-oxide cells, which lie up to 0.1 V lower at mid charge (from memory); in V.
const UNKNOWN_CHEMISTRY_V: f64 = 0.06;
/// Coverage of the interval in standard uncertainties.
const COVERAGE: f64 = 2.0;
/// Least standard uncertainty: tables tell a state of charge to 3 to 5 % at best, in their steep part.
const LEAST: f64 = 0.02;
/// Temperature moves the rest voltage by up to this much per kelvin away from 25 degC, in V (published profiles).
const PER_KELVIN_V: f64 = 0.5e-3;

#[derive(Debug, Deserialize)]
struct Tables {
    table: Vec<Table>,
}

#[derive(Debug, Deserialize)]
struct Table {
    charge_limit_v: f64,
    percent: Vec<f64>,
    voltage_mv: Vec<f64>,
    spread_mv: Vec<f64>,
    source: String,
}

impl Table {
    /// Returns the state of charge (0 to 1) at a voltage in V; outside the table its ends.
    fn charge_at(&self, voltage: f64) -> f64 {
        interpolate(&self.voltage_mv, &self.percent, voltage * 1e3) / 100.0
    }

    /// Returns the spread between cells in V at a voltage in V.
    fn spread_at(&self, voltage: f64) -> f64 {
        interpolate(&self.voltage_mv, &self.spread_mv, voltage * 1e3) / 1e3
    }
}

/// Estimates the state of charge from the rest voltage.
pub(super) fn state_of_charge(
    m: &Measurement<'_>,
    rest: Result<&Estimate, &str>,
) -> Result<Estimate, String> {
    let rest = rest.map_err(|why| format!("no rest voltage: {why}"))?;
    let (limit, chemistry) = (m.nameplate.charge_limit_v, m.nameplate.chemistry);
    let unknown = match chemistry {
        Chemistry::Lco => false,
        // Above 4.25 V cells for phones and tablets are cobalt cells; at 4.20 V everything occurs.
        Chemistry::LithiumIon => limit < 4.25,
        Chemistry::Nmc | Chemistry::Nca | Chemistry::Lmo | Chemistry::Lfp => {
            return Err(format!("no voltage table for chemistry {chemistry:?}; only for cobalt oxide"));
        }
    };
    let tables: Tables =
        toml::from_str(TABLES).map_err(|error| format!("the voltage tables are damaged: {error}"))?;
    let distance = |table: &Table| (table.charge_limit_v - limit).abs();
    let nearest = tables.table.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let Some(table) = nearest.filter(|table| distance(table) <= SAME_CLASS_V + 1e-9) else {
        return Err(format!("no voltage table for a charge limit of {limit} V"));
    };
    let away = rest.conditions.temperature_c.map_or(5.0, |temperature| temperature - 25.0);
    let other_class = distance(table);
    let mut shares =
        vec![rest.standard_uncertainty, table.spread_at(rest.value), PER_KELVIN_V * away.abs(), other_class];
    if unknown {
        shares.push(UNKNOWN_CHEMISTRY_V);
    }
    let deviation = shares.iter().map(|share| share * share).sum::<f64>().sqrt();
    let value = table.charge_at(rest.value);
    let lowest = table.charge_at(rest.value - COVERAGE * deviation).min(value - COVERAGE * LEAST).max(0.0);
    let highest = table.charge_at(rest.value + COVERAGE * deviation).max(value + COVERAGE * LEAST).min(1.0);
    let standard = ((highest - lowest) / 2.0 / COVERAGE).max(LEAST);
    let method =
        format!("rest voltage in the table of the {:.2} V class: {}", table.charge_limit_v, table.source);
    let mut estimate = Estimate::new(Quantity::StateOfCharge, value, standard, &method);
    estimate.interval = Some([lowest, highest]);
    estimate.conditions = rest.conditions.clone();
    estimate.conditions.rest_voltage_v = Some(rest.value);
    estimate.warnings = rest.warnings.clone();
    if unknown {
        estimate.warnings.push("chemistry not told; the table is that of a cobalt cell".to_owned());
    }
    if rest.conditions.temperature_c.is_none() {
        estimate
            .warnings
            .push("the cell's temperature was not measured; the table is for 25 degC".to_owned());
    }
    Ok(estimate)
}

/// Interpolates `y` over rising `x`; beyond the ends their values.
fn interpolate(x: &[f64], y: &[f64], at: f64) -> f64 {
    let pairs: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    let first = pairs.first().map_or(0.0, |pair| pair.1);
    let last = pairs.last().map_or(0.0, |pair| pair.1);
    if pairs.first().is_some_and(|pair| at <= pair.0) {
        return first;
    }
    for two in pairs.windows(2) {
        if let [(x0, y0), (x1, y1)] = two
            && at <= *x1
        {
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0);
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::FrontEnd;
    use crate::estimate::synthetic::from_points;
    use crate::estimate::tests::nameplate;
    use crate::nameplate::Nameplate;

    fn tables() -> Vec<Table> {
        toml::from_str::<Tables>(TABLES).unwrap().table
    }

    fn at(voltage: f64, limit: f64, chemistry: Chemistry) -> Result<Estimate, String> {
        let plate = Nameplate { charge_limit_v: limit, chemistry, ..nameplate(3.0) };
        let (trace, front_end) = (from_points(Vec::new()), FrontEnd::fixture());
        let mut rest = Estimate::new(Quantity::RestVoltage, voltage, 0.005, "rest");
        rest.conditions.temperature_c = Some(25.0);
        state_of_charge(&Measurement::new(&trace, &plate, &front_end), Ok(&rest))
    }

    #[test]
    fn the_tables_rise_and_their_columns_are_of_one_length() {
        for table in tables() {
            assert!(
                table.percent.len() == table.voltage_mv.len() && table.percent.len() == table.spread_mv.len()
            );
            for column in [&table.percent, &table.voltage_mv] {
                assert!(column.windows(2).all(|two| two[0] < two[1]), "{column:?}");
            }
            assert!(table.spread_mv.iter().all(|spread| *spread > 0.0) && !table.source.is_empty());
            assert_eq!((table.percent.first(), table.percent.last()), (Some(&0.0), Some(&100.0)));
        }
    }

    #[test]
    fn every_point_of_a_table_is_inside_its_own_interval() {
        for table in tables() {
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
