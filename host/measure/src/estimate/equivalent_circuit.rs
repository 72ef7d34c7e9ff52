//! The equivalent circuit of a pulse, as it is kept with the estimates.

use serde::{Deserialize, Serialize};

/// A number with its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// Best value.
    pub value: f64,
    /// Standard uncertainty from the scatter of the rows alone, in the same unit.
    pub standard_uncertainty: f64,
}

/// A resistance with a capacitance beside it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RcPair {
    /// Resistance.
    pub resistance_ohm: Figure,
    /// Resistance times capacitance.
    pub time_constant_s: Figure,
}

/// The circuit with what it is good for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Circuit {
    /// Current of the pulse that it describes.
    pub current_a: f64,
    /// It holds from here after the current rose.
    pub from_s: f64,
    /// And until here.
    pub until_s: f64,
    /// Resistance that was over before `from_s`; it depends on sampling and number of pairs.
    pub before_first_instant_ohm: Figure,
    /// Pairs, fastest first.
    pub pairs: Vec<RcPair>,
    /// Root mean square of what it leaves unexplained, as a voltage.
    pub residual_v: f64,
    /// What the reader must know before using it.
    pub warnings: Vec<String>,
}
