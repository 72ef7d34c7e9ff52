//! Whether a trace is of more than one cell: two in series read twice a cell's voltage, which no single one reaches.
//!
//! Input: a measurement; output: why nothing in it is about one cell. That is no finding against the cells: each is to be
//! measured by itself.

use super::measurement::Measurement;
use crate::segment::Kind;
use crate::trace::Voltages;

/// Returns why the trace tells nothing of one cell: it rests too high for one, or, where it never rests, lies so high.
pub(super) fn several_cells(m: &Measurement<'_>) -> Option<String> {
    let mean = |rows| {
        let all: Voltages = m.gather(rows);
        (all.rows > 0).then(|| all.sum / all.rows as f64)
    };
    let rests =
        (0..m.segments.len()).filter(|index| m.segments.get(*index).is_some_and(|s| s.kind == Kind::Rest));
    let highest = rests.filter_map(|rest| mean(m.body(rest))).reduce(f64::max);
    let read = highest.or_else(|| mean(0..m.trace.points.len()))?;
    let most = m.nameplate.one_cell_v();
    (read > most).then(|| {
        let way = if highest.is_some() { "at rest" } else { "in the mean" };
        format!(
            "{read:.2} V {way}, and no cell of this label rests above {most:.2} V: two or more cells in series were measured as \
             one; measure each by itself, at its own tabs, with the label of one cell"
        )
    })
}
