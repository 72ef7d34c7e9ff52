//! What all estimators look at: the trace, its segments, the nameplate and the front end.
//!
//! Also knows which rows of a segment to trust: the first row after a step and the last one before it may be torn
//! (current and voltage not of one moment), so they are left out where they can be.

use super::FrontEnd;
use super::line_fit::{Line, line_at, line_through};
use super::median::median;
use crate::nameplate::Nameplate;
use crate::segment::{Kind, Segment, segments};
use crate::si::{Amps, Celsius, Seconds, Volts};
use crate::trace::{Currents, Gather, Steps, Temperatures, Trace, left_by_rounding};
use std::f64::consts::SQRT_2;
use std::ops::Range;

/// A last row this far on the way to the next level's voltage is torn; a cell does not go so far within one row.
const TORN_SHARE: f64 = 0.25;
/// Rows before the last one that tell where it should be.
const ROWS_BEFORE: usize = 4;
/// Median size of a normal number, in standard deviations.
pub(super) const MEDIAN_SIZE: f64 = 0.674_5;
/// Rows that stand still before a converter is suspected.
const STUCK_ROWS: usize = 20;
/// Share of movements that turn round at once, above which a voltage trembles.
const TREMBLING: f64 = 0.4;
/// Most rows that the trembling of a voltage is told from; more tell nothing new.
const TREMBLING_ROWS: usize = 20_000;
/// Rows that differ in their distance by less than this factor are evenly spaced: no row is missing among them.
const EVENLY: f64 = 1.5;
/// A current further off the mean than this many standard deviations is wild; fewer rows cannot tell it that way.
const WILD_CURRENT: f64 = 6.0;
const MANY_CURRENTS: usize = 200;

/// Currents that people set are multiples of this share of It (common practice), here to this part of it.
const ROUND_SHARE: f64 = 0.05;
const ROUND_WITHIN: f64 = 0.01;

/// A resistance or slope below this many standard uncertainties cannot be distinguished from zero.
pub(super) const LEAST_SIGNIFICANCE: f64 = 3.0;
/// Rows may be missing for this share of a stretch; beyond, nobody knows what the current did.
pub(super) const LONGEST_PAUSE: f64 = 0.2;

/// Rows that do not cover this share of the part of a rest that they are to tell of give no slope (judged).
pub(super) const SLOPE_SHARE: f64 = 0.3;

/// A line through fewer rows takes its noise from the rows around it, where those are noisier than usual.
const FEW_ROWS: usize = 5;

/// A trace made ready for estimates.
#[derive(Clone, Debug)]
pub(super) struct Measurement<'a> {
    /// The trace.
    pub(super) trace: &'a Trace,
    /// Its stretches of constant current.
    pub(super) segments: Vec<Segment>,
    /// The cell's label.
    pub(super) nameplate: &'a Nameplate,
    /// What measured.
    pub(super) front_end: &'a FrontEnd,
    /// Scatter of one voltage sample.
    pub(super) voltage_noise: Volts,
    /// Step of the converter that read the current; zero where it tells none.
    current_step: Amps,
    /// Usual distance of the rows of each segment in time.
    periods: Vec<Seconds>,
}

impl<'a> Measurement<'a> {
    /// Makes a trace ready.
    pub(super) fn new(trace: &'a Trace, nameplate: &'a Nameplate, front_end: &'a FrontEnd) -> Self {
        let segments = segments(trace, Some(nameplate));
        let current_step = current_step(trace, &segments, nameplate);
        let (voltage_noise, periods) = (Volts(0.0), Vec::new());
        let mut measurement =
            Self { trace, segments, nameplate, front_end, voltage_noise, current_step, periods };
        measurement.periods = measurement.segments.iter().map(|s| measurement.period(s)).collect();
        measurement.voltage_noise = measurement.noise();
        measurement
    }

    /// Gathers what the rows of a range have in common.
    pub(super) fn gather<Part: Gather>(&self, range: Range<usize>) -> Part {
        self.trace.points.gather(range)
    }

    /// Returns the current It: the rated capacity in one hour.
    pub(super) fn unit_current(&self) -> Amps {
        Amps(self.nameplate.unit_current_a())
    }

    /// Returns the rest directly before a segment, if there is one.
    pub(super) fn rest_before(&self, index: usize) -> Option<usize> {
        let before = index.checked_sub(1)?;
        let rest = self.segments.get(before)?;
        (rest.kind == Kind::Rest && self.touches(before)).then_some(before)
    }

    /// Returns the newest rest before a segment, whatever lies between.
    pub(super) fn newest_rest(&self, index: usize) -> Option<usize> {
        (0..index).rev().find(|before| self.segments.get(*before).is_some_and(|rest| rest.kind == Kind::Rest))
    }

