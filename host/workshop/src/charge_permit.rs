//! Whether a person may be told to charge a cell: what the book knows of it must speak for that, and be new.
//!
//! Takes the book, a cell's name, its label and the time; gives a [`ChargePermit`]. Nothing that is done to a used cell
//! holds more energy against the person than a charge, so what is not known counts against it: nobody has looked, the
//! rest voltage is not known, a test was never judged. What speaks against it for good (a sign that was once found, a
//! rest below the voltage at which copper dissolves, an alarm) stays: what was found until a person strikes its entry, see [`known`](celltriage_custody::known); a rest
//! below that voltage until a person judges the cell as not waste.

use celltriage_assessment::Assessment;
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_book::{Book, Entry, Subject};
use celltriage_custody::CustodyError;
use celltriage_custody::cell::{Cell, Whereabouts};
use celltriage_custody::known::signs_found;
use celltriage_custody::state::State;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::{Fullness, Nameplate};
use celltriage_measure::observation::{Answer, Sign};
use celltriage_verdict::{Finding, Hazard, Reason, RunOutcome, against_charge, figure, limit_figure};
use jiff::{SignedDuration, Timestamp};

/// For how long a look and a rest voltage speak for a charge: a day (common practice); gas gathers and cells fall in less.
pub const HOLDS: SignedDuration = SignedDuration::from_hours(24);
/// A cell that once rested below this, in V, is not charged again: cell makers forbid discharge below it, and the policy
/// sends it for recycling ("over_discharged" in `policy/default.toml`).
const NEVER_BELOW_V: f64 = 2.0;

/// What the book says of charging a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ChargePermit {
    /// It was looked at and its rest voltage taken, and nothing speaks against it.
    Given,
    /// Not known: it is to be looked at and measured first.
    Open {
        /// What is not known.
        why: String,
    },
    /// Not to be charged.
    Refused {
        /// What speaks against it, with its entry.
        why: String,
    },
}

/// Returns what the book says of charging a cell under a label; `state` is that of the same book.
///
/// # Errors
/// A book error.
pub fn permit(
    book: &Book,
    state: &State,
    cell: &str,
    label: &Nameplate,
    now: Timestamp,
) -> Result<ChargePermit, CustodyError> {
    let entries = book.entries_of(&Subject::cell(cell))?;
    let known = state.cells.get(cell);
    let by_custody = known.and_then(against_by_custody);
    let counts = |entry: &&Entry| entry.kind == ASSESSMENT && !state.struck.contains_key(&entry.number);
    let newest = entries.iter().rev().find(counts);
    let by_newest = newest.and_then(|entry| against_by_decision(entry, label));
    // What a test still has to answer is open, not refused.
    let bars = |testable: bool| {
        let found = known?.barred(|bars| bars.charge && bars.load != testable)?;
        Some(format!("known before: {}", found.words()))
    };
    let found = bars(false);
    // What a person has judged since, with all signs in view, is settled; the newest decision never is.
    let judged = known.and_then(|known| known.judgement.as_ref()).map_or(0, |judged| judged.entry);
    let rested_low =
        || entries.iter().filter(|entry| entry.number > judged).filter(counts).find_map(against_for_good);
    if let Some(why) = by_custody.or(by_newest).or(found).or_else(rested_low) {
        return Ok(ChargePermit::Refused { why });
    }
    if let Some(screening) = known.and_then(Cell::to_screen) {
        return Ok(ChargePermit::Open {
            why: format!("it {}, and nobody has looked at it since", screening.because),
        });
    }
    let Some(newest) = newest else {
        return Ok(ChargePermit::Open {
            why: "nobody has looked at it, and its rest voltage is not known".to_owned(),
        });
    };
    let broken_off = book.unfinished_recordings_of(cell)?.into_iter().any(|one| one.at >= newest.at);
    let open = if broken_off {
        Some("a test of it broke off and was never judged".to_owned())
    } else {
        bars(true).or_else(|| not_known(newest, now))
    };
    Ok(open.map_or(ChargePermit::Given, |why| ChargePermit::Open { why }))
}

