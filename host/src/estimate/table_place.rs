//! Where a rest voltage lies in the table of its class, and how steep the table is there.

use super::open_circuit::curve;
use crate::nameplate::Nameplate;

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
    let table = curve(plate)?.table;
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
    use crate::nameplate::Chemistry;

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
