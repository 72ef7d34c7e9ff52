//! Rest voltage over state of charge, by class of charge limit: the tables and how far they can be trusted.
//!
//! Input: a label; output: the table of its class (`chemistry/open_circuit_voltage.toml`) with what the label leaves open,
//! or why there is none. All uncertainties are voltages: how far cells of the class lie apart at one state of charge.

use crate::nameplate::{Chemistry, Nameplate};
use serde::Deserialize;
use std::sync::LazyLock;

/// The tables as they are in the repository.
const TABLES: &str = include_str!("../chemistry/open_circuit_voltage.toml");
/// A table serves cells whose charge limit is this close to its own, in V.
const SAME_CLASS_V: f64 = 0.03;
/// Cells of unknown chemistry may be mixed-oxide cells, which lie up to 0.1 V lower at mid charge (from memory); in V.
const UNKNOWN_CHEMISTRY_V: f64 = 0.06;
/// Temperature moves the rest voltage by up to this much per kelvin away from 25 degC, in V (battery data of phones in public Linux kernels).
const PER_KELVIN_V: f64 = 0.5e-3;
/// Without a thermometer the cell is taken to be this far from 25 degC.
const UNKNOWN_TEMPERATURE_K: f64 = 5.0;
/// Half of the span of charge over which a slope is taken; the tables bend within less.
const SLOPE_SPAN: f64 = 0.05;
/// Standard uncertainty of such a slope as a share, below and from 60 % charge: aged cells read by their table when new,
/// root mean square over seven published sets (0.32 to 0.95) where the graphite's steps make the slope, and of the cobalt
/// cell among them (0.23) above (`tests/reference/slopes.py`).
const SLOPE_SHARE: [f64; 2] = [0.5, 0.25];
const STEEP_FROM: f64 = 0.6;
/// Standard uncertainty of the charge that the table of new cells tells of one that may have aged, where it is largest, at
/// 40 %: then the root mean square is 0.067 below 60 % charge and 0.040 above; over the same seven sets it is 0.055 to 0.093
/// below, and 0.039 above for the cobalt cell. A cell that lost lithium reads too high.
const AGED_CHARGE: f64 = 0.08;
const AGED_MOST_AT: f64 = 0.4;

#[derive(Debug, Deserialize)]
struct Tables {
    table: Vec<Table>,
}

/// One class.
#[derive(Debug, Deserialize)]
pub(super) struct Table {
    pub(super) charge_limit_v: f64,
    pub(super) percent: Vec<f64>,
    pub(super) voltage_mv: Vec<f64>,
    pub(super) spread_mv: Vec<f64>,
    pub(super) source: String,
}

/// The table that serves a label.
#[derive(Clone, Copy, Debug)]
pub(super) struct Curve {
    pub(super) table: &'static Table,
    /// How far the label's charge limit is from the table's, in V.
    pub(super) other_class_v: f64,
    /// What an untold chemistry leaves open, in V.
    pub(super) chemistry_v: f64,
}

/// A place in a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CurvePoint {
    /// State of charge, 0 to 1.
    pub(super) charge: f64,
    /// Change of voltage per whole charge around it, in V, with its standard uncertainty.
    pub(super) slope: f64,
    pub(super) slope_deviation: f64,
}

/// Returns all tables; a damaged file is an error.
pub(super) fn tables() -> Result<&'static [Table], String> {
    static READ: LazyLock<Result<Tables, String>> = LazyLock::new(|| {
        toml::from_str(TABLES).map_err(|error| format!("the voltage tables are damaged: {error}"))
    });
    READ.as_ref().map(|tables| tables.table.as_slice()).map_err(Clone::clone)
}

/// Finds the table of a label's class.
pub(super) fn curve(nameplate: &Nameplate) -> Result<Curve, String> {
    let (limit, chemistry) = (nameplate.charge_limit_v, nameplate.chemistry);
    let is_unknown = match chemistry {
        Chemistry::Lco => false,
        // Above 4.25 V cells for phones and tablets are cobalt cells; at 4.20 V everything occurs.
        Chemistry::LithiumIon => limit < 4.25,
        Chemistry::Nmc | Chemistry::Nca | Chemistry::Lmo | Chemistry::Lfp => {
            return Err(format!("no voltage table for chemistry {chemistry:?}; only for cobalt oxide"));
        }
    };
    let distance = |table: &Table| (table.charge_limit_v - limit).abs();
    let nearest = tables()?.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let Some(table) = nearest.filter(|table| distance(table) <= SAME_CLASS_V + 1e-9) else {
        return Err(format!("no voltage table for a charge limit of {limit} V"));
    };
    let chemistry_v = if is_unknown { UNKNOWN_CHEMISTRY_V } else { 0.0 };
    Ok(Curve { table, other_class_v: distance(table), chemistry_v })
}

