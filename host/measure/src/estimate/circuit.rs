//! An equivalent circuit that describes the shape of a pulse: a description, never a headline number.
//!
//! Input: the largest pulse that rises from rest; output: a resistance that was over before the rows could tell, and up to
//! three pairs of resistance and capacitance, each with its time constant. The rows are averaged over spans that widen
//! with time, so that a second counts as much at 1 kHz as at 100 Hz; pairs are added only while each clearly lowers the
//! residuals. The description holds between its first and last instant and nowhere else: what looks like "R0" depends on
//! how fast was sampled and how many pairs were fitted (24 to 59 mOhm for one and the same DFN cell), and a 2 s pulse
//! misses the resistance at 10 s by up to 4 mOhm of 64.

use super::equivalent_circuit::{Circuit, Figure, RcPair};
use super::exponentials::{Fit, SumTerms, fit};
use super::measurement::Measurement;
use super::pulse::Pulse;
use super::rest_voltage::last;
use crate::si::{Ohms, Seconds};
use crate::trace::Voltages;
use std::ops::Range;

/// Shortest pulse and rest, and fewest rows, that are worth a description.
const SHORTEST: Seconds = Seconds(0.5);
const FEWEST_ROWS: usize = 40;
/// Means per factor ten of time: the bend of an exponential within one moves its mean by less than 0.15 % of the whole.
const PER_DECADE: f64 = 10.0;
/// Most pairs: about one per decade of time.
const MOST_PAIRS: usize = 3;
/// A pair more must lower the residuals by this much (F value; 99 % of chance results stay below 6 with many rows).
const LEAST_F: f64 = 10.0;
/// The search ends with a step that promises less than this. It moves no figure by a tenth of its uncertainty, and what is
/// then left to the end is far less: the steps shrink fast.
const SMALL_GAIN: f64 = 1e-4;
/// Standard deviations that chance rarely exceeds.
const LIKELY: f64 = 2.0;
/// A time constant above this share of the pulse is not told from a straight line.
const LONGEST_SHARE: f64 = 0.5;
/// Residuals this many times the noise's are not noise.
const LARGE_RESIDUAL: f64 = 2.0;

impl Circuit {
    /// Returns the drop over the current at a time after the current rose; `None` if the description does not hold.
    pub fn resistance_at(&self, after: Seconds) -> Option<Ohms> {
        let holds = (self.from_s..=self.until_s).contains(&after.0);
        let of_pair =
            |pair: &RcPair| pair.resistance_ohm.value * -(-after.0 / pair.time_constant_s.value).exp_m1();
        holds.then(|| Ohms(self.before_first_instant_ohm.value + self.pairs.iter().map(of_pair).sum::<f64>()))
    }
}

/// Means over spans of time: when, drop over current, and how many rows are in each.
struct Means {
    times: Vec<f64>,
    ohms: Vec<f64>,
    weights: Vec<f64>,
}

/// Describes the largest pulse that rises from rest.
pub(super) fn circuit(m: &Measurement<'_>, pulses: &[Pulse]) -> Result<Circuit, String> {
    let long = |index: usize| m.segments.get(index).is_some_and(|segment| segment.duration() >= SHORTEST);
    let fitting = pulses
        .iter()
        .filter(|pulse| long(pulse.load) && long(pulse.rest))
        .filter_map(|pulse| Some((pulse.rest, pulse.load, m.segments.get(pulse.load)?)));
    let (rest, load, pulse) = fitting
        .max_by(|a, b| (a.2.current.0).total_cmp(&b.2.current.0))
        .ok_or_else(|| format!("the trace has no pulse of at least {} s after a rest", SHORTEST.0))?;
    let resting = m
        .voltage_at(last(m.body(rest), FEWEST_ROWS), pulse.start.time)
        .ok_or("the rest has no usable rows")?;
    let first = 2.0 * m.usual_period(load).0.max(pulse.start.half_width.0);
    let start = pulse.start.time;
    let body = m.between(m.body(load), start + Seconds(first), pulse.end.time);
    if body.len() < FEWEST_ROWS {
        return Err(format!("the pulse has {} usable rows; at least {FEWEST_ROWS}", body.len()));
    }
    let (current, _) = m.mean_current(body.clone()).ok_or("the pulse has no usable rows")?;
    let means = means(m, body, start, |volts| (resting.value - volts) / current.0);
    let fit = best(&means, m.voltage_noise.0 / current.0)?;
    let pairs = fit.terms.len();

    let span = |of: Option<&f64>| of.copied().unwrap_or(first);
    let (from_s, until_s) = (span(means.times.first()), span(means.times.last()));
    let of = |(value, deviation): (f64, f64)| Figure { value, standard_uncertainty: deviation };
    let rows: f64 = means.weights.iter().map(|weight| weight * weight).sum();
    let residual_v = (fit.square / rows).sqrt() * current.0;
    let mut warnings = vec![format!(
        "a description of the curve from {from_s:.3} to {until_s:.2} s, with {pairs} pairs; not a property of the cell"
    )];
    if fit.terms.iter().any(|term| term.time_constant > LONGEST_SHARE * until_s) {
        warnings.push(
            "the slowest pair is not told from a straight line; the pulse was too short for it".to_owned(),
        );
    }
    let noise = m.voltage_noise.0 * (means.times.len() as f64 / rows).sqrt();
    if residual_v > LARGE_RESIDUAL * noise.max(1e-9) {
        warnings.push(format!(
            "leaves {:.0} uV unexplained where noise leaves {:.0} uV; the curve is no sum of so few pairs",
            residual_v * 1e6,
            noise * 1e6
        ));
    }
    let pairs = fit.terms.iter().map(|term| RcPair {
        resistance_ohm: of((term.amplitude, term.amplitude_deviation)),
        time_constant_s: of((term.time_constant, term.time_constant * term.time_constant_share)),
    });
    Ok(Circuit {
        current_a: current.0,
        from_s,
        until_s,
        before_first_instant_ohm: of(fit.constant.unwrap_or((f64::NAN, f64::NAN))),
        pairs: pairs.collect(),
        residual_v,
        warnings,
    })
}

