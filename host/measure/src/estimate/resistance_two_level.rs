//! Direct-current resistance by two load levels, as IEC 61960-3 has it (clause 7.7, from memory).
//!
//! The cell is discharged at I1 = 0.2 It for 10 s, then at once at I2 = 1.0 It for 1 s; U1 and U2 are the terminal
//! voltages just before the end of each level: R = (U1 - U2) / (I2 - I1). Between two loads the slow parts of the
//! cell hardly move, so the number repeats better than a drop from rest. Levels that deviate are used as they are and
//! said; a second level that lasts longer is read 1 s after its start.

use super::charge_at::ChargeLadder;
use super::jump::JUMP_WITHIN;
use super::measurement::{LEAST_SIGNIFICANCE, LONGEST_PAUSE, Measurement};
use super::step_response::{refuse_rise, refuse_slow_voltage};
use super::voltage_drop::{self, Moment, Terms};
use super::{Conditions, Estimate, Quantity};
use crate::segment::{Kind, Segment};
use crate::si::{Amps, Seconds, Volts};
use crate::trace::Point;
use std::ops::Range;

/// The standard's levels and times, and how far a level may be off before it is said.
const FIRST_SHARE: f64 = 0.2;
const SECOND_SHARE: f64 = 1.0;
const FIRST_TIME: Seconds = Seconds(10.0);
const SECOND_TIME: Seconds = Seconds(1.0);
const SHARE_TOLERANCE: f64 = 0.1;
const TIME_TOLERANCE: f64 = 0.1;
/// The second level must be clearly above the first.
const LEAST_RATIO: f64 = 1.5;
/// Pairs whose misfits differ by less are equally close (judged: 10 % of one level or time).
const AS_CLOSE: f64 = 0.1;
/// Shorter levels are not used.
const SHORTEST_FIRST: Seconds = Seconds(1.0);
const SHORTEST_SECOND: Seconds = Seconds(0.3);
/// Share of a level, up to its end, that its voltage is taken from; and the longest such part.
const END_SHARE: f64 = 0.2;
const LONGEST_END: Seconds = Seconds(1.0);
/// Fewest rows for a voltage, beside the first of a level, which may be torn.
const FEWEST_ROWS: usize = 2;
/// Resistance grows by about this share per factor e in time around 1 s (DFN model: 44.5 to 46 mOhm from 0.1 to 10 s;
/// tripled, as real cells have slower parts too), counted as uncertainty where the time is another one.
const GROWTH_WITH_TIME: f64 = 0.03;
/// Jumps further back than this no longer matter.
const LONGEST_LOOK: Seconds = Seconds(20.0);
/// Rows of a level that must all read the same while the other level's move, to suspect a converter at its end.
const CLIPPED_ROWS: usize = 10;
/// So many different values tell that a channel moves.
const MOVING_VALUES: usize = 3;

/// Estimates the resistance from the pair of levels that comes closest to the standard's.
pub(super) fn resistance_two_level(m: &Measurement<'_>) -> Result<Estimate, String> {
    let Some((best, ladder)) = chosen(m) else {
        return Err(format!(
            "the trace has no two load levels one directly after the other, the second at least {LEAST_RATIO} times \
             the first"
        ));
    };
    let mut estimate = from_pair(m, best)?;
    let pairs = pairs(m).count();
    if let Some(place) = ladder.place(best) {
        estimate.conditions.charge = place.charge;
        estimate.warnings.push(place.text);
    } else if pairs > 1 {
        let text = format!("{pairs} pairs of load levels; the one closest to 0.2 It / 1.0 It is used");
        estimate.warnings.push(text);
    }
    Ok(estimate)
}

/// Returns the first segment of the pair of levels that comes closest to the standard's; of such pairs at several states of
/// charge the one nearest to half charge.
pub(super) fn closest_pair(m: &Measurement<'_>) -> Option<usize> {
    chosen(m).map(|(index, _)| index)
}

