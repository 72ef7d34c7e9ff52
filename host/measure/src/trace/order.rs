//! Puts points in order of time and says which ones could not be.
//!
//! Input: points as they were written; output: points whose times never fall, and notes. Rules, in this order:
//! * Two rows of one time are legal: that is how a current step is written.
//! * Up to [`FEW`] rows in a row whose time falls back (or jumped ahead and came back) are left out, the rest is kept.
//! * Where more rows fall back, the order of what follows is unknown: everything from there on is left out.
//! * A clock that stands still for three rows or more while it otherwise runs is believed only for its first row.
//! * A clock that stands still again and again is a coarse clock: its rows are kept and its step is noted.
//!
//! Then rows of a frozen converter are left out (`frozen`), and what is missing is noted as gaps.

use super::frozen::drop_frozen;
use super::{NoteKind, Place, Point, TraceNote};
use crate::si::Seconds;

/// Most consecutive rows that are taken for a jump of the clock and not for another order.
const FEW: usize = 3;
/// Share of rows with a repeated time above which the clock is called coarse.
const COARSE: f64 = 0.2;
/// A pause this many times longer than the usual distances before and after it is a gap.
const GAP: f64 = 8.0;
/// Rows on either side that give the usual distance.
const NEIGHBOURS: usize = 5;
/// Notes of one kind that are written out one by one; the rest is summed up.
const MOST_NOTES: usize = 5;

/// Points in order of time.
#[derive(Clone, Debug, PartialEq)]
pub struct Ordered {
    /// The points that remain.
    pub points: Vec<Point>,
    /// Places at which time ran backwards or stood still wrongly.
    pub faults: usize,
    /// Step of a coarse clock, else zero.
    pub clock_step: Seconds,
}

/// Puts points in order; `place` says where the point with a given index came from.
pub fn put_in_order(
    points: Vec<Point>,
    place: impl Fn(usize) -> Place,
    notes: &mut Vec<TraceNote>,
) -> Ordered {
    let (kept, backwards) = drop_backwards(&points, &place, notes);
    let clock_step = coarse_clock(&points, &kept);
    let (kept, stuck) = if clock_step.0 > 0.0 {
        notes.push(TraceNote::new(
            Place::Whole,
            NoteKind::TimeRepeats,
            format!(
                "the clock only steps by {} s, slower than the rows; times are uncertain by that much",
                clock_step.0
            ),
        ));
        (kept, 0)
    } else {
        drop_stuck(&points, kept, &place, notes)
    };
    let believed = kept.iter().filter_map(|index| points.get(*index)).copied().collect();
    let (believed, kept) = drop_frozen(believed, kept, &place, notes);
    note_gaps(&points, &kept, &place, notes);
    Ordered { points: believed, faults: backwards + stuck, clock_step }
}

/// Leaves out what runs backwards; gives indices of the rest and the number of places.
fn drop_backwards(
    points: &[Point],
    place: &impl Fn(usize) -> Place,
    notes: &mut Vec<TraceNote>,
) -> (Vec<usize>, usize) {
    let time = |index: usize| points.get(index).map_or(f64::NAN, |point| point.time.0);
    let mut kept: Vec<usize> = Vec::with_capacity(points.len());
    let mut faults = 0;
    let mut index = 0;
    while index < points.len() {
        let last = kept.last().map_or(f64::NEG_INFINITY, |last| time(*last));
        if time(index) >= last {
            kept.push(index);
            index += 1;
            continue;
        }
        faults += 1;
        // Either these rows fell back, or the few before them had jumped ahead: whichever costs fewer rows.
        let fallen = points.iter().skip(index).take(FEW + 1).take_while(|point| point.time.0 < last).count();
        let ahead = (1..=FEW.min(kept.len()))
            .find(|back| kept.iter().rev().nth(*back).is_none_or(|before| time(*before) <= time(index)));
        let told = format!("time runs backwards from {last} s to {} s", time(index));
        match ahead {
            Some(ahead) if ahead < fallen => {
                let jumped = kept.split_off(kept.len() - ahead);
                notes.push(TraceNote::new(
                    place(jumped.first().copied().unwrap_or(index)),
                    NoteKind::TimeBackwards,
                    format!("{told} after a jump ahead; {} left out", rows(ahead)),
                ));
            }
            _ if fallen <= FEW => {
                notes.push(TraceNote::new(
                    place(index),
                    NoteKind::TimeBackwards,
                    format!("{told}; {} left out", rows(fallen)),
                ));
                index += fallen;
            }
            _ => {
                notes.push(TraceNote::new(
                    place(index),
                    NoteKind::TimeBackwards,
                    format!(
                        "{told} and stays behind; this and everything after it, {}, is left out of all estimates",
                        rows(points.len() - index)
                    ),
                ));
                break;
            }
        }
    }
    (kept, faults)
}