/// Averages rows over spans that widen with time.
fn means(m: &Measurement<'_>, body: Range<usize>, start: Seconds, ohms: impl Fn(f64) -> f64) -> Means {
    let mut means = Means { times: Vec::new(), ohms: Vec::new(), weights: Vec::new() };
    let mut left = body;
    while let Some(row) = m.trace.points.get(left.start).filter(|_| !left.is_empty()) {
        let span = ((row.time - start).0.log10() * PER_DECADE).floor();
        let end = start + Seconds(10f64.powf((span + 1.0) / PER_DECADE));
        let rows = m.trace.slice(left.clone()).partition_point(|point| point.time < end).max(1);
        let all: Voltages = m.gather(left.start..left.start + rows);
        left.start += rows;
        let count = all.rows as f64;
        means.times.push(all.time_sum / count - start.0);
        means.ohms.push(ohms(all.sum / count));
        means.weights.push(count.sqrt());
    }
    means
}

/// Adds pairs as long as each clearly lowers the residuals; `noise` is the scatter of one row, in ohm.
fn best(means: &Means, noise: f64) -> Result<Fit, String> {
    let form = SumTerms { rises: true, constant: true, small_gain: SMALL_GAIN };
    let (Some(first), Some(end)) = (means.times.first(), means.times.last()) else {
        return Err("the pulse has no usable rows".to_owned());
    };
    let mut chosen: Result<Fit, String> = Err("no circuit fits the pulse".to_owned());
    let mut starts: Vec<f64> = Vec::new();
    for _ in 0..MOST_PAIRS {
        add_start(&mut starts, *first, *end);
        let found = fit(&means.times, &means.ohms, Some(&means.weights), form, &starts);
        if let Ok(found) = &found {
            starts = found.terms.iter().map(|term| term.time_constant.clamp(*first, *end)).collect();
        }
        let found = found.and_then(|found| refuse_odd(found, *first, *end));
        match (&chosen, found) {
            (Ok(before), Ok(more)) => {
                let lowered = (before.square - more.square) / 2.0;
                if lowered < LEAST_F * more.square / more.degrees_of_freedom as f64 {
                    break;
                }
                chosen = Ok(more);
            }
            (Ok(_), Err(_)) => break,
            (Err(_), found) => chosen = found,
        }
        if chosen.as_ref().is_ok_and(|found| is_exhausted(found, means, noise)) {
            break;
        }
    }
    chosen
}

/// Returns whether the residuals leave nothing to a further pair: they are no larger than noise makes them, give or take
/// a standard deviation, or neighbours are no more alike than chance makes them in 95 of 100 cases.
fn is_exhausted(found: &Fit, means: &Means, noise: f64) -> bool {
    let freedom = found.degrees_of_freedom as f64;
    found.square <= noise * noise * (freedom + (2.0 * freedom).sqrt())
        || found.correlation < LIKELY / (means.times.len() as f64).sqrt()
}

/// Adds a time constant in the middle of the widest gap, on a logarithmic scale, that the others leave between two times.
fn add_start(starts: &mut Vec<f64>, first: f64, end: f64) {
    let from = std::iter::once(first).chain(starts.iter().copied());
    let to = starts.iter().copied().chain([end]);
    let widest = from.zip(to).max_by(|a, b| (a.1 / a.0).total_cmp(&(b.1 / b.0)));
    starts.extend(widest.map(|(from, to)| (from * to).sqrt()));
    starts.sort_by(f64::total_cmp);
}

/// Refuses what cannot be a cell: negative resistances, or time constants outside what was seen.
fn refuse_odd(found: Fit, first: f64, end: f64) -> Result<Fit, String> {
    let constant = found.constant.map_or(0.0, |constant| constant.0);
    let odd = constant < 0.0
        || found.terms.iter().any(|term| {
            term.amplitude <= 0.0 || term.time_constant < 0.3 * first || term.time_constant > 10.0 * end
        });
    if odd { Err("the fit gave a circuit that no cell has".to_owned()) } else { Ok(found) }
}
