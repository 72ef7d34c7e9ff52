//! How full a cell was when its discharge began: what its charger and its rest voltage say, and what may be lacking.
//!
//! Input: a measurement, a load, and what a person said of the charge; output: the share of the capacity that was lacking, with its
//! doubt, or why the cell did not begin full. A charger that ended by itself, at the limit and with little current left, has filled the
//! cell; the voltage afterwards is a check of that, since aged cells settle lower. Without a charger's word the voltage alone tells it.

use super::measurement::Measurement;
use super::open_circuit::curve;
use super::rest_voltage::last;
use crate::nameplate::{CHARGED_MARGIN_V, FULL_MARGIN_V, NEARLY_FULL_MARGIN_V};
use crate::segment::Kind;
use crate::si::{Amps, Volts};

/// A full cell settles by this after the charger stops, where no table of its class tells: 0 to 30 mV in the tables.
pub(super) const FULL_MARGIN: Volts = Volts(FULL_MARGIN_V);
/// A cell that rests below that by up to this is taken with what it may lack; below it did not begin full.
pub(super) const NEARLY_FULL_MARGIN: Volts = Volts(NEARLY_FULL_MARGIN_V);
/// The same where its charger ended by itself.
const CHARGED_MARGIN: Volts = Volts(CHARGED_MARGIN_V);
/// Slope of the rest voltage near full, per share of the capacity: 11 to 13 mV per % in the published tables.
pub(super) const TOP_SLOPE: Volts = Volts(1.1);
/// The same of iron phosphate, where it settles: 2.3 V below 3.35 V and 6 V above, per share of the capacity, in the
/// equilibrium of a published model (Prada2013), rounded to the side that leaves more open.
const LFP_TOP_SLOPE: Volts = Volts(2.0);
/// Resistance times capacity of phone and tablet cells, for the drop of a discharge that begins without a rest: the
/// median of eight (`class_resistance.rs`), which spread from 0.25 to 0.43.
const CLASS_OHM_AH: f64 = 0.34;
/// Share of its charge that a sound cell loses in storage per day, and half the range of that: 1 to 3 % a month.
const LOST_PER_DAY: f64 = 0.02 / 30.0;
const LOST_HALF_RANGE: f64 = 0.01 / 30.0;
/// Rest after the charge that belongs to the method (IEC 61960-3, from memory: 1 to 4 h).
const USUAL_REST_H: f64 = 4.0;
/// A charge in the trace has come to its end where its last row lies so near the limit, at so little of It (common practice: chargers
/// end at 0.02 to 0.1 It).
const AT_LIMIT: Volts = Volts(0.02);
const END_CURRENT_SHARE: f64 = 0.1;

/// Rows of a rest's end that give its voltage.
const REST_ROWS: usize = 20;

/// What a person said of the cell before its discharge.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Before {
    /// For how long it had rested, in h.
    pub(super) rested_h: Option<f64>,
    /// Whether the charger ended by itself.
    pub(super) charger_ended: bool,
}

/// How full the cell was at the start.
pub(super) struct Start {
    /// Share of the capacity that it lacked, with its standard uncertainty: anything from nothing, where this cell simply
    /// settles lower than its class, to all that the voltage is lower by.
    pub(super) lacked: f64,
    pub(super) doubt: f64,
    pub(super) rest_voltage: Option<f64>,
    pub(super) warning: Option<String>,
}

/// Returns the voltage at the end of the rest before a load, if there is one.
pub(super) fn rested(m: &Measurement<'_>, load: usize) -> Option<Volts> {
    let segment = m.segments.get(load)?;
    let line = m.voltage_at(last(m.body(m.rest_before(load)?), REST_ROWS), segment.start.time)?;
    Some(Volts(line.value))
}

