//! What a simulated cell is made of: tables and figures, checked once so that nothing later can go wrong with them.
//!
//! Takes [`CellTables`], from JSON by serde or written in code; gives [`CellParameters`], which exist only where the
//! tables are consistent. Unknown keys of a JSON file are passed over (a file may carry the truth it was fitted to).

use crate::table::Place;
use core::fmt;
use serde::Deserialize;

/// Most resistor-capacitor pairs a cell may have.
pub const MOST_PAIRS: usize = 4;

/// Heat capacity of a 3 Ah pouch: about 45 g at 0.9 J/(g K) (common practice).
const fn usual_heat_capacity() -> f64 {
    40.0
}

/// Heat lost by two faces of 65 mm x 75 mm in still air at about 7 W/(m2 K) (common practice).
const fn usual_heat_loss() -> f64 {
    0.07
}

/// The figures of a cell as they stand in a JSON file; the names are the file's keys.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct CellTables {
    /// Short name of the cell.
    pub name: String,
    /// Where the figures come from.
    pub source: String,
    /// Charge between state of charge 1 (rested after charging to the limit) and 0, as it is now (aged), in Ah.
    pub capacity_ah: f64,
    /// End-of-discharge voltage of the cell's class, in volts; `ocv_v` alone says how the cell behaves.
    pub end_of_discharge_v: f64,
    /// Charge-limit voltage of the cell's class, in volts; as above.
    pub charge_limit_v: f64,
    /// Axis of `ocv_v`: state of charge, rising.
    pub soc: Vec<f64>,
    /// Rested voltage over `soc`, in volts; beyond the ends the outer lines go on.
    pub ocv_v: Vec<f64>,
    /// Axis of the resistances: state of charge, rising; beyond the ends the outer values hold.
    pub resistance_soc: Vec<f64>,
    /// Resistance that acts at once, over `resistance_soc`, in ohms at 25 degC.
    pub series_ohm: Vec<f64>,
    /// Resistance of each resistor-capacitor pair over `resistance_soc`, in ohms at 25 degC.
    pub pair_ohm: Vec<Vec<f64>>,
    /// Time constant of each pair in seconds.
    pub pair_seconds: Vec<f64>,
    /// Heat that warms the cell by one kelvin, in joules per kelvin.
    #[serde(default = "usual_heat_capacity")]
    pub heat_capacity_j_per_k: f64,
    /// Heat lost to the room, in watts per kelvin of difference.
    #[serde(default = "usual_heat_loss")]
    pub heat_loss_w_per_k: f64,
    /// Current that drains the cell inside, in amperes; its power turns into heat.
    #[serde(default)]
    pub leak_a: f64,
    /// Heat that the cell makes besides losses and leak, in watts.
    #[serde(default)]
    pub self_warming_w: f64,
}

/// Why tables do not describe a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ParameterError {
    /// The key at fault.
    key: &'static str,
    /// What must hold for it.
    rule: &'static str,
}

impl fmt::Display for ParameterError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            out,
            "cell parameters: `{}` {}; correct it in the file that the parameters come from",
            self.key, self.rule
        )
    }
}

impl std::error::Error for ParameterError {}

/// Checked figures of a cell.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(try_from = "CellTables")]
pub struct CellParameters(CellTables);

impl TryFrom<CellTables> for CellParameters {
    type Error = ParameterError;

    fn try_from(tables: CellTables) -> Result<Self, ParameterError> {
        check(&tables)?;
        Ok(Self(tables))
    }
}

impl CellParameters {
    /// Takes tables written in this crate, which a test of theirs must check.
    pub(crate) const fn trusted(tables: CellTables) -> Self {
        Self(tables)
    }

    /// Returns the figures.
    pub const fn tables(&self) -> &CellTables {
        &self.0
    }

    /// Returns the rested voltage in volts at a state of charge.
    pub fn open_voltage(&self, soc: f64) -> f64 {
        Place::find(&self.0.soc, soc, Place::default()).read(&self.0.ocv_v)
    }

