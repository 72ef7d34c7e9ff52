//! Looks whether the sign of the current agrees with what the voltage does.
//!
//! A cell's voltage falls when it is discharged harder, at every step of the current and over every long load. A file
//! whose current has the other sign would turn a discharge into a charge: all its numbers would be wrong and look
//! sound, so it is refused. Input: a trace; output: what the evidence says.

use crate::segment::{Segment, segments};
use crate::si::{AmpHours, Volts};
use crate::trace::Trace;

/// A step of voltage smaller than this decides nothing: noise and relaxation reach it.
const TELLING_STEP: Volts = Volts(3e-3);
/// A long load must move the voltage by this much to decide anything: relaxation after a load stays below.
const TELLING_DRIFT: Volts = Volts(0.1);
/// Rows beside a step that are looked at, the first and last row of a level left out: they may be torn.
const ROWS: usize = 5;

/// What the evidence says.
#[derive(Clone, Debug, PartialEq)]
pub enum CurrentSign {
    /// Voltage and current agree.
    Right,
    /// They contradict each other, with the clearest place in words.
    Wrong(String),
    /// Some places agree and some contradict, in words.
    Mixed(String),
    /// No step and no load is large enough to decide.
    Untold,
}

/// Compares voltage and current at every step and over every long load.
pub fn implied_sign(trace: &Trace) -> CurrentSign {
    let segments = segments(trace, None);
    let steps = segments.windows(2).filter_map(|two| if let [a, b] = two { step(trace, a, b) } else { None });
    let drifts = segments.iter().filter_map(|segment| drift(trace, segment));
    let evidence: Vec<(bool, f64, String)> = steps.chain(drifts).collect();
    let (right, wrong): (Vec<_>, Vec<_>) = evidence.into_iter().partition(|(agrees, _, _)| *agrees);
    let clearest = wrong.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(_, _, text)| text.clone());
    match (right.len(), clearest) {
        (0, None) => CurrentSign::Untold,
        (_, None) => CurrentSign::Right,
        (agreeing, Some(text)) if wrong.len() > agreeing => CurrentSign::Wrong(text),
        (_, Some(text)) => CurrentSign::Mixed(format!(
            "{text}, though elsewhere voltage and current agree; the sign was taken as written"
        )),
    }
}

/// Judges one step: whether it agrees, how large it is, and in words.
fn step(trace: &Trace, before: &Segment, after: &Segment) -> Option<(bool, f64, String)> {
    let (from, spread_before) =
        median(trace, before.last.saturating_sub(ROWS).max(before.first)..before.last)?;
    let (to, spread_after) = median(trace, after.first + 1..(after.first + 1 + ROWS).min(after.last + 1))?;
    let (voltage, current) = (to - from, after.current - before.current);
    let blurred = Volts(2.0 * spread_before.0.max(spread_after.0));
    if voltage.abs() < TELLING_STEP || voltage.abs() < blurred || current.0 == 0.0 {
        return None;
    }
    let agrees = (voltage.0 > 0.0) != (current.0 > 0.0);
    let verb = if voltage.0 < 0.0 { "falls" } else { "rises" };
    let text = format!(
        "the voltage {verb} by {:.0} mV at {:.3} s though the cell would be {} there",
        voltage.0.abs() * 1e3,
        after.start.time.0,
        if current.0 > 0.0 { "discharged harder" } else { "charged harder" },
    );
    Some((agrees, voltage.0.abs(), text))
}

/// Judges one long load or charge.
fn drift(trace: &Trace, segment: &Segment) -> Option<(bool, f64, String)> {
    let rows = segment.last - segment.first;
    if rows < 4 * ROWS || (segment.current * segment.duration()).abs() < AmpHours(1e-3) {
        return None;
    }
    let (early, _) = median(trace, segment.first + rows / 10..segment.first + rows / 10 + ROWS)?;
    let (late, _) = median(trace, segment.last - ROWS..segment.last)?;
    let voltage = late - early;
    if voltage.abs() < TELLING_DRIFT {
        return None;
    }
    let agrees = (voltage.0 > 0.0) != (segment.current.0 > 0.0);
    let text = format!(
        "from {:.1} s to {:.1} s the voltage goes from {:.3} V to {:.3} V though the cell would be {}",
        segment.start.time.0,
        segment.end.time.0,
        early.0,
        late.0,
        if segment.current.0 > 0.0 { "discharged" } else { "charged" },
    );
    Some((agrees, voltage.0.abs(), text))
}

/// Returns the median of some voltages and how far they spread.
fn median(trace: &Trace, range: std::ops::Range<usize>) -> Option<(Volts, Volts)> {
    let mut voltages: Vec<f64> = trace.slice(range).iter().map(|point| point.voltage.0).collect();
    voltages.sort_by(f64::total_cmp);
    let spread = voltages.last()? - voltages.first()?;
    Some((Volts(*voltages.get(voltages.len() / 2)?), Volts(spread)))
}