/// Returns that pair, and at which charge the closest ones lie.
fn chosen(m: &Measurement<'_>) -> Option<(usize, ChargeLadder)> {
    let (least, first) = pairs(m).min_by(|a, b| a.0.total_cmp(&b.0))?;
    let others = pairs(m).filter(|(misfit, index)| *misfit <= least + AS_CLOSE && *index != first);
    // The closest comes first: of equally good ones it is taken.
    let closest: Vec<usize> = std::iter::once(first).chain(others.map(|(_, index)| index)).collect();
    let ladder = ChargeLadder::of(m, closest.iter().copied());
    let best = closest.into_iter().min_by(|a, b| ladder.off_half(*a).total_cmp(&ladder.off_half(*b)))?;
    Some((best, ladder))
}

/// Returns all pairs of levels, each with how far it is from the standard's.
fn pairs<'m>(m: &'m Measurement<'m>) -> impl Iterator<Item = (f64, usize)> + 'm {
    (0..m.segments.len()).filter_map(|index| Some((misfit(m, index)?, index)))
}

/// Returns how far a segment and its follower are from the standard's pair; `None` if they are not such a pair.
fn misfit(m: &Measurement<'_>, index: usize) -> Option<f64> {
    let (low, high) = (m.segments.get(index)?, m.segments.get(index + 1)?);
    let fits = low.kind == Kind::Load
        && high.kind == Kind::Load
        && high.current.0 >= LEAST_RATIO * low.current.0
        && m.touches(index)
        && low.duration() >= SHORTEST_FIRST
        && high.duration() >= SHORTEST_SECOND;
    let off = |ratio: f64| ratio.ln().abs();
    fits.then(|| {
        off(low.current / (m.unit_current() * FIRST_SHARE))
            + off(high.current / (m.unit_current() * SECOND_SHARE))
            + off(high.duration() / SECOND_TIME)
            + 0.3 * off(low.duration() / FIRST_TIME)
    })
}

/// A level at the moment it is read.
struct LevelReading {
    moment: Moment,
    after: Seconds,
    rows: Range<usize>,
}

fn from_pair(m: &Measurement<'_>, index: usize) -> Result<Estimate, String> {
    let (Some(low), Some(high)) = (m.segments.get(index), m.segments.get(index + 1)) else {
        return Err("the pair of load levels lies outside the trace".to_owned());
    };
    let first = read(m, index, low, low.duration()).map_err(|why| format!("first load level: {why}"))?;
    let second_time = if high.duration().0 > SECOND_TIME.0 * (1.0 + TIME_TOLERANCE) {
        SECOND_TIME
    } else {
        high.duration()
    };
    let second = read(m, index + 1, high, second_time).map_err(|why| format!("second load level: {why}"))?;
    refuse_clipped(m, index)?;

    let drop = first.moment.voltage - second.moment.voltage;
    let follows = refuse_slow_voltage(m, index + 1).and_then(|()| refuse_rise(m, index + 1, 0.0));
    follows.map_err(|why| format!("second load level: {why}"))?;
    let jumps = [refuse_disturbed(m, index, low, drop)?, refuse_disturbed(m, index + 1, high, drop)?];
    let late = GROWTH_WITH_TIME * (second.after / SECOND_TIME).ln().abs();
    let off_time = if (second.after / SECOND_TIME - 1.0).abs() > TIME_TOLERANCE { late } else { 0.0 };
    let jump = Volts(jumps[0].0.hypot(jumps[1].0));
    let terms = Terms { method: off_time, jump, ..Terms::default() };
    let budget = voltage_drop::resistance(m.front_end, &first.moment, &second.moment, &terms);
    if budget.value < LEAST_SIGNIFICANCE * budget.standard_uncertainty {
        return Err(format!(
            "the voltage does not fall clearly as the current rises from {:.3} to {:.3} A ({:+.2} mV): \
             check sense leads and the sign of the current",
            first.moment.current.0,
            second.moment.current.0,
            -drop.0 * 1e3
        ));
    }
    let method = "two load levels, (U1 - U2) / (I2 - I1), IEC 61960-3";
    let mut estimate = Estimate::of(Quantity::ResistanceTwoLevel, budget, method);
    let rest = m.rest_before(index).and_then(|rest| {
        let rows = super::rest_voltage::last(m.body(rest), 50);
        m.voltage_at(rows, low.start.time)
    });
    estimate.conditions = Conditions {
        current_a: Some(first.moment.current.0),
        second_current_a: Some(second.moment.current.0),
        duration_s: Some(second.after.0),
        temperature_c: m.cell_temperature(first.rows.start..second.rows.end).map(|cell| cell.0),
        rest_voltage_v: rest.map(|line| line.value),
        ..Conditions::default()
    };
    estimate.warnings = deviations(m, low, &first, &second);
    Ok(estimate)
}