impl Curve {
    /// Returns the state of charge (0 to 1) at a voltage in V; outside the table its ends.
    pub(super) fn charge_at(&self, voltage: f64) -> f64 {
        interpolate(&self.table.voltage_mv, &self.table.percent, voltage * 1e3) / 100.0
    }

    /// Returns the place of a voltage in V.
    pub(super) fn place_of(&self, voltage: f64) -> CurvePoint {
        let (slope, slope_deviation) = self.slope_at(voltage);
        CurvePoint { charge: self.charge_at(voltage), slope, slope_deviation }
    }

    /// Returns the voltage in V at a state of charge (0 to 1).
    pub(super) fn voltage_at(&self, charge: f64) -> f64 {
        interpolate(&self.table.percent, &self.table.voltage_mv, charge * 100.0) / 1e3
    }

    /// Returns the standard uncertainty that ageing adds to a state of charge read here, which empty and full, being what
    /// they are by definition, do not have.
    pub(super) fn aged_charge(&self, charge: f64) -> f64 {
        let hump = |charge: f64| charge * (1.0 - charge).powf(1.5);
        AGED_CHARGE * hump(charge) / hump(AGED_MOST_AT)
    }

    /// Returns the spread between cells of the class in V, at a voltage in V.
    pub(super) fn spread_at(&self, voltage: f64) -> f64 {
        interpolate(&self.table.voltage_mv, &self.table.spread_mv, voltage * 1e3) / 1e3
    }

    /// Returns what a temperature away from 25 degC leaves open, in V.
    pub(super) fn temperature_v(&self, temperature_c: Option<f64>) -> f64 {
        PER_KELVIN_V * temperature_c.map_or(UNKNOWN_TEMPERATURE_K, |temperature| (temperature - 25.0).abs())
    }

    /// Returns the slope in V per unit of charge around a voltage, and its standard uncertainty: cells of a class bend
    /// within the span of two points of the table, and elsewhere when they have aged.
    pub(super) fn slope_at(&self, voltage: f64) -> (f64, f64) {
        let charge = self.charge_at(voltage);
        let (low, high) = ((charge - SLOPE_SPAN).max(0.0), (charge + SLOPE_SPAN).min(1.0));
        let slope = (self.voltage_at(high) - self.voltage_at(low)) / (high - low);
        (slope, slope * SLOPE_SHARE[usize::from(charge >= STEEP_FROM)])
    }
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
    use crate::estimate::tests::nameplate;

    #[test]
    fn the_tables_rise_and_their_columns_are_of_one_length() {
        for table in tables().unwrap() {
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
    fn a_voltage_is_found_again_and_slopes_are_those_of_the_published_tables() {
        for table in tables().unwrap() {
            let curve = Curve { table, other_class_v: 0.0, chemistry_v: 0.0 };
            for charge in [0.02, 0.33, 0.5, 0.77, 1.0] {
                approx::assert_relative_eq!(
                    curve.charge_at(curve.voltage_at(charge)),
                    charge,
                    epsilon = 1e-9
                );
            }
            let place = curve.place_of(curve.voltage_at(0.9));
            assert_eq!((place.slope, place.slope_deviation), curve.slope_at(curve.voltage_at(0.9)));
            approx::assert_relative_eq!(place.charge, 0.9, epsilon = 1e-9);
            // Beyond full there is no more charge.
            assert_eq!(curve.place_of(4.6).charge, 1.0);
            // Steep above 55 % (8 to 12 mV/%), flat between 20 and 40 % (2 to 4 mV/%).
            assert!((0.6..1.4).contains(&curve.slope_at(curve.voltage_at(0.8)).0));
            assert!((0.2..0.5).contains(&curve.slope_at(curve.voltage_at(0.3)).0));
        }
    }
    #[test]
    fn a_label_without_a_class_has_no_table() {
        let plate = Nameplate { charge_limit_v: 4.35, ..nameplate(3.0) };
        assert_eq!(curve(&plate).unwrap().table.charge_limit_v, 4.35);
        assert!(curve(&Nameplate { charge_limit_v: 4.5, ..plate.clone() }).is_err());
        assert!(curve(&Nameplate { chemistry: Chemistry::Lfp, ..plate }).is_err());
    }
}
