//! The largest pulse of a trace as it is drawn: voltage from the end of the rest before it to its end, thinned for the eye.
//!
//! Decides nothing and estimates nothing: the resistances read of it are the estimates'.

use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::segment::{Kind, Segment, segments};
use celltriage_measure::si::Seconds;
use celltriage_measure::trace::{Point, Trace};

/// Rest that is shown before the pulse, and load of a long discharge that is shown, in s.
const BEFORE: f64 = 1.0;
const MOST: f64 = 12.0;
/// Parts of time of which the lowest and the highest voltage are kept: more than a printed page tells apart.
const PARTS: usize = 400;

/// A pulse.
#[derive(Clone, Debug, PartialEq)]
pub struct PulseCurve {
    /// Its current in A; positive discharges.
    pub current_a: f64,
    /// Seconds since the current rose, and volts.
    pub points: Vec<[f64; 2]>,
}

impl PulseCurve {
    /// Finds the load that rises highest from a rest; `None` where there is none.
    pub fn of(trace: &Trace, nameplate: &Nameplate) -> Option<Self> {
        let segments = segments(trace, Some(nameplate));
        let after_rest = segments.windows(2).filter_map(|two| match two {
            [rest, load] if rest.kind == Kind::Rest && load.kind == Kind::Load => Some(load),
            _ => None,
        });
        let load: &Segment = after_rest.max_by(|one, other| one.current.0.total_cmp(&other.current.0))?;
        let rise = load.start.time;
        let (from, to) = (rise - Seconds(BEFORE), Seconds(load.end.time.0.min(rise.0 + MOST)));
        let seen: Vec<&Point> =
            trace.points.iter().filter(|point| point.time >= from && point.time <= to).collect();
        let mut points = thinned(&seen, rise);
        // At rest a fixture samples seldom: until the current rises the voltage is what the rest has shown last.
        let after = points.iter().position(|[time, _]| *time >= 0.0).unwrap_or_default();
        if let Some([_, resting]) = after.checked_sub(1).and_then(|before| points.get(before)).copied() {
            points.insert(after, [0.0, resting]);
        }
        (points.len() > 2).then_some(Self { current_a: load.current.0, points })
    }

    /// Returns the voltage at an instant, from the nearest point; `None` outside the pulse.
    pub fn at(&self, after_s: f64) -> Option<f64> {
        let last = self.points.last()?;
        let near = self
            .points
            .iter()
            .min_by(|one, other| (one[0] - after_s).abs().total_cmp(&(other[0] - after_s).abs()))?;
        (after_s <= last[0] + 0.05 * after_s).then_some(near[1])
    }
}

/// Keeps the lowest and the highest of each part of the time, in their order.
fn thinned(seen: &[&Point], rise: Seconds) -> Vec<[f64; 2]> {
    let place = |point: &Point| [point.time.0 - rise.0, point.voltage.0];
    let each = seen.len().div_ceil(PARTS).max(1);
    if each <= 2 {
        return seen.iter().map(|point| place(point)).collect();
    }
    let mut points = Vec::new();
    for part in seen.chunks(each) {
        let places: Vec<[f64; 2]> = part.iter().map(|point| place(point)).collect();
        let low = places.iter().min_by(|one, other| one[1].total_cmp(&other[1]));
        let high = places.iter().max_by(|one, other| one[1].total_cmp(&other[1]));
        let mut both: Vec<[f64; 2]> = low.into_iter().chain(high).copied().collect();
        both.sort_by(|one, other| one[0].total_cmp(&other[0]));
        both.dedup();
        points.extend(both);
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::example;
    use celltriage_measure::si::{Amps, Volts};
    use celltriage_measure::trace::{Place, Source};

    fn trace(current: impl Fn(f64) -> f64) -> Trace {
        let rows = (0..30_000).map(|row| {
            let time = f64::from(row) / 1000.0;
            let current = current(time);
            let voltage = Volts(4.1 - 0.05 * current);
            Point { time: Seconds(time), current: Amps(current), voltage, cell: None, ambient: None }
        });
        Trace::from_points(
            rows.collect(),
            |row| Place::Line(row as u64 + 1),
            Source::File("made".to_owned()),
            Vec::new(),
        )
        .0
    }

    #[test]
    fn the_largest_pulse_is_shown_from_its_rest_on_with_few_points() {
        let nameplate = example(|_| {}).cell.nameplate;
        let two = trace(|time| match time {
            5.0..8.0 => 1.0,
            15.0..25.0 => 2.0,
            _ => 0.0,
        });
        let found = PulseCurve::of(&two, &nameplate).unwrap();
        assert!((found.current_a - 2.0).abs() < 1e-6);
        let (first, last) = (found.points[0], found.points[found.points.len() - 1]);
        assert!((first[0] + 1.0).abs() < 0.1 && (last[0] - 10.0).abs() < 0.1, "{first:?} {last:?}");
        assert!(
            found.points.len() <= 2 * PARTS + 2 && found.points.is_sorted_by(|one, other| one[0] <= other[0])
        );
        assert!((found.at(1.0).unwrap() - 4.0).abs() < 1e-6);
        assert_eq!(found.at(30.0), None);
        assert_eq!(PulseCurve::of(&trace(|_| 0.0), &nameplate), None);
    }
}
