//! Rows of a discharge that are there twice to the last digit.
//!
//! Input: a measurement and the rows of a discharge; output: the longest stretch that repeats an earlier one. Every reading has its
//! noise, and a voltage under load falls, so some dozen readings in a row never come again by chance. That finds what was written
//! twice where the curve is so flat that no jump shows. Short windows are named by a rolling digest; where the digest itself says so
//! (so that it says the same of both copies), the window is looked up, and what agrees is compared row by row.

use super::measurement::Measurement;
use crate::si::{AmpHours, Seconds};
use crate::trace::{Point, Steps};
use std::collections::{BTreeSet, HashMap};
use std::ops::Range;

/// Rows of a window.
const WINDOW: usize = 8;
/// One window in so many is looked up, in long traces fewer.
const EVERY: u64 = 4;
const LONG: usize = 1_000_000;
const EVERY_OF_LONG: u64 = 64;
/// A stretch counts as repeated from so many bits of news on: by chance one in 10^19 does so, in 10^14 pairs of rows.
const LEAST_BITS: f64 = 64.0;
/// Multiplier of the rolling digest: odd and without a pattern (from the golden ratio).
const BASE: u64 = 0x9E37_79B9_7F4A_7C15;

/// A stretch that is there twice.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Repeat {
    /// When it was first written, and when again.
    pub(super) at: [Seconds; 2],
    /// How long it lasts.
    pub(super) lasts: Seconds,
    /// The charge of it.
    pub(super) charge: AmpHours,
}

/// Returns the longest stretch of a range that repeats an earlier one.
pub(super) fn repeat(m: &Measurement<'_>, rows: Range<usize>) -> Option<Repeat> {
    let points = m.trace.slice(rows.clone());
    let every = if points.len() > LONG { EVERY_OF_LONG } else { EVERY };
    let mut seen: HashMap<u64, usize> = HashMap::new();
    let mut longest: Option<(Range<usize>, usize)> = None;
    let mut passed = 0;
    for (start, digest) in digests(points) {
        if !(digest >> 32).is_multiple_of(every) || start < passed {
            continue;
        }
        let Some(before) = seen.get(&digest).copied() else {
            seen.insert(digest, start);
            continue;
        };
        let length = agreeing(points, before, start);
        let first = start - agreeing_before(points, before, start);
        if bits(points.get(first..start + length).unwrap_or(&[])) >= LEAST_BITS {
            passed = start + length;
            let found = first..passed;
            if longest.as_ref().is_none_or(|(known, _)| found.len() > known.len()) {
                longest = Some((found, before - (start - first)));
            }
        }
    }
    let (copy, first) = longest?;
    let time = |row: usize| points.get(row).map(|point| point.time);
    let charge = m.gather::<Steps>(rows.start + copy.start..rows.start + copy.end).charged();
    let (begin, end) = (time(copy.start)?, time(copy.end - 1)?);
    Some(Repeat { at: [time(first)?, begin], lasts: end - begin, charge })
}

/// What a row reads, mixed.
fn reading(point: &Point) -> u64 {
    let mixed = point.voltage.0.to_bits().rotate_left(32) ^ point.current.0.to_bits();
    (mixed ^ (mixed >> 29)).wrapping_mul(BASE)
}

/// Returns the digest of each window with its first row.
fn digests(points: &[Point]) -> impl Iterator<Item = (usize, u64)> {
    let drop = (0..WINDOW).fold(1u64, |power, _| power.wrapping_mul(BASE));
    let mut digest = 0u64;
    points.iter().enumerate().filter_map(move |(row, point)| {
        let old = row.checked_sub(WINDOW).and_then(|old| points.get(old)).map_or(0, reading);
        digest = digest.wrapping_mul(BASE).wrapping_add(reading(point)).wrapping_sub(old.wrapping_mul(drop));
        (row + 1).checked_sub(WINDOW).map(|start| (start, digest ^ (digest >> 31)))
    })
}

fn same(points: &[Point], one: usize, other: usize) -> bool {
    match (points.get(one), points.get(other)) {
        (Some(a), Some(b)) => a.voltage == b.voltage && a.current == b.current,
        _ => false,
    }
}

/// Rows from two places on that read the same.
fn agreeing(points: &[Point], before: usize, start: usize) -> usize {
    (0..start - before).take_while(|row| same(points, before + row, start + row)).count()
}

/// The same backwards.
fn agreeing_before(points: &[Point], before: usize, start: usize) -> usize {
    (1..=before.min(start - before - 1)).take_while(|row| same(points, before - row, start - row)).count()
}

/// What a stretch tells that could not be foreseen, in bits: each change of the voltage is one of as many values as there are.
fn bits(stretch: &[Point]) -> f64 {
    let changes = stretch.windows(2).filter(|two| matches!(two, [a, b] if a.voltage != b.voltage)).count();
    let values: BTreeSet<u64> = stretch.iter().map(|point| point.voltage.0.to_bits()).collect();
    changes as f64 * (values.len().max(1) as f64).log2()
}
