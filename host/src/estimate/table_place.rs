//! Where a rest voltage lies in the table of its class, and how steep the table is there.

use crate::nameplate::{Chemistry, Nameplate};
use serde::Deserialize;

/// The tables as they are in the repository.
const TABLES: &str = include_str!("../chemistry/open_circuit_voltage.toml");
/// A table serves cells whose charge limit is this close to its own, in V.
const SAME_CLASS_V: f64 = 0.03;

#[derive(Deserialize)]
struct Tables {
    table: Vec<Table>,
}

#[derive(Deserialize)]
struct Table {
    charge_limit_v: f64,
    percent: Vec<f64>,
    voltage_mv: Vec<f64>,
}

/// A place in a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    /// State of charge, 0 to 1.
    pub(super) charge: f64,
    /// Change of voltage per whole charge, in V.
    pub(super) slope: f64,
}

/// Returns the place of a rest voltage in V, or why there is no table.
pub(super) fn place_of(plate: &Nameplate, voltage: f64) -> Result<Place, String> {
    if matches!(plate.chemistry, Chemistry::Nmc | Chemistry::Nca | Chemistry::Lmo | Chemistry::Lfp) {
        return Err(format!("no voltage table for chemistry {:?}; only for cobalt oxide", plate.chemistry));
    }
    let tables: Tables =
        toml::from_str(TABLES).map_err(|error| format!("the voltage tables are damaged: {error}"))?;
    let limit = plate.charge_limit_v;
    let distance = |table: &Table| (table.charge_limit_v - limit).abs();
    let nearest = tables.table.into_iter().min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let table = nearest
        .filter(|table| distance(table) <= SAME_CLASS_V + 1e-9)
        .ok_or_else(|| format!("no voltage table for a charge limit of {limit} V"))?;
    let pieces = table.percent.windows(2).zip(table.voltage_mv.windows(2));
    let mut found = Err("the voltage table is too short".to_owned());
    for (charges, volts) in pieces {
        let ([c0, c1], [v0, v1]) = (charges, volts) else { continue };
        let slope = (v1 - v0) / (c1 - c0) / 10.0;
        let charge = (c0 / 100.0 + (voltage - v0 / 1e3) / slope).clamp(0.0, c1 / 100.0);
        found = Ok(Place { charge, slope });
        if voltage * 1e3 <= *v1 {
            break;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::tests::nameplate;

    #[test]
    fn a_place_is_that_of_the_table_of_the_class() {
        let plate = Nameplate { charge_limit_v: 4.35, ..nameplate(3.0) };
        for (voltage, charge, slope) in
            [(4.208, 0.9, 1.08), (4.336, 1.0, 1.28), (4.4, 1.0, 1.28), (3.838, 0.5, 0.4), (2.9, 0.0, 12.84)]
        {
            let place = place_of(&plate, voltage).unwrap();
            approx::assert_relative_eq!(place.charge, charge, epsilon = 1e-9);
            approx::assert_relative_eq!(place.slope, slope, epsilon = 1e-9);
        }
        assert!(place_of(&Nameplate { charge_limit_v: 4.5, ..plate.clone() }, 4.0).is_err());
        assert!(place_of(&Nameplate { chemistry: Chemistry::Lfp, ..plate }, 4.0).is_err());
    }
}