/// Judges whether the cell was full when a load began.
pub(super) fn start(
    m: &Measurement<'_>,
    load: usize,
    current: Amps,
    before: Before,
) -> Result<Start, String> {
    let limit = Volts(m.nameplate.charge_limit_v);
    let rested = rested(m, load);
    let (voltage, allowance, spread) = match rested {
        Some(voltage) => (voltage, Volts(0.0), Volts(0.0)),
        // On its plateau 70 mV under load are half the charge.
        None if m.nameplate.settles_v().is_some() => {
            return Err("only a rest before it tells whether a cell of this chemistry was full".to_owned());
        }
        None if load == 0 => {
            let row = m.body(load).start;
            let first = m.trace.points.get(row).ok_or("the load has no usable rows")?.voltage;
            let class = Volts(current.0 * CLASS_OHM_AH / m.nameplate.rated_capacity_ah);
            (first, class, class * 0.3)
        }
        None => return Err("the discharge does not begin from a rest".to_owned()),
    };
    let (settles, top_slope) = match (m.nameplate.settles_v(), curve(m.nameplate)) {
        (Some(settles), _) => (Volts(settles), LFP_TOP_SLOPE),
        (None, Ok(curve)) => (Volts(curve.table.charge_limit_v - curve.voltage_at(1.0)), TOP_SLOPE),
        (None, Err(_)) => (FULL_MARGIN, TOP_SLOPE),
    };
    let missing = limit - voltage - allowance;
    let lower = missing - settles;
    let charger_ended = before.charger_ended || charged_to_the_end(m, load);
    let most_lower = if charger_ended { CHARGED_MARGIN } else { NEARLY_FULL_MARGIN };
    if lower > most_lower + spread {
        return Err(format!(
            "the cell did not begin full: {:.3} V {}, {:.0} mV below the charge limit of {} V",
            voltage.0,
            if rested.is_some() { "at rest" } else { "at the first row under load" },
            (limit - voltage).0 * 1e3,
            limit.0
        ));
    }
    if -missing > NEARLY_FULL_MARGIN + spread + allowance {
        return Err(format!(
            "the cell began {:.0} mV above the charge limit of {} V",
            (-missing).0 * 1e3,
            limit.0
        ));
    }
    // What a sound cell loses in storage is expected; the voltage may tell of more.
    let stored_d = before.rested_h.map_or(0.0, |hours| (hours - USUAL_REST_H).max(0.0) / 24.0);
    let lost = LOST_PER_DAY * stored_d;
    let more = (lower.0 - lost * top_slope.0).max(0.0) / 2.0 / top_slope.0;
    let lacked = lost + more;
    let above = (-missing - FULL_MARGIN).0.max(0.0) / top_slope.0;
    let doubt = (more / 3f64.sqrt())
        .hypot(LOST_HALF_RANGE * stored_d / 3f64.sqrt())
        .hypot(above + spread.0 / top_slope.0);
    let warning = match rested {
        None => Some(
            "no rest before the discharge; that the cell was full is taken from its loaded voltage"
                .to_owned(),
        ),
        Some(_) if lower > FULL_MARGIN => {
            let why = if charger_ended { ", though its charger had ended" } else { "" };
            Some(format!(
                "began {:.0} mV below the charge limit{why}; {:.1} % of charge is taken as missing at the start",
                missing.0 * 1e3,
                100.0 * lacked
            ))
        }
        Some(_) => None,
    };
    Ok(Start { lacked, doubt, rest_voltage: rested.map(|voltage| voltage.0), warning })
}

/// Returns whether the trace shows a charge to its end before a load.
fn charged_to_the_end(m: &Measurement<'_>, load: usize) -> bool {
    let before = m.segments.iter().enumerate().take(load).rev();
    let mut since_load = before.take_while(|(_, segment)| segment.kind != Kind::Load);
    let Some((charge, _)) = since_load.find(|(_, segment)| segment.kind == Kind::Charge) else {
        return false;
    };
    let last = m.body(charge).end.checked_sub(1).and_then(|row| m.trace.points.get(row));
    let little = m.unit_current() * END_CURRENT_SHARE;
    last.is_some_and(|row| {
        Volts(m.nameplate.charge_limit_v) - row.voltage <= AT_LIMIT && row.current.abs() <= little
    })
}
