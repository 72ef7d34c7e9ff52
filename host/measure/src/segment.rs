//! Cuts a trace into stretches of constant current: rest, load, charge.
//!
//! Input: a [`Trace`]; output: [`Segment`]s in order. A stretch goes on while the current stays within a tolerance of its
//! own first rows: the largest of 2 % of the level, six standard deviations of the current's noise around that place,
//! and half the rest limit. A wild row off the level is passed over; a row or two that belong to no level (a sample taken
//! while the current stepped) are in no segment.

mod stretch;

use crate::nameplate::Nameplate;
use crate::si::{Amps, Seconds};
use crate::trace::Trace;
use stretch::{BRIDGED_ROWS, Levels, Stretch};

/// Smallest current that counts as a load: 2 mA is ten times what converters of this class are off at zero.
const SMALLEST_LOAD: Amps = Amps(2e-3);
/// The same as a share of It: 0.005 It empties a cell in 200 h and drops about a millivolt over its resistance.
const SMALLEST_LOAD_SHARE: f64 = 0.005;

/// What the current does in a segment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// No current worth the name.
    Rest,
    /// The cell is discharged.
    Load,
    /// The cell is charged.
    Charge,
}

/// The moment between two segments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Best guess of it.
    pub time: Seconds,
    /// It is not further than this from the guess.
    pub half_width: Seconds,
    /// Whether the current steps here; `false` where the trace begins or ends, or rows are missing.
    pub is_step: bool,
}

/// A stretch of constant current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// What it is.
    pub kind: Kind,
    /// Index of its first point in the trace.
    pub first: usize,
    /// Index of its last point.
    pub last: usize,
    /// Mean current.
    pub current: Amps,
    /// When it began.
    pub start: Edge,
    /// When it ended.
    pub end: Edge,
}

impl Segment {
    /// Returns how long it lasted.
    pub fn duration(&self) -> Seconds {
        self.end.time - self.start.time
    }
}

/// Returns the current below which a cell is at rest.
pub fn rest_limit(nameplate: Option<&Nameplate>) -> Amps {
    let share = nameplate.map_or(0.0, |nameplate| nameplate.rated_capacity_ah * SMALLEST_LOAD_SHARE);
    Amps(share.max(SMALLEST_LOAD.0))
}

/// Cuts a trace into segments; without a nameplate the rest limit does not scale with the cell.
pub fn segments(trace: &Trace, nameplate: Option<&Nameplate>) -> Vec<Segment> {
    let rest_limit = rest_limit(nameplate);
    let mut levels = Levels { points: &trace.points, rest_limit, noise: Vec::new() };
    let mut stretches: Vec<Stretch> = Vec::new();
    let mut index = 0;
    while index < trace.points.len() {
        let stretch = Stretch::grow(&mut levels, index);
        index = stretch.last + 1;
        if stretch.rows < 2 {
            continue; // a single row is not a level
        }
        match stretches.last_mut() {
            Some(before)
                if stretch.first - before.last <= BRIDGED_ROWS + 1
                    && levels.is_same(stretch.first, stretch.mean(), before.mean()) =>
            {
                before.join(&stretch);
            }
            _ => stretches.push(stretch),
        }
    }
    finish(trace, &stretches, rest_limit)
}

/// Gives the stretches their kinds and their edges.
fn finish(trace: &Trace, stretches: &[Stretch], rest_limit: Amps) -> Vec<Segment> {
    let time = |index: usize| trace.points.get(index).map_or(Seconds(0.0), |point| point.time);
    let open = |index: usize| Edge { time: time(index), half_width: Seconds(0.0), is_step: false };
    let mut segments: Vec<Segment> = Vec::with_capacity(stretches.len());
    for stretch in stretches {
        let mean = Amps(stretch.mean());
        let kind = match mean {
            mean if mean.abs() <= rest_limit => Kind::Rest,
            mean if mean.0 > 0.0 => Kind::Load,
            _ => Kind::Charge,
        };
        let mut start = open(stretch.first);
        if let Some(before) = segments.last_mut() {
            start = edge(trace, time(before.last), time(stretch.first));
            before.end = start;
        }
        let (first, last) = (stretch.first, stretch.last);
        segments.push(Segment { kind, first, last, current: mean, start, end: open(last) });
    }
    segments
}

/// Returns the edge between the last row of one level and the first of the next.
///
/// The fixture tells when it changed the set point; else the edge is known as well as the rows lie close together.
fn edge(trace: &Trace, before: Seconds, after: Seconds) -> Edge {
    let told = trace.run.iter().flat_map(|run| &run.steps).filter_map(|step| step.started);
    // A row taken between the word of the step and the current that follows it still shows the old level.
    let told = told.into_iter().find(|started| *started >= before - SET_POINT_LAG && *started <= after);
    let half_width = (after - before + trace.clock_step) / 2.0;
    match told.map(|started| Seconds(started.0.max(before.0))) {
        Some(time) => Edge { time, half_width: Seconds(SET_POINT_LAG.0.min(half_width.0)), is_step: true },
        None => Edge { time: before + (after - before) / 2.0, half_width, is_step: true },
    }
}