/// Returns the step of a clock too coarse for its rows, or zero.
fn coarse_clock(points: &[Point], kept: &[usize]) -> Seconds {
    let times: Vec<f64> =
        kept.iter().filter_map(|index| points.get(*index)).map(|point| point.time.0).collect();
    let third_repeats = times.windows(3).filter(|three| matches!(three, [a, _, c] if a == c)).count();
    if times.len() < 10 || (third_repeats as f64) < COARSE * times.len() as f64 {
        return Seconds(0.0);
    }
    let steps = times.windows(2).filter_map(|two| match two {
        [a, b] if b > a => Some(b - a),
        _ => None,
    });
    let smallest = steps.fold(f64::INFINITY, f64::min);
    Seconds(if smallest.is_finite() { smallest } else { 0.0 })
}

/// Leaves out all but the first row of three or more that carry one time.
fn drop_stuck(
    points: &[Point],
    kept: Vec<usize>,
    place: &impl Fn(usize) -> Place,
    notes: &mut Vec<TraceNote>,
) -> (Vec<usize>, usize) {
    let same = |a: &usize, b: &usize| matches!((points.get(*a), points.get(*b)), (Some(a), Some(b)) if a.time == b.time);
    let mut remain = Vec::with_capacity(kept.len());
    let mut faults = 0;
    for run in kept.chunk_by(same) {
        match run {
            [first, .., last] if run.len() > 2 => {
                faults += 1;
                if faults <= MOST_NOTES {
                    notes.push(TraceNote::new(
                        place(*first),
                        NoteKind::TimeRepeats,
                        format!(
                            "{} carry one time; only the first is used (up to {})",
                            rows(run.len()),
                            place(*last)
                        ),
                    ));
                }
                remain.push(*first);
            }
            _ => remain.extend_from_slice(run),
        }
    }
    if faults > MOST_NOTES {
        let text = format!("the same at {} more places", faults - MOST_NOTES);
        notes.push(TraceNote::new(Place::Whole, NoteKind::TimeRepeats, text));
    }
    (remain, faults)
}

/// Notes pauses that are far longer than the distances around them.
fn note_gaps(points: &[Point], kept: &[usize], place: &impl Fn(usize) -> Place, notes: &mut Vec<TraceNote>) {
    let times: Vec<f64> =
        kept.iter().filter_map(|index| points.get(*index)).map(|point| point.time.0).collect();
    let steps: Vec<f64> = times.windows(2).map(|two| if let [a, b] = two { b - a } else { 0.0 }).collect();
    let usual = |range: &[f64]| {
        let mut some: Vec<f64> = range.iter().copied().filter(|step| *step > 0.0).collect();
        some.sort_by(f64::total_cmp);
        some.get(some.len() / 2).copied()
    };
    let mut gaps = 0;
    for (index, step) in steps.iter().enumerate() {
        let beside = |index: Option<usize>| index.and_then(|index| steps.get(index)).copied().unwrap_or(0.0);
        if *step <= GAP * beside(index.checked_sub(1)).max(beside(index.checked_add(1))) {
            continue; // what is no gap against the next row needs no closer look
        }
        let before = usual(steps.get(index.saturating_sub(NEIGHBOURS)..index).unwrap_or(&[]));
        let after = usual(steps.get(index + 1..(index + 1 + NEIGHBOURS).min(steps.len())).unwrap_or(&[]));
        let (Some(before), Some(after)) = (before, after) else { continue };
        if *step <= GAP * before.max(after) {
            continue;
        }
        gaps += 1;
        if let (true, Some(origin), Some(from)) = (gaps <= MOST_NOTES, kept.get(index + 1), times.get(index))
        {
            let text = format!("no rows for {step:.3} s from {from:.3} s on");
            notes.push(TraceNote::new(place(*origin), NoteKind::Gap, text));
        }
    }
    if gaps > MOST_NOTES {
        notes.push(TraceNote::new(Place::Whole, NoteKind::Gap, format!("{} more gaps", gaps - MOST_NOTES)));
    }
}