    /// Returns whether a segment and the next one follow each other without missing rows.
    pub(super) fn touches(&self, index: usize) -> bool {
        let Some(next) = self.segments.get(index + 1) else { return false };
        let usual = self.usual_period(index).0.max(self.usual_period(index + 1).0);
        next.start.half_width.0 * 2.0 <= (4.0 * usual).max(0.05)
    }

    /// Returns the usual distance of a segment's rows in time.
    pub(super) fn usual_period(&self, index: usize) -> Seconds {
        self.periods.get(index).copied().unwrap_or(self.trace.clock_step)
    }

    /// Returns the indices of a segment's rows that are not torn.
    pub(super) fn body(&self, index: usize) -> Range<usize> {
        let Some(segment) = self.segments.get(index) else { return 0..0 };
        let mut first = segment.first;
        if index > 0 && segment.last > segment.first {
            first += 1; // where the current has just stepped, the voltage may still be the old one
        }
        let end = segment.last + 1;
        let torn = segment.end.is_step && self.last_is_torn(first..end, self.segments.get(index + 1));
        first..if torn { end - 1 } else { end }
    }

    /// Returns whether the last row already shows the next level's voltage.
    fn last_is_torn(&self, body: Range<usize>, next: Option<&Segment>) -> bool {
        let points = self.trace.slice(body);
        let (Some(next), Some((last, before))) = (next, points.split_last()) else { return false };
        let before = before.get(before.len().saturating_sub(ROWS_BEFORE)..).unwrap_or(&[]);
        if before.len() < 2 {
            return false;
        }
        let told: Vec<(f64, f64)> = before.iter().map(|point| (point.time.0, point.voltage.0)).collect();
        let Some(expected) = line_at(&told, last.time.0, self.voltage_noise.0) else { return false };
        let after = self.trace.slice((next.first + 1).min(next.last)..(next.first + 4).min(next.last + 1));
        let after = median(after.iter().map(|point| point.voltage.0).collect());
        let (strayed, step) = (last.voltage.0 - expected.value, after - expected.value);
        strayed * step > 0.0
            && strayed.abs() > TORN_SHARE * step.abs()
            && strayed.abs() > 6.0 * expected.value_deviation.hypot(self.voltage_noise.0)
    }

    /// Returns the rows of a range whose time lies within two moments, both included.
    pub(super) fn between(&self, range: Range<usize>, from: Seconds, to: Seconds) -> Range<usize> {
        // Times computed as differences miss their row by rounding; a microsecond is far below any sampling.
        let (from, to) = (from.0 - 1e-6, to.0 + 1e-6);
        let points = self.trace.slice(range.clone());
        let first = points.partition_point(|point| point.time.0 < from);
        let end = points.partition_point(|point| point.time.0 <= to);
        range.start + first..range.start + end.max(first)
    }

    /// Fits a line through the voltages of a range and evaluates it at a moment. What the converter's step hides between
    /// two of its codes is in the uncertainty, however many rows there are.
    pub(super) fn voltage_at(&self, range: Range<usize>, at: Seconds) -> Option<Line> {
        let noise = if range.len() < FEW_ROWS { self.noise_around(&range) } else { self.voltage_noise };
        let span = match self.trace.slice(range.clone()) {
            [first, .., last] => (last.time - first.time).0,
            _ => 0.0,
        };
        let mut line = line_through(&self.trace.points, range, at.0, noise.0)?;
        let hidden = left_by_rounding(self.trace.points.resolution().voltage.0, line.scatter);
        line.value_deviation = line.value_deviation.hypot(hidden);
        if span > 0.0 {
            // Rows of one code allow slopes of up to a step over their span, the flatter the likelier: a triangle.
            line.slope_deviation = line.slope_deviation.hypot(SQRT_2 * hidden / span);
        }
        Some(line)
    }

    /// Fits the line through the end of a rest. Where its rows lie closer together than `least`, they tell the voltage there and
    /// no slope: two rows of a logger within milliseconds at a step would make 90 V/h of 0.3 mV. The slope is then that
    /// of rows further back.
    pub(super) fn end_line(
        &self,
        rest: Range<usize>,
        end: Range<usize>,
        at: Seconds,
        least: Seconds,
    ) -> Option<Line> {
        let line = self.voltage_at(end.clone(), at)?;
        let time = |row: usize| self.trace.points.get(row).map_or(at, |point| point.time);
        let (first, last) = (time(end.start), time(end.end - 1));
        if last - first >= least {
            return Some(line);
        }
        let until = self.between(rest.clone(), time(rest.start), last - least).end;
        let back = until.saturating_sub(1).max(rest.start)..end.end;
        if last - time(back.start) < least {
            return Some(line);
        }
        let far = self.voltage_at(back, at)?;
        let middle = first + (last - first) / 2.0;
        let near = self.voltage_at(end, middle)?;
        let after = (at - middle).0;
        Some(Line {
            value: near.value + far.slope * after,
            value_deviation: near.value_deviation.hypot(far.slope_deviation * after),
            slope: far.slope,
            slope_deviation: far.slope_deviation,
            ..near
        })
    }

