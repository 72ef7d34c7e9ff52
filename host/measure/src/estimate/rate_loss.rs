//! How much less a discharge gave for being faster than 0.2 It, told by the cell itself.
//!
//! Input: a measurement and a discharge that reached its end faster; output: by which share a discharge at 0.2 It would have given
//! more, with its doubt. When the load goes off, the voltage rises by what the current had kept back; a slower current keeps back less, in proportion. So its
//! curve lies higher by a known part of that rise, and passes the end voltage later. By how much later the curve itself tells: it
//! takes this long to fall by as much just before its end, and less below, since it falls ever faster there.

use super::discharge::Discharge;
use super::measurement::Measurement;
use crate::segment::Kind;
use crate::si::{Amps, Seconds, Volts};

/// Between these times after the load went off the voltage has risen by what counts here: what comes later is slow, and comes back
/// under a slower load too (judged).
const RISEN: [Seconds; 2] = [Seconds(5.0), Seconds(40.0)];
/// What a discharge at 0.2 It gives more, over what came out while the voltage fell by as much before the end: less where the curve
/// bends, more where the resistance grows towards the end. It was 0.15 to 1.4 in a dozen cells drawn from published tables
/// (`tests/population`, whose proofs check the intervals that come of it).
const STILL: f64 = 0.85;
const STILL_DOUBT: f64 = 0.43;
/// And a little that is not of this kind: slow processes in the cell, as a share (our choice).
const ELSE: f64 = 0.002;

/// Returns by which share of its charge a discharge at the reference current would have given more, and the standard uncertainty of
/// that share; `None` where the trace has no rest after the discharge.
pub(super) fn rate_loss(m: &Measurement<'_>, discharge: &Discharge, reference: Amps) -> Option<(f64, f64)> {
    let after = discharge.range.end;
    let rest =
        m.segments.iter().position(|segment| segment.first >= after - 1 && segment.kind == Kind::Rest)?;
    let segment = m.segments.get(rest)?;
    let from = segment.start.time;
    if from - discharge.end_time > RISEN[1] {
        return None;
    }
    let rows = m.between(m.body(rest), from + RISEN[0], from + RISEN[1]);
    let points = m.trace.slice(rows);
    let risen = points.iter().map(|point| point.voltage.0).fold(f64::NEG_INFINITY, f64::max);
    let end = m.nameplate.end_of_discharge_v;
    if !risen.is_finite() || risen <= end {
        return None;
    }
    let higher = Volts((risen - end) * (1.0 - reference / discharge.current));
    let loaded = m.trace.slice(discharge.range.clone());
    let level = |current: Amps| (current / discharge.current - 1.0).abs() <= super::discharge::SAME_CURRENT;
    let before =
        loaded.iter().rev().find(|point| level(point.current) && point.voltage.0 >= end + higher.0)?;
    let took = discharge.current * (discharge.end_time - before.time);
    let share = took / discharge.charge;
    Some((STILL * share, (STILL_DOUBT * share).hypot(ELSE)))
}