/// Reads a level at a time after its start: at its very end from the rows before, else from the rows around.
fn read(m: &Measurement<'_>, index: usize, level: &Segment, after: Seconds) -> Result<LevelReading, String> {
    let at = level.start.time + after;
    let body = m.body(index);
    let span = Seconds((level.duration().0 * END_SHARE).min(LONGEST_END.0));
    let mut rows = m.between(body.clone(), at - span, at + span);
    if rows.len() < FEWEST_ROWS + 1 {
        let until = m.between(body.clone(), level.start.time, at).end;
        rows = super::rest_voltage::last(body.start..until, FEWEST_ROWS + 1);
    }
    if rows.len() == 1 && level.end.is_step && level.end.half_width.0 == 0.0 {
        return read_alone(m, level, rows, after);
    }
    if rows.len() < FEWEST_ROWS {
        return Err(format!("only {} usable rows in {:.2} s; sample faster", rows.len(), level.duration().0));
    }
    let newest = m.trace.slice(rows.clone()).last().map_or(level.start.time, |point| point.time);
    let period = m.usual_period(index);
    if (at - newest).0 > (2.0 * period.0).max(0.02 * after.0) + level.end.half_width.0 {
        return Err(format!("no rows for {:.3} s before it is to be read", (at - newest).0));
    }
    let line = m.voltage_at(rows.clone(), at).ok_or("no usable rows")?;
    let (current, current_deviation) = m.mean_current(rows.clone()).ok_or("no usable rows")?;
    // The moment itself is known as well as the edges are.
    let timing = line.slope.abs() * level.start.half_width.0.max(level.end.half_width.0) / 3f64.sqrt();
    let few = if line.used <= FEWEST_ROWS { line.slope.abs() * period.0 / 2.0 } else { 0.0 };
    let moment = Moment {
        voltage: Volts(line.value),
        voltage_deviation: Volts(line.value_deviation.hypot(timing).hypot(few)),
        degrees_of_freedom: line.degrees_of_freedom,
        current,
        current_deviation,
    };
    Ok(LevelReading { moment, after, rows })
}

/// Reads a level that has but one row besides its first: that row stands at the very end, but nothing vouches for it.
fn read_alone(
    m: &Measurement<'_>,
    level: &Segment,
    rows: Range<usize>,
    after: Seconds,
) -> Result<LevelReading, String> {
    let (Some(first), Some(only)) = (m.trace.points.get(level.first), m.trace.slice(rows.clone()).first())
    else {
        return Err("no usable rows".to_owned());
    };
    // Under a constant load the voltage falls; a last row above the first one belongs to the next level.
    if only.voltage > first.voltage {
        return Err(format!(
            "two rows in {:.2} s and they contradict each other; sample faster",
            level.duration().0
        ));
    }
    let between = (first.voltage - only.voltage).0 / 12f64.sqrt();
    let moment = Moment {
        voltage: only.voltage,
        voltage_deviation: Volts(between.hypot(m.voltage_noise.0)),
        degrees_of_freedom: f64::INFINITY,
        current: only.current,
        current_deviation: Amps(0.0),
    };
    Ok(LevelReading { moment, after, rows })
}