/// The current follows the set point within a bus write and the sink's settling time.
const SET_POINT_LAG: Seconds = Seconds(1e-3);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::Volts;
    use crate::trace::Point;
    use crate::trace::{Place, RunRecord, Source, StepRecord};

    /// Rows of `(time, current)` as a trace.
    fn trace(rows: &[(f64, f64)]) -> Trace {
        let points = rows.iter().map(|(time, current)| Point {
            time: Seconds(*time),
            current: Amps(*current),
            voltage: Volts(3.8),
            cell: None,
            ambient: None,
        });
        Trace::from_points(points.collect(), |_| Place::Whole, Source::Fixture, Vec::new()).0
    }

    /// Levels of `(current, rows)` at 10 Hz.
    fn levels(levels: &[(f64, usize)]) -> Vec<(f64, f64)> {
        let currents = levels.iter().flat_map(|(current, rows)| std::iter::repeat_n(*current, *rows));
        currents.enumerate().map(|(row, current)| (row as f64 * 0.1, current)).collect()
    }

    fn cut(trace: &Trace) -> Vec<Segment> {
        segments(trace, None)
    }

    fn kinds(rows: &[(f64, f64)]) -> Vec<(Kind, f64)> {
        cut(&trace(rows)).iter().map(|s| (s.kind, (s.current.0 * 1e6).round() / 1e6)).collect()
    }

    #[test]
    fn rest_load_and_charge_are_told_apart() {
        let rows = levels(&[(0.0, 20), (0.5, 20), (2.5, 10), (0.001, 20), (-1.0, 20)]);
        let expected = [
            (Kind::Rest, 0.0),
            (Kind::Load, 0.5),
            (Kind::Load, 2.5),
            (Kind::Rest, 0.001),
            (Kind::Charge, -1.0),
        ];
        assert_eq!(kinds(&rows), expected);
    }

    #[test]
    fn a_row_taken_while_the_current_stepped_is_in_no_segment() {
        let rows = levels(&[(0.0, 20), (0.7, 1), (1.0, 20)]);
        let found = cut(&trace(&rows));
        assert_eq!(found.len(), 2);
        assert_eq!((found[0].last, found[1].first), (19, 21));
        approx::assert_relative_eq!(found[1].start.time.0, 2.0, epsilon = 1e-9);
        approx::assert_relative_eq!(found[1].start.half_width.0, 0.1, epsilon = 1e-9);
    }

    #[test]
    fn one_wild_row_does_not_part_a_level() {
        let mut rows = levels(&[(0.0, 20), (1.0, 40)]);
        rows[35].1 = 0.2;
        assert_eq!(kinds(&rows).len(), 2);
    }

    #[test]
    fn two_rows_of_one_time_make_a_sharp_edge() {
        let found = cut(&trace(&[(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (3.0, 1.0), (4.0, 1.0)]));
        assert_eq!((found[1].start.time, found[1].start.half_width), (Seconds(2.0), Seconds(0.0)));
        assert!(found[1].start.is_step && !found[1].end.is_step);
    }

    #[test]
    fn the_fixtures_own_step_time_is_used_where_it_fits() {
        let mut trace = trace(&levels(&[(0.0, 20), (1.0, 20)]));
        let step = StepRecord { started: Some(Seconds(1.93)), ..StepRecord::default() };
        trace.run = Some(RunRecord { steps: vec![step], ..RunRecord::default() });
        let edge = cut(&trace)[1].start;
        assert_eq!((edge.time, edge.half_width), (Seconds(1.93), SET_POINT_LAG));
    }

    #[test]
    fn a_last_row_of_the_old_level_just_after_the_fixtures_word_does_not_make_the_edge_vague() {
        // Rows every 0.1 s; the word comes 0.4 ms before the last row of the old level, which lies at 1.9 s.
        let mut trace = trace(&levels(&[(0.0, 20), (1.0, 20)]));
        let last = trace.points[19].time;
        let step = StepRecord { started: Some(last - Seconds(0.4e-3)), ..StepRecord::default() };
        trace.run = Some(RunRecord { steps: vec![step], ..RunRecord::default() });
        let edge = cut(&trace)[1].start;
        assert_eq!((edge.time, edge.half_width), (last, SET_POINT_LAG));
    }

    #[test]
    fn noise_does_not_part_a_level_and_a_small_step_in_it_still_does() {
        let noise = |row: usize| 2e-3 * ((row * 7919 % 101) as f64 / 50.0 - 1.0);
        let mut rows = levels(&[(0.0, 200), (0.1, 200), (0.15, 200)]);
        rows.iter_mut().enumerate().for_each(|(row, point)| point.1 += noise(row));
        let found: Vec<Kind> = kinds(&rows).iter().map(|(kind, _)| *kind).collect();
        assert_eq!(found, [Kind::Rest, Kind::Load, Kind::Load]);
    }

    #[test]
    fn nothing_gives_nothing() {
        assert_eq!(cut(&trace(&[])), Vec::new());
        assert_eq!(cut(&trace(&[(0.0, 1.0)])), Vec::new());
    }
}
