//! Finds stretches in which a converter has stood still while it otherwise trembles.
//!
//! Every converter that resolves its own noise shows another code at most rows. Twenty or more rows that read the same
//! to the last digit are then no measurement but a register nobody filled. Input: points; output: those that remain, with
//! a note for what was left out: the hole that stays is then judged like any other. A trace without noise (a model's,
//! or one rounded coarsely) is left alone, since there nothing can be told.

use super::{NoteKind, Place, Point, TraceNote};
use crate::si::Amps;

/// Fewest equal rows in a row that are looked at.
const FEWEST: usize = 20;
/// The run must be so unlikely by chance, given how often neighbours are equal elsewhere.
const UNLIKELY: f64 = 1e-9;
/// A run this long is no chance even where nine of ten neighbours are equal (0.9 to the 200th is 7e-10).
const SURE: usize = 200;
/// Share of movements that turn round at once: two thirds for noise, none for a smooth curve however rounded.
const TREMBLING: f64 = 0.4;
/// A converter that resolves its noise moves by two codes at once in at least this share of its movements (one in eight
/// where the noise is half a code).
const SEVERAL_CODES: f64 = 1.5;
const SEVERAL_SHARE: f64 = 0.05;
/// Rows with less current than this count as resting here.
const RESTING: Amps = Amps(2e-3);

/// What one converter reads.
type Channel = fn(&Point) -> f64;

/// Leaves out all rows but the first of every frozen stretch;
/// `indices` tell what the points were before, for `place`.
pub(super) fn drop_frozen(
    points: Vec<Point>,
    indices: Vec<usize>,
    place: &impl Fn(usize) -> Place,
    notes: &mut Vec<TraceNote>,
) -> (Vec<Point>, Vec<usize>) {
    let mut frozen = vec![false; points.len()];
    let channels: [(&str, Channel); 2] =
        [("voltage", |point| point.voltage.0), ("current", |point| point.current.0)];
    for (name, of) in channels {
        for loaded in [false, true] {
            let belongs = |point: &Point| (point.current.abs() > RESTING) == loaded;
            let Some(longest) = longest_by_chance(&points, of, &belongs) else { continue };
            for (first, length) in equal_runs(&points, of, &belongs) {
                if length < longest {
                    continue;
                }
                frozen.iter_mut().skip(first + 1).take(length - 1).for_each(|row| *row = true);
                let at = indices.get(first).map_or(Place::Whole, |index| place(*index));
                let text = format!(
                    "the {name} reads the same in {length} rows though it has noise; they are left out"
                );
                notes.push(TraceNote::new(at, NoteKind::Frozen, text));
            }
        }
    }
    let remains = |row: &usize| frozen.get(*row) == Some(&false);
    let kept: Vec<usize> = (0..points.len()).filter(remains).collect();
    let select = |row: &usize| (points.get(*row).copied(), indices.get(*row).copied());
    kept.iter().map(select).filter_map(|(point, index)| Some((point?, index?))).unzip()
}

/// Returns the length from which a run of equal rows is no chance; `None` if the channel does not tremble.
fn longest_by_chance(points: &[Point], of: Channel, belongs: &impl Fn(&Point) -> bool) -> Option<usize> {
    let (mut pairs, mut equal, mut moving, mut turning) = (0usize, 0usize, 0usize, 0usize);
    let steps = || {
        points.windows(2).filter_map(|two| match two {
            [a, b] if belongs(a) && belongs(b) => Some((of(b) - of(a)).abs()).filter(|step| *step > 0.0),
            _ => None,
        })
    };
    let code = SEVERAL_CODES * steps().fold(f64::INFINITY, f64::min);
    // Flickering between two codes is a coarse converter at their border: anywhere else it stands still and is no fault.
    if (steps().filter(|step| *step > code).count() as f64) < SEVERAL_SHARE * steps().count() as f64 {
        return None;
    }
    for three in points.windows(3) {
        let [a, b, c] = three else { continue };
        if !(belongs(a) && belongs(b) && belongs(c)) {
            continue;
        }
        let (before, step) = (of(b) - of(a), of(c) - of(b));
        pairs += 1;
        equal += usize::from(step == 0.0);
        moving += usize::from(before != 0.0 && step != 0.0);
        turning += usize::from(before * step < 0.0);
    }
    // Runs this long are no chance at any noise; counting them would hide a converter that stood still most of the time.
    let surely: usize =
        equal_runs(points, of, belongs).map(|(_, length)| length).filter(|length| *length >= SURE).sum();
    let (pairs, equal) = (pairs.saturating_sub(surely), equal.saturating_sub(surely));
    if moving < FEWEST || (turning as f64) < TREMBLING * moving as f64 || equal * 2 > pairs {
        return None;
    }
    let share = equal as f64 / pairs.max(1) as f64;
    let by_chance = if share > 0.0 { (UNLIKELY.ln() / share.ln()).ceil() as usize } else { 0 };
    Some(by_chance.max(FEWEST))
}

