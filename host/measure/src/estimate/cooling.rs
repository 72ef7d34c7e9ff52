//! Whether a cell that rests above the air cools towards it, as one without a source of heat does.
//!
//! Input: a rest's temperatures of cell and air; output: whether the cell falls towards the air, `None` where that cannot be
//! told. A body without a source of heat follows C dT/dt = -(T - T_air)/R: above the air its own temperature falls, and its
//! rise at least as fast as rise over the slowest time constant. A source keeps part of the rise. Medians of three parts of
//! the rest's end are compared, so that neither noise nor single wild readings nor the bend of the fall matter: from the
//! first part to the last the rise must fall fast enough beyond the doubt of the medians, and from the second one on nothing
//! may speak against it.

use super::measurement::{MEDIAN_SIZE, Measurement};
use super::median::median;
use super::noise::SECOND_DIFFERENCE;
use crate::trace::left_by_rounding;
use std::ops::Range;

/// The end of a rest that tells what the cell does now, in s (our choice: a cell of 20 g falls by a third in it).
const WINDOW_S: f64 = 600.0;
/// Less than this cannot be told from a thermometer that is still taking on a temperature, in s (judged).
const SHORTEST_S: f64 = 120.0;
/// Slowest time constant with which a cell without a source of heat cools, in s: cells of 5 to 70 g in still air take 3 to
/// 44 min (0.9 to 1.0 J/(g K), 5 to 12 W/(m2 K)), on a jig longer (judged).
pub(super) const SLOWEST_S: f64 = 3600.0;
/// Two whole thermometers may differ by this much, in K (the limit of one with its contact, `hardware-notes/error_budget.toml`).
const APART_K: f64 = 0.3;
/// How far a thermometer and its contact wander within minutes, standard uncertainty in K (judged).
const WANDER_K: f64 = 0.02;
/// Standard uncertainties that a movement must exceed.
const CLEAR: f64 = 2.0;
/// Fewest readings of a part: of three one may be wild.
const FEWEST: usize = 3;
/// Standard uncertainty of a median over that of a mean, of normal numbers.
const MEDIAN_WIDER: f64 = 1.2533;

/// Smaller changes are rounding of the arithmetic, in K.
const NOTHING_K: f64 = 1e-9;

/// Cell and rise at one moment.
struct Reading {
    at_s: f64,
    cell_c: f64,
    rise_k: f64,
}

/// A median of a part of the rest.
#[derive(Clone, Copy)]
struct Level {
    at_s: f64,
    value: f64,
    deviation: f64,
}

impl Level {
    fn of(part: &[Reading], value: impl Fn(&Reading) -> f64, scatter: f64) -> Option<Self> {
        if part.len() < FEWEST {
            return None;
        }
        // Of an even number the mean of both middle ones, from above and below: else a fall would shift it.
        let middle = |of: &dyn Fn(&Reading) -> f64| {
            let upper = median(part.iter().map(of).collect());
            (upper - median(part.iter().map(|reading| -of(reading)).collect())) / 2.0
        };
        let deviation = MEDIAN_WIDER * scatter / (part.len() as f64).sqrt();
        Some(Self { at_s: middle(&|reading| reading.at_s), value: middle(&value), deviation })
    }

    /// Returns whether the value falls from here to a later level by more than a fall; `None` within the doubt of both.
    fn falls_to(self, later: Self, least: f64) -> Option<bool> {
        let doubt = CLEAR * self.deviation.hypot(later.deviation).hypot(WANDER_K);
        let beyond = self.value - later.value - least;
        (beyond.abs() > doubt).then_some(beyond > 0.0)
    }
}

/// Returns whether a cell that rests above the air cools as one without a source of heat; `None` where that cannot be told.
pub(super) fn cools(m: &Measurement<'_>, rows: Range<usize>) -> Option<bool> {
    let reading = |row: &crate::trace::Point| {
        Some(Reading { at_s: row.time.0, cell_c: row.cell?.0, rise_k: row.rise()?.0 })
    };
    let all: Vec<Reading> = m.trace.slice(rows).iter().filter_map(reading).collect();
    let (first, last) = (all.first()?, all.last()?);
    if last.at_s - first.at_s < SHORTEST_S {
        return None;
    }
    let own = |reading: &Reading| reading.cell_c;
    let rise = |reading: &Reading| reading.rise_k;
    let own_scatter = scatter(&all, own);
    let rise_scatter = scatter(&all, rise);
    let begin = first.at_s.max(last.at_s - WINDOW_S);
    let third = (last.at_s - begin) / 3.0;
    let from = |at_s: f64| all.partition_point(|reading| reading.at_s < at_s);
    let bounds = [from(begin), from(begin + third), from(begin + 2.0 * third), all.len()];
    let part = |index: usize| all.get(*bounds.get(index)?..*bounds.get(index + 1)?);
    let rises = [0, 1, 2].map(|index| Level::of(part(index)?, rise, rise_scatter));
    let [Some(early), Some(middle), Some(late)] = rises else { return None };
    // What has come back to the air need not fall any more, but it must have fallen by itself.
    let least_per_s = (late.value - APART_K).max(0.0) / SLOWEST_S;
    let least = |from: Level| least_per_s * (late.at_s - from.at_s);
    let (own_begin, own_end) = if least_per_s > 0.0 {
        (Level::of(part(0)?, own, own_scatter)?, Level::of(part(2)?, own, own_scatter)?)
    } else {
        let whole = from(first.at_s + (last.at_s - first.at_s) / 3.0);
        (Level::of(all.get(..whole)?, own, own_scatter)?, Level::of(part(2)?, own, own_scatter)?)
    };
    let own_falls = own_begin.falls_to(own_end, 0.0);
    if least_per_s == 0.0 {
        return own_falls;
    }
    let [since_early, since_middle] = [early, middle].map(|from| from.falls_to(late, least(from)));
    match [own_falls, since_early, since_middle].contains(&Some(false)) {
        true => Some(false),
        // The later part alone is short: it may only speak against it.
        false => own_falls.and(since_early),
    }
}

/// Returns the scatter of one reading, by second differences, which are blind to slow change; with what a thermometer's step
/// hides.
fn scatter(all: &[Reading], value: impl Fn(&Reading) -> f64) -> f64 {
    let three = |of: &[Reading]| match of {
        [a, b, c] => (value(a) - 2.0 * value(b) + value(c)).abs(),
        _ => 0.0,
    };
    let scatter = median(all.windows(3).map(three).collect()) / MEDIAN_SIZE / SECOND_DIFFERENCE;
    let steps = all.windows(2).map(|two| if let [a, b] = two { (value(b) - value(a)).abs() } else { 0.0 });
    let step = steps.filter(|step| *step > NOTHING_K).fold(f64::INFINITY, f64::min);
    scatter.hypot(left_by_rounding(if step.is_finite() { step } else { 0.0 }, scatter))
}