    /// Returns the resistance in ohms seen `seconds` after a small step of current, at 25 degC, without the change of
    /// the rested voltage: `series + sum of pair x (1 - exp(-t / time constant))`.
    pub fn resistance_after(&self, soc: f64, seconds: f64) -> f64 {
        let place = self.resistance_place(soc);
        let pairs = self.0.pair_ohm.iter().zip(&self.0.pair_seconds);
        place.read(&self.0.series_ohm)
            + pairs.map(|(ohm, constant)| -place.read(ohm) * (-seconds / constant).exp_m1()).sum::<f64>()
    }

    /// Returns the d.c. resistance in ohms at 25 degC that two loads tell (IEC 61960-3 clause 7.7 from memory:
    /// 0.2 It for 10 s, then 1 It for 1 s, the difference of the voltages at both ends over that of the currents).
    ///
    /// `rated_ah` gives It. The charge drawn between the two readings moves the rested voltage; that is part of what
    /// the method sees and part of this figure. Pairs start at rest; resistances are those at `soc`.
    pub fn two_level_resistance(&self, soc: f64, rated_ah: f64) -> f64 {
        let (low_a, high_a) = (0.2 * rated_ah, rated_ah);
        let place = self.resistance_place(soc);
        let mut fall = (high_a - low_a) * place.read(&self.0.series_ohm);
        for (ohm, constant) in self.0.pair_ohm.iter().zip(&self.0.pair_seconds) {
            let ohm = place.read(ohm);
            let first = -low_a * ohm * (-10.0 / constant).exp_m1();
            fall += (high_a * ohm - first) * -(-1.0 / constant).exp_m1();
        }
        let capacity_c = self.0.capacity_ah * 3_600.0;
        let first_soc = soc - 10.0 * low_a / capacity_c;
        fall += self.open_voltage(first_soc) - self.open_voltage(first_soc - high_a / capacity_c);
        fall / (high_a - low_a)
    }

    fn resistance_place(&self, soc: f64) -> Place {
        Place::find(&self.0.resistance_soc, soc, Place::default()).held()
    }
}