fn rows(count: usize) -> String {
    if count == 1 { "1 row".to_owned() } else { format!("{count} rows") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Amps, Volts};
    use proptest::prelude::*;

    fn ordered(times: &[f64]) -> (Vec<f64>, Vec<TraceNote>, Ordered) {
        let points = times
            .iter()
            .map(|time| Point {
                time: Seconds(*time),
                current: Amps(0.0),
                voltage: Volts(3.8),
                cell: None,
                ambient: None,
            })
            .collect();
        let mut notes = Vec::new();
        let result = put_in_order(points, |index| Place::Line(index as u64 + 2), &mut notes);
        (result.points.iter().map(|point| point.time.0).collect(), notes, result)
    }

    #[test]
    fn good_times_pass_untouched_and_two_rows_may_share_one() {
        let times = [0.0, 1.0, 2.0, 2.0, 3.0, 4.0];
        let (kept, notes, result) = ordered(&times);
        assert_eq!(kept, times);
        assert_eq!((notes.len(), result.faults), (0, 0));
    }

    #[test]
    fn one_row_that_falls_back_is_left_out_and_named() {
        let (kept, notes, result) = ordered(&[0.0, 1.0, 2.0, 0.5, 3.0, 4.0]);
        assert_eq!(kept, [0.0, 1.0, 2.0, 3.0, 4.0]);
        assert_eq!(result.faults, 1);
        assert_eq!(notes[0].place, Place::Line(5));
        assert!(notes[0].text.contains("from 2 s to 0.5 s"), "{}", notes[0].text);
    }

    #[test]
    fn one_row_that_jumps_ahead_is_left_out_and_not_the_rest() {
        let (kept, notes, _) = ordered(&[0.0, 1.0, 2.0, 1e6, 3.0, 4.0, 5.0, 6.0, 7.0]);
        assert_eq!(kept, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]);
        assert_eq!(notes[0].place, Place::Line(5));
    }

    #[test]
    fn a_clock_that_starts_again_ends_the_trace_there() {
        let mut times: Vec<f64> = (0..20).map(f64::from).collect();
        times.extend((0..40).map(f64::from));
        let (kept, notes, _) = ordered(&times);
        assert_eq!(kept.len(), 20);
        assert_eq!(notes[0].place, Place::Line(22));
        assert!(notes[0].text.contains("40 rows"), "{}", notes[0].text);
        assert!(notes[0].concerns_every_estimate());
    }

    #[test]
    fn a_clock_that_stands_still_is_believed_once() {
        let times = [0.0, 1.0, 2.0, 2.0, 2.0, 2.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0];
        let (kept, notes, result) = ordered(&times);
        assert_eq!(kept[..5], [0.0, 1.0, 2.0, 6.0, 7.0]);
        assert_eq!(result.faults, 1);
        assert_eq!(notes[0].kind, NoteKind::TimeRepeats);
    }

    #[test]
    fn a_clock_in_whole_seconds_is_called_coarse_and_keeps_its_rows() {
        let times: Vec<f64> = (0..100).map(|row| f64::from(row / 10)).collect();
        let (kept, notes, result) = ordered(&times);
        assert_eq!(kept.len(), 100);
        assert_eq!(result.clock_step, Seconds(1.0));
        assert_eq!(notes.len(), 1);
    }

    #[test]
    fn a_gap_is_noted_and_a_slower_sampling_is_not() {
        let mut times: Vec<f64> = (0..20).map(f64::from).collect();
        times.extend((50..70).map(f64::from));
        times.extend((1..9).map(|row| 70.0 + 60.0 * f64::from(row)));
        let (_, notes, _) = ordered(&times);
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert_eq!((notes[0].kind, notes[0].place), (NoteKind::Gap, Place::Line(22)));
    }

    proptest! {
        #[test]
        fn whatever_comes_in_times_never_fall_and_losses_are_noted(
            times in proptest::collection::vec(prop_oneof![0.0..50.0f64, Just(1.0), Just(1e9)], 0..80)
        ) {
            let (kept, notes, _) = ordered(&times);
            prop_assert!(kept.windows(2).all(|two| two[0] <= two[1]));
            prop_assert!(kept.len() == times.len() || !notes.is_empty());
        }
    }
}