/// Returns first row and length of every run of at least [`FEWEST`] equal readings.
fn equal_runs<'a>(
    points: &'a [Point],
    of: Channel,
    belongs: &'a impl Fn(&Point) -> bool,
) -> impl Iterator<Item = (usize, usize)> + 'a {
    let mut next = 0;
    points.chunk_by(move |a, b| of(a) == of(b) && belongs(a) == belongs(b)).filter_map(move |run| {
        let first = next;
        next += run.len();
        (run.len() >= FEWEST && run.first().is_some_and(belongs)).then_some((first, run.len()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::si::{Seconds, Volts};

    /// A load of 1 A at 1 kHz whose voltage falls by 1 mV/s, with codes of 0.2 mV and some noise.
    fn load(noise: f64) -> Vec<Point> {
        let random = |row: usize| ((row as f64 * 12.9898).sin() * 43_758.545_3).fract() * noise;
        let voltage = |row: usize| ((3.7 - 1e-6 * row as f64 + random(row)) / 2e-4).round() * 2e-4;
        let point = |row: usize| Point {
            time: Seconds(row as f64 * 1e-3),
            current: Amps(1.0),
            voltage: Volts(voltage(row)),
            cell: None,
            ambient: None,
        };
        (0..2000).map(point).collect()
    }

    fn remaining(points: Vec<Point>) -> (usize, Vec<TraceNote>) {
        let mut notes = Vec::new();
        let indices = (0..points.len()).collect();
        let (kept, _) = drop_frozen(points, indices, &|row| Place::Line(row as u64), &mut notes);
        (kept.len(), notes)
    }

    #[test]
    fn a_converter_that_stands_still_is_left_out_and_named() {
        let mut points = load(6e-4);
        let stuck = points[500].voltage;
        points[500..800].iter_mut().for_each(|point| point.voltage = stuck);
        let (kept, notes) = remaining(points);
        // The run may begin or end with a row that happens to read the same.
        assert!((1699..=1702).contains(&kept), "{kept} {notes:?}");
        assert!(
            matches!(notes[0].place, Place::Line(499..=500)) && notes[0].kind == NoteKind::Frozen,
            "{notes:?}"
        );
    }

    #[test]
    fn a_converter_that_stands_still_most_of_the_time_is_found_too() {
        let mut points = load(6e-4);
        let stuck = points[500].voltage;
        points[500..1900].iter_mut().for_each(|point| point.voltage = stuck);
        assert!(remaining(points).0 < 620);
    }

    #[test]
    fn noise_alone_leaves_nothing_out() {
        assert_eq!(remaining(load(6e-4)), (2000, Vec::new()));
    }

    #[test]
    fn readings_without_noise_are_left_alone_however_coarse() {
        assert_eq!(remaining(load(0.0)).0, 2000);
    }

    #[test]
    fn a_coarse_converter_that_flickers_in_one_place_is_left_alone() {
        let mut points = load(0.0);
        let random = |row: usize| ((row as f64 * 12.9898).sin() * 43_758.545_3).fract();
        for (row, point) in points.iter_mut().enumerate() {
            let voltage = if row < 1000 { 3.70 } else { 3.65 } + 1e-3 * random(row);
            point.voltage = Volts((voltage * 10.0).round() / 10.0);
        }
        assert!(points[1000..].windows(2).any(|two| two[0].voltage != two[1].voltage));
        assert_eq!(remaining(points).0, 2000);
    }

    #[test]
    fn a_curve_that_settles_is_left_alone() {
        let mut points = load(0.0);
        for (row, point) in points.iter_mut().enumerate() {
            point.voltage = Volts(((3.7 - 0.05 * (-(row as f64) / 300.0).exp()) * 1e4).round() / 1e4);
        }
        assert_eq!(remaining(points).0, 2000);
    }
}