/// What a person has judged or done with it.
fn against_by_custody(cell: &Cell) -> Option<String> {
    if cell.escalated {
        return Some("it was found critical, and nobody has judged it since".to_owned());
    }
    // Every container is for waste, for damaged cells or for such under watch; what is in a device is not charged by hand.
    if cell.whereabouts != Whereabouts::Loose {
        return Some(format!("it is {}", cell.whereabouts.words()));
    }
    if let Some(watch) = &cell.watch {
        return Some(format!("it is under watch since {}: {}", watch.since, watch.hold.because));
    }
    cell.judged_against()
}

/// What the newest decision says against it.
fn against_by_decision(entry: &Entry, label: &Nameplate) -> Option<String> {
    match assessment_of(entry) {
        Ok(assessment) => against(&assessment, label).map(|why| format!("{why} (entry {})", entry.number)),
        Err(_) => Some(format!("its newest decision, entry {}, cannot be read", entry.number)),
    }
}

/// Returns what a decision says against charging the cell under a label; `None` if it says nothing.
pub fn against(assessment: &Assessment, label: &Nameplate) -> Option<String> {
    let verdict = &assessment.verdict;
    if let Some(reason) = against_charge(verdict.fate, verdict.condition, &verdict.reasons) {
        return Some(format!("{}: {}", verdict.fate, reason.text.trim_end_matches('.')));
    }
    if let Some(sign) = signs_found(assessment).next() {
        return Some(format!("it shows a sign: {}", sign.words()));
    }
    // Whatever the policy asks for.
    if let Some(rest) = rest_voltage(assessment) {
        let (rests, lowest) = (figure(rest, "V"), label.deeply_discharged_v());
        if rest.is_nan() || rest < lowest {
            return Some(format!(
                "it rests at {rests}, deeply discharged: below {}",
                limit_figure(lowest, "V")
            ));
        }
        if label.fullness(rest) == Fullness::Over {
            let limit = limit_figure(label.charge_limit_v, "V");
            return Some(format!("it rests at {rests}, above its charge limit of {limit}: over-charged"));
        }
    }
    None
}

/// What a decision of any age says against it until a person has judged.
fn against_for_good(entry: &Entry) -> Option<String> {
    let assessment = assessment_of(entry).ok()?;
    // What an open protection let through was never the cell's own; that decision itself still speaks against a charge.
    let shown = |reason: &Reason| matches!(reason.finding, Finding::Fail | Finding::Inconclusive);
    let own = !assessment
        .verdict
        .reasons
        .iter()
        .any(|reason| reason.hazard == Some(Hazard::VoltageHidden) && shown(reason));
    let rest = rest_voltage(&assessment).filter(|rest| own && *rest < NEVER_BELOW_V)?;
    Some(format!(
        "it once rested at {}, below {}: copper may have dissolved inside (entry {})",
        figure(rest, "V"),
        limit_figure(NEVER_BELOW_V, "V"),
        entry.number
    ))
}

/// What must be known for a charge and is not, or no longer.
fn not_known(newest: &Entry, now: Timestamp) -> Option<String> {
    let age = now.duration_since(newest.at);
    if age > HOLDS || age.is_negative() {
        return Some(format!(
            "entry {} looked at it and took its rest voltage last, and that counts for {} h",
            newest.number,
            HOLDS.as_hours()
        ));
    }
    let assessment = assessment_of(newest).ok()?;
    let signs = not_looked_for(&assessment);
    if !signs.is_empty() {
        return Some(format!("nobody has looked for: {}", signs.join(", ")));
    }
    // A trace recorded elsewhere tells no rest voltage of today.
    let today = assessment.conditions.run != RunOutcome::Recorded && rest_voltage(&assessment).is_some();
    (!today).then(|| "its rest voltage is not known".to_owned())
}

/// Returns the signs that nobody has answered, in words.
fn not_looked_for(assessment: &Assessment) -> Vec<&'static str> {
    let observed = &assessment.cell.observations;
    let open = Sign::ALL.into_iter().filter(|sign| observed.answer(*sign) == Answer::NotObserved);
    open.map(Sign::words).collect()
}

fn rest_voltage(assessment: &Assessment) -> Option<f64> {
    assessment.estimates.get(&Quantity::RestVoltage).map(|rest| rest.value)
}