/// Refuses a level with rows missing, or with a voltage that jumps without the current; returns a smaller jump.
fn refuse_disturbed(
    m: &Measurement<'_>,
    index: usize,
    level: &Segment,
    drop: Volts,
) -> Result<Volts, String> {
    let body = m.body(index);
    let share = level.duration() * LONGEST_PAUSE;
    let pause = m.longest_pause(body.clone());
    if pause > share && pause > m.usual_period(index) * 4.0 {
        return Err(format!("no rows for {:.3} s in a load level of {:.2} s", pause.0, level.duration().0));
    }
    let span = level.duration() * JUMP_WITHIN;
    let from = (level.start.time + span).0.max(level.end.time.0 - LONGEST_LOOK.0);
    let settled = m.between(body, Seconds(from), level.end.time);
    m.refuse_jump(settled, drop, span)
}

/// Refuses a level whose voltage or current stands still to the last digit while the other level's moves.
fn refuse_clipped(m: &Measurement<'_>, index: usize) -> Result<(), String> {
    let (low, high) = (m.body(index), m.body(index + 1));
    let voltage: fn(&Point) -> f64 = |point| point.voltage.0;
    let current: fn(&Point) -> f64 = |point| point.current.0;
    for (name, of) in [("voltage", voltage), ("current", current)] {
        let distinct = |rows: Range<usize>| distinct(m.trace.slice(rows).iter().map(of));
        let (first, second) = (distinct(low.clone()), distinct(high.clone()));
        let (stuck, rows, moving) =
            if second == 1 { (second, high.len(), first) } else { (first, low.len(), second) };
        if stuck == 1 && rows >= CLIPPED_ROWS && moving >= MOVING_VALUES {
            return Err(format!(
                "the {name} reads the same to the last digit in all {rows} rows of one level and not in the other: \
                 the converter was at the end of its range or stuck"
            ));
        }
    }
    Ok(())
}

/// Counts different values, up to as many as tell that they move.
fn distinct(values: impl Iterator<Item = f64>) -> usize {
    let mut seen: Vec<f64> = Vec::new();
    for value in values {
        if !seen.contains(&value) {
            seen.push(value);
        }
        if seen.len() >= MOVING_VALUES {
            break;
        }
    }
    seen.len()
}

/// Returns how the levels deviate from the standard's.
fn deviations(
    m: &Measurement<'_>,
    low: &Segment,
    first: &LevelReading,
    second: &LevelReading,
) -> Vec<String> {
    let mut warnings = Vec::new();
    if [first, second].iter().any(|reading| reading.rows.len() == 1) {
        warnings.push("a level has only one usable row; the uncertainty is wide for that".to_owned());
    }
    let currents =
        [("first", first.moment.current, FIRST_SHARE), ("second", second.moment.current, SECOND_SHARE)];
    for (name, current, share) in currents {
        let found = current / m.unit_current();
        if (found / share - 1.0).abs() > SHARE_TOLERANCE {
            warnings.push(format!("{name} level is {found:.2} It where the standard has {share} It"));
        }
    }
    let edges = low.start.half_width.0 + low.end.half_width.0;
    if (low.duration() - FIRST_TIME).0.abs() > TIME_TOLERANCE * FIRST_TIME.0 + edges {
        warnings.push(format!("first level lasted {:.2} s where the standard has 10 s", low.duration().0));
    }
    if (second.after - SECOND_TIME).0.abs() > TIME_TOLERANCE * SECOND_TIME.0 {
        warnings
            .push(format!("second level was read after {:.2} s where the standard has 1 s", second.after.0));
    }
    warnings
}
