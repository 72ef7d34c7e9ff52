//! Where rows are missing: pauses many times longer than the steps of time around them.
//!
//! One answer for every estimate that counts charge. A pause is measured against what lies beside it and not against the
//! whole, because many recorders write fast after a step of the current and slowly later: what is slow on one side too is
//! a slower pace and no hole.

use crate::trace::{BLOCK_ROWS, Point, Points, ValueRange};
use std::ops::Range;

/// A pause this many times longer than the steps on both sides is a hole (judged).
const HOLE: f64 = 8.0;
/// Steps on each side that are asked: the shortest gives the pace, so a lone row between two holes hides neither.
const BESIDE: usize = 2;

/// Returns the two rows around each hole of a range of rows.
pub(super) fn holes(points: &Points, rows: Range<usize>) -> Vec<[Point; 2]> {
    let mut found = Vec::new();
    let mut before = ValueRange::NONE;
    // The block before the range tells the pace that its first steps are measured against.
    let looked_at = rows.start.saturating_sub(BLOCK_ROWS)..rows.end;
    for (block_rows, block) in points.blocks_touching(looked_at) {
        // The steps before one lie in its own block or the one before, so most blocks need no closer look.
        let shortest = block.steps.time.low.min(before.low);
        before = block.steps.time;
        if block.steps.time.high <= HOLE * shortest {
            continue;
        }
        let long = |after: &usize| step(points, *after).is_some_and(|step| step > HOLE * shortest);
        let inside = block_rows.filter(|after| *after > rows.start).filter(long);
        found
            .extend(inside.filter(|after| is_hole(points, *after)).filter_map(|after| around(points, after)));
    }
    found
}

/// Returns whether the step that ends with a row is a hole.
fn is_hole(points: &Points, after: usize) -> bool {
    let extent = |steps: Range<usize>| {
        let steps = steps.filter_map(|after| step(points, after));
        steps.fold(ValueRange::NONE, |all, step| all.join(ValueRange { low: step, high: step }))
    };
    let (earlier, later) =
        (extent(after.saturating_sub(BESIDE)..after), extent(after + 1..after + 1 + BESIDE));
    let beside = match [earlier, later].map(|side| side.low.is_finite()) {
        [true, true] => earlier.low.max(later.low),
        // Where the trace begins or ends, one side alone tells the pace: two slow rows there are a pace too.
        _ => earlier.high.max(later.high),
    };
    // Where time stands still on both sides only the rows of steps were kept: nothing tells the pace.
    beside > 0.0 && step(points, after).is_some_and(|step| step > HOLE * beside)
}

fn step(points: &Points, after: usize) -> Option<f64> {
    around(points, after).map(|[before, after]| (after.time - before.time).0)
}

fn around(points: &Points, after: usize) -> Option<[Point; 2]> {
    let before = after.checked_sub(1)?;
    Some([*points.get(before)?, *points.get(after)?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Amps, Seconds, Volts};
    use proptest::prelude::*;

    /// Rows that follow each other by these steps.
    fn by_steps(steps: &[f64]) -> Points {
        let mut time = 0.0;
        let times = std::iter::once(0.0).chain(steps.iter().map(|step| {
            time += step;
            time
        }));
        let point = |time| Point {
            time: Seconds(time),
            current: Amps(1.0),
            voltage: Volts(3.8),
            cell: None,
            ambient: None,
        };
        Points::new(times.map(point).collect())
    }

    /// How long the holes are that a range of rows has.
    fn found(steps: &[f64], rows: Range<usize>) -> Vec<f64> {
        holes(&by_steps(steps), rows).iter().map(|[before, after]| (after.time - before.time).0).collect()
    }

    fn all(steps: &[f64]) -> Vec<f64> {
        found(steps, 0..steps.len() + 1)
    }

    #[test]
    fn a_pause_is_a_hole_only_beyond_eight_times_the_pace_beside_it() {
        assert_eq!(all(&[1.0, 1.0, 8.0, 1.0, 1.0]), [0.0; 0]);
        assert_eq!(all(&[1.0, 1.0, 8.5, 1.0, 1.0]), [8.5]);
        assert_eq!(all(&[1.0, 1.0, 60.0, 60.0, 60.0]), [0.0; 0], "a slower pace");
        assert_eq!(all(&[60.0, 60.0, 1.0, 1.0, 1.0]), [0.0; 0], "a faster one");
        assert_eq!(all(&[0.0, 600.0, 0.0, 600.0, 0.0]), [0.0; 0], "only the rows of steps");
        assert_eq!(all(&[]), [0.0; 0]);
        assert_eq!(all(&[500.0]), [0.0; 0], "nothing beside it");
    }

    #[test]
    fn the_first_and_the_last_step_are_measured_against_the_side_they_have() {
        assert_eq!(all(&[500.0, 1.0, 1.0]), [500.0]);
        assert_eq!(all(&[1.0, 1.0, 500.0]), [500.0]);
    }

    #[test]
    fn a_lone_row_between_two_holes_hides_neither() {
        assert_eq!(all(&[1.0, 1.0, 100.0, 200.0, 1.0, 1.0]), [100.0, 200.0]);
    }

    #[test]
    fn a_hole_counts_only_where_both_its_rows_are_in_the_range() {
        let steps = [1.0, 1.0, 100.0, 1.0, 1.0];
        assert_eq!(found(&steps, 2..4), [100.0], "measured against what lies outside");
        assert_eq!(found(&steps, 3..6), [0.0; 0]);
        assert_eq!(found(&steps, 0..3), [0.0; 0]);
    }

    proptest! {
        /// Blocks that are passed over hold no hole, wherever the range begins and ends.
        #[test]
        fn every_hole_is_found_whatever_block_it_lies_in(
            steps in proptest::collection::vec(
                prop_oneof![8 => Just(1.0), 2 => Just(0.0), 1 => 0.1..20.0f64, 1 => Just(500.0)], 1..300),
            from in 0.0..1.0f64, to in 0.0..1.0f64,
        ) {
            let points = by_steps(&steps);
            let row = |share: f64| (share * points.len() as f64) as usize;
            let rows = row(from.min(to))..row(from.max(to));
            let one_by_one: Vec<[Point; 2]> = rows
                .clone()
                .skip(1)
                .filter(|after| is_hole(&points, *after))
                .filter_map(|after| around(&points, after))
                .collect();
            prop_assert_eq!(holes(&points, rows), one_by_one);
        }
    }
}