    /// Refuses a rest whose voltage a converter at the end of its range, or a stuck one, has read.
    pub(super) fn refuse_stuck(&self, rest: Range<usize>) -> Result<(), String> {
        if self.is_stuck(rest) {
            return Err("the voltage reads the same to the last digit at rest and not under load: \
                        the converter was at the end of its range or stuck"
                .to_owned());
        }
        Ok(())
    }

    /// Returns whether the voltage of a rest stands still to the last digit while it trembles under load.
    ///
    /// A rest that a coarse converter reads as one code is no fault: then the rows under load hardly move either.
    fn is_stuck(&self, rest: Range<usize>) -> bool {
        let points = self.trace.slice(rest);
        if points.len() < STUCK_ROWS
            || !points.windows(2).all(|two| matches!(two, [a, b] if a.voltage == b.voltage))
        {
            return false;
        }
        // A model's smooth curve moves too; only noise turns round at two of three movements.
        let loads = self.segments.iter().filter(|segment| segment.kind == Kind::Load);
        let rows = loads.flat_map(|segment| self.trace.slice(segment.first..segment.last + 1).windows(3));
        let (mut turning, mut all) = (0usize, 0usize);
        for three in rows.take(TREMBLING_ROWS) {
            let [a, b, c] = three else { continue };
            all += 1;
            turning += usize::from((b.voltage - a.voltage).0 * (c.voltage - b.voltage).0 < 0.0);
        }
        all >= STUCK_ROWS && turning as f64 > TREMBLING * all as f64
    }

    /// Returns the longest time without a row within a range.
    pub(super) fn longest_pause(&self, range: Range<usize>) -> Seconds {
        Seconds(self.gather::<Steps>(range).time.high.max(0.0))
    }

    /// Returns the mean current of a range and its standard uncertainty, the converter's step included.
    pub(super) fn mean_current(&self, range: Range<usize>) -> Option<(Amps, Amps)> {
        let all: Currents = self.gather(range.clone());
        let n = all.rows as f64;
        let mean = all.sum / n;
        let deviation = (all.squares / n - mean * mean).max(0.0).sqrt();
        let furthest = (all.extent.high - mean).max(mean - all.extent.low);
        let step = self.current_step.0;
        let known = |scatter: f64, n: f64| Amps((scatter / n.sqrt()).hypot(left_by_rounding(step, scatter)));
        if all.rows >= MANY_CURRENTS && furthest <= WILD_CURRENT * deviation {
            return Some((Amps(mean), known(deviation, n)));
        }
        let currents: Vec<f64> = self.trace.slice(range).iter().map(|point| point.current.0).collect();
        if currents.is_empty() {
            return None;
        }
        let middle = median(currents.clone());
        let scatter = median(currents.iter().map(|current| (current - middle).abs()).collect()) / MEDIAN_SIZE;
        let near = |current: &f64| (current - middle).abs() <= WILD_CURRENT * scatter;
        let near: Vec<f64> = currents.into_iter().filter(near).collect();
        let mean = near.iter().sum::<f64>() / near.len().max(1) as f64;
        Some((Amps(mean), known(scatter, near.len().max(1) as f64)))
    }

    /// Returns the mean cell temperature of a range, where it is known.
    pub(super) fn cell_temperature(&self, range: Range<usize>) -> Option<Celsius> {
        self.gather::<Temperatures>(range).cell()
    }

    /// Returns the usual distance of a segment's rows in time, never below what the clock can tell.
    fn period(&self, segment: &Segment) -> Seconds {
        let rows = segment.first..segment.last + 1;
        let step = self.gather::<Steps>(rows.clone()).time;
        let usual = if step.low > 0.0 && step.high < EVENLY * step.low {
            let time = |row: usize| self.trace.points.get(row).map_or(0.0, |point| point.time.0);
            (time(segment.last) - time(segment.first)) / (rows.len() - 1) as f64
        } else {
            let steps = self.trace.slice(rows).windows(2);
            let steps =
                steps.filter_map(|two| if let [a, b] = two { Some((b.time - a.time).0) } else { None });
            median(steps.filter(|step| *step > 0.0).collect())
        };
        Seconds(usual.max(self.trace.clock_step.0))
    }
}

/// Returns the step of the current's converter. A current that stands still to its last digit was rounded to that digit,
/// unless it is a round share of It everywhere: then it is what a source was set to.
fn current_step(trace: &Trace, segments: &[Segment], nameplate: &Nameplate) -> Amps {
    let found = trace.points.resolution();
    let is_round = |segment: &Segment| {
        let shares = segment.current.0 / nameplate.unit_current_a() / ROUND_SHARE;
        (shares - shares.round()).abs() < ROUND_WITHIN
    };
    if segments.iter().all(is_round) {
        found.current
    } else {
        Amps(found.current.0.max(found.current_unit.0))
    }
}