fn check(tables: &CellTables) -> Result<(), ParameterError> {
    let rule = |holds: bool, key, rule| if holds { Ok(()) } else { Err(ParameterError { key, rule }) };
    let positive = |value: f64| value.is_finite() && value > 0.0;
    let not_negative = |value: f64| value.is_finite() && value >= 0.0;
    let rising = |axis: &[f64]| {
        axis.iter().all(|value| value.is_finite())
            && axis.iter().zip(axis.iter().skip(1)).all(|(low, high)| low < high)
    };
    rule(positive(tables.capacity_ah), "capacity_ah", "must be above zero")?;
    rule(positive(tables.end_of_discharge_v), "end_of_discharge_v", "must be above zero")?;
    let ordered = tables.charge_limit_v.is_finite() && tables.charge_limit_v > tables.end_of_discharge_v;
    rule(ordered, "charge_limit_v", "must be above `end_of_discharge_v`")?;
    rule(
        tables.soc.len() >= 2 && rising(&tables.soc),
        "soc",
        "must have two points or more and rise strictly",
    )?;
    rule(tables.ocv_v.len() == tables.soc.len(), "ocv_v", "must have as many points as `soc`")?;
    rule(tables.ocv_v.iter().all(|&value| positive(value)), "ocv_v", "must be above zero everywhere")?;
    let points = tables.resistance_soc.len();
    rule(
        points >= 1 && rising(&tables.resistance_soc),
        "resistance_soc",
        "must have a point or more and rise strictly",
    )?;
    rule(tables.series_ohm.len() == points, "series_ohm", "must have as many points as `resistance_soc`")?;
    rule(
        tables.series_ohm.iter().all(|&value| positive(value)),
        "series_ohm",
        "must be above zero everywhere",
    )?;
    rule(tables.pair_ohm.len() <= MOST_PAIRS, "pair_ohm", "must not have more than four pairs")?;
    let matching = tables.pair_ohm.iter().all(|pair| pair.len() == points);
    rule(matching, "pair_ohm", "must have as many points in each pair as `resistance_soc`")?;
    let pairs_good = tables.pair_ohm.iter().flatten().all(|&value| not_negative(value));
    rule(pairs_good, "pair_ohm", "must not be negative anywhere")?;
    rule(
        tables.pair_seconds.len() == tables.pair_ohm.len(),
        "pair_seconds",
        "must have one entry for each pair",
    )?;
    rule(tables.pair_seconds.iter().all(|&value| positive(value)), "pair_seconds", "must be above zero")?;
    rule(positive(tables.heat_capacity_j_per_k), "heat_capacity_j_per_k", "must be above zero")?;
    rule(positive(tables.heat_loss_w_per_k), "heat_loss_w_per_k", "must be above zero")?;
    rule(not_negative(tables.leak_a), "leak_a", "must not be negative")?;
    rule(not_negative(tables.self_warming_w), "self_warming_w", "must not be negative")
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = r#"{"name": "trial", "source": "made up for a test", "capacity_ah": 2.0,
        "end_of_discharge_v": 3.0, "charge_limit_v": 4.2, "soc": [0.0, 0.5, 1.0], "ocv_v": [3.0, 3.7, 4.2],
        "resistance_soc": [0.1, 0.9], "series_ohm": [0.04, 0.03], "pair_ohm": [[0.02, 0.01], [0.02, 0.02]],
        "pair_seconds": [0.05, 20.0], "truth": {"resistance": 0.05}}"#;

    #[test]
    fn a_file_is_read_and_what_it_does_not_say_is_usual() {
        let parameters: CellParameters = serde_json::from_str(FILE).unwrap();
        assert_eq!(parameters.tables().heat_capacity_j_per_k, usual_heat_capacity());
        assert_eq!(parameters.tables().leak_a, 0.0);
        assert!((parameters.open_voltage(0.75) - 3.95).abs() < 1e-12);
    }

    #[test]
    fn inconsistent_files_are_refused_with_the_key_at_fault() {
        for (from, to, key) in [
            ("\"capacity_ah\": 2.0", "\"capacity_ah\": -2.0", "capacity_ah"),
            ("[0.0, 0.5, 1.0]", "[0.0, 0.5, 0.5]", "soc"),
            ("[3.0, 3.7, 4.2]", "[3.0, 3.7]", "ocv_v"),
            ("[0.04, 0.03]", "[0.04]", "series_ohm"),
            ("[0.02, 0.01]", "[0.02, -0.01]", "pair_ohm"),
            ("[0.05, 20.0]", "[0.05]", "pair_seconds"),
            ("\"charge_limit_v\": 4.2", "\"charge_limit_v\": 2.9", "charge_limit_v"),
        ] {
            assert!(FILE.contains(from));
            let error =
                serde_json::from_str::<CellParameters>(&FILE.replace(from, to)).unwrap_err().to_string();
            assert!(error.contains(&format!("`{key}`")), "{error}");
        }
    }

    #[test]
    fn resistance_grows_from_the_series_part_to_the_sum() {
        let parameters: CellParameters = serde_json::from_str(FILE).unwrap();
        assert!((parameters.resistance_after(0.5, 0.0) - 0.035).abs() < 1e-12);
        assert!((parameters.resistance_after(0.5, 1e4) - 0.07).abs() < 1e-12);
        // At 0.05 s: one time constant of the first pair, nothing to speak of (0.25 %) of the second.
        let expected = 0.035 + 0.015 * (1.0 - (-1.0_f64).exp()) + 0.02 * (1.0 - (-0.0025_f64).exp());
        assert!((parameters.resistance_after(0.5, 0.05) - expected).abs() < 1e-12);
    }
}
