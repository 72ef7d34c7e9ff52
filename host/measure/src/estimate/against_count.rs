//! What speaks against a counted charge: evidence beside the count itself, each with how much of the charge it puts in doubt.
//!
//! Input: a discharge, its charge and the fixture's own count where there is one; output: corrections with their uncertainty and
//! what to say, or why the count is worth nothing. Four questions: does the voltage go on where it stopped (`continuity.rs`), are
//! readings there twice (`repeats.rs`), do the two counts agree, and what does the current read while nothing flows?

use super::continuity::{Break, breaks};
use super::discharge::Discharge;
use super::measurement::Measurement;
use super::repeats::{Repeat, repeat};
use crate::segment::Kind;
use crate::si::{AmpHours, Amps, SECONDS_PER_HOUR, Volts};
use crate::trace::{Currents, Gather, left_by_rounding};
use crate::uncertainty::Input;

/// Charge that may be in doubt, as a share of the rated capacity; beyond, nothing is counted (judged, as for missing rows).
const MOST_IN_DOUBT: f64 = 0.01;
/// Two counts of one charge that differ by more than this share contradict each other: the shunt is the same, the counter's clock
/// may be off by 0.58 % (`hardware-notes/error_budget.toml`), and rounding and the moments of rows lie between (judged).
const AGREEMENT: f64 = 0.007;
const MOST_APART: f64 = 0.02;
/// Rests of fewer rows, and readings at rest within so many standard uncertainties of zero, tell no offset.
const FEWEST_ROWS: usize = 10;
const CLEAR: f64 = 3.0;

/// What speaks against a count.
#[derive(Debug)]
pub(super) struct AgainstCount {
    /// To be added to the charge, in Ah.
    pub(super) corrections: [Input; 3],
    /// In words.
    pub(super) warnings: Vec<String>,
}

/// Looks for all of it; `levels` are the currents that flowed in longer stretches.
pub(super) fn against_count(
    m: &Measurement<'_>,
    discharge: &Discharge,
    levels: &[Amps],
    charge: AmpHours,
    own_count: Option<AmpHours>,
) -> Result<AgainstCount, String> {
    let mut warnings = Vec::new();
    let apart = AmpHours(own_count.map_or(0.0, |own| (own - charge).0));
    if apart.abs().0 > MOST_APART * charge.abs().0 {
        return Err(format!(
            "the fixture's own count is {:.4} Ah and its samples give {:.4} Ah: one of them is wrong",
            (charge + apart).0,
            charge.0
        ));
    }
    let disagree = apart.abs().0 > AGREEMENT * charge.abs().0;
    if disagree {
        warnings.push(format!(
            "the fixture's own count is {:.4} Ah, its samples give {:.4} Ah; any value between them is taken as possible",
            (charge + apart).0,
            charge.0
        ));
    }
    let found: Vec<Break> =
        levels.iter().flat_map(|level| breaks(m, discharge.range.clone(), *level)).collect();
    // A counter that counts on while rows are written proves that none is there twice or missing.
    let counts_on = own_count.is_some() && !disagree;
    let again = repeat(m, discharge.range.clone());
    let (twice, never) = in_doubt(&found);
    let twice = twice.max(again.as_ref().map_or(0.0, |again| again.charge.0));
    let (twice, never) = if counts_on { (0.0, 0.0) } else { (twice, never) };
    // What repeats to the last digit says more than the jump that it makes.
    let told =
        again.as_ref().map(repeated).or_else(|| found.first().map(|first| in_words(first, found.len())));
    warnings.extend(told.clone());
    let most = MOST_IN_DOUBT * m.nameplate.rated_capacity_ah;
    if twice + never > most {
        return Err(format!("{}; {:.4} Ah are in doubt", told.unwrap_or_default(), twice + never));
    }
    let at_rest = offset(m);
    let hours = discharge.duration.0 / SECONDS_PER_HOUR;
    if let Some(at_rest) = at_rest {
        warnings.push(format!(
            "the current reads {:.1} mA while the cell rests; whether that flows or is an error of zero is not known ({:.4} Ah)",
            at_rest.0 * 1e3,
            (at_rest.0 * hours).abs()
        ));
    }
    let between = |name: &'static str, from: f64, to: f64| {
        Input::rectangular(name, "Ah", (from + to) / 2.0, (to - from).abs() / 2.0)
    };
    let corrections = [
        between("rows twice or missing", -twice, never),
        between("two counts", 0.0, if disagree { apart.0 } else { 0.0 }),
        between("current at rest", 0.0, at_rest.map_or(0.0, |at_rest| -at_rest.0 * hours)),
    ];
    Ok(AgainstCount { corrections, warnings })
}

/// Returns what may be counted twice and what may never have been counted, in Ah.
fn in_doubt(found: &[Break]) -> (f64, f64) {
    let sum = |up: bool| {
        let these = found.iter().filter(|one| (one.rose.0 > 0.0) == up);
        these.map(|one| one.charge.0).sum::<f64>()
    };
    (sum(true), sum(false))
}

fn repeated(again: &Repeat) -> String {
    let Repeat { at: [first, second], lasts, charge } = again;
    format!(
        "what was read from {:.0} s on for {:.0} s is there again from {:.0} s on, to the last digit: rows are there twice ({:.4} Ah)",
        first.0, lasts.0, second.0, charge.0
    )
}

fn in_words(first: &Break, count: usize) -> String {
    let Break { at, rose: Volts(rose), charge } = first;
    let more = if count > 1 { format!(", the first of {count} times") } else { String::new() };
    let (way, because) = if *rose > 0.0 {
        ("up", "rows are there twice, or a contact moved")
    } else {
        ("down", "rows are missing with their time, or a contact moved")
    };
    format!(
        "at {:.0} s the voltage jumps {way} by {:.1} mV while the current stays{more}: {because} ({:.4} Ah)",
        at.0,
        rose.abs() * 1e3,
        charge.0
    )
}

/// Returns what the current reads while the cell rests, where that is neither noise nor within what the front end is known to be off.
fn offset(m: &Measurement<'_>) -> Option<Amps> {
    let rests = m.segments.iter().enumerate().filter(|(_, segment)| segment.kind == Kind::Rest);
    let mut all = Currents::NONE;
    for (index, _) in rests {
        all.join(&m.gather(m.body(index)));
    }
    if all.rows < FEWEST_ROWS {
        return None;
    }
    let rows = all.rows as f64;
    let mean = all.sum / rows;
    let scatter = (all.squares / rows - mean * mean).max(0.0).sqrt();
    let step = m.trace.points.resolution().current.0;
    let known =
        (scatter / rows.sqrt()).hypot(left_by_rounding(step, scatter)).hypot(m.front_end.current_offset.0);
    (mean.abs() > CLEAR * known).then_some(Amps(mean))
}
