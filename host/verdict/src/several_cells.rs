//! A voltage that no single cell reaches: two or more in series were connected as one, and nothing is known of any of them.
//!
//! Input: a voltage and the label of one cell; output: what to say, where it is more than one. It is no finding against a cell.

use crate::evidence::trip_key;
use crate::figure::limit_figure;
use celltriage_measure::nameplate::Nameplate;
use celltriage_protocol::event::TripCause;

/// Says that what rests at a voltage is more than one cell; `None` where one cell may.
pub(super) fn several_cells(volts: f64, nameplate: &Nameplate) -> Option<String> {
    (volts > nameplate.one_cell_v()).then(|| {
        format!(
            "{} was read, and no cell of this label rests above {}: two or more cells in series were connected as one; measure \
             each by itself, at its own tabs, with the label of one cell",
            limit_figure(volts, "V"),
            limit_figure(nameplate.one_cell_v(), "V")
        )
    })
}

/// Says the same of a trip of the guard, which refuses such a voltage as that of an over-charged cell.
pub(super) fn of_trip(cause: &str, value: f64, unit: &str, nameplate: &Nameplate) -> Option<String> {
    let is_high = cause == trip_key(TripCause::VoltageHigh) && unit == "V";
    several_cells(value, nameplate).filter(|_| is_high)
}
