//! What falls due: clocks, looks at watched cells, ends of watches, and what must be put right now.
//!
//! Takes the state and the day; gives [`Due`] items: alarms, then overdue ones, then by days left.

use crate::cell::{Cell, Whereabouts};
use crate::circumstances::Circumstances;
use crate::clock::{days_after, days_left, end_of, in_words};
use crate::fit::fits;
use crate::label_on::{without_label, wrong_label};
use crate::limits::Counted;
use crate::state::{Progress, State};
use celltriage_instrument::simulated::SIMULATED;
use celltriage_rules::LegalState;
use celltriage_verdict::{Fate, Release};
use jiff::civil::Date;
use serde::Serialize;

/// A cell that is in a device for a trial for longer than this, in days, has stayed there or was forgotten (our choice).
const LONGEST_TRIAL_DAYS: u32 = 14;

/// How a thing falls due. An alarm stands before everything, also before what is long overdue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// People may get hurt.
    Alarm,
    /// Is wrong as it is, whatever the day.
    Now,
    /// Has a last day.
    Dated,
    /// Waits for somebody, for as long as nobody comes.
    Open,
}

/// One thing that falls due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Due {
    /// The cell, container or shipment.
    pub subject: String,
    /// What is to be done.
    pub what: String,
    /// How it falls due.
    pub urgency: Urgency,
    /// The last day for it; today where it has none.
    pub on: Date,
    /// Days left; negative: overdue.
    pub days_left: i64,
    /// Where it comes from.
    pub source: String,
    /// Whether it must be verified.
    pub verify: bool,
    /// Whom to verify it with.
    pub verify_with: String,
}

impl Due {
    /// Returns the days left in words.
    pub fn when(&self) -> String {
        match self.urgency {
            Urgency::Dated => in_words(self.days_left),
            Urgency::Open => "open".to_owned(),
            Urgency::Alarm | Urgency::Now => "now".to_owned(),
        }
    }
}

/// Returns all that falls due, the most urgent first.
pub fn due(state: &State, circumstances: &Circumstances<'_>) -> Vec<Due> {
    let mut found = Vec::new();
    containers(state, circumstances, &mut found);
    for (name, cell) in &state.cells {
        if !cell.whereabouts.is_gone() {
            of_cell(state, name, cell, circumstances, &mut found);
        }
    }
    for (name, shipment) in &state.shipments {
        if !shipment.refused.is_empty() {
            let what = format!(
                "refused and not back yet: {}; fetch it back, or write down what became of it",
                shipment.refused.join(", ")
            );
            let (urgency, today) = (Urgency::Now, circumstances.today);
            found.push(Due { urgency, ..item(name, &what, today, today, "its receiver") });
        }
        if shipment.progress == Progress::Drafted {
            let simulated = state.simulated_in(&shipment.draft).is_some();
            let what = match simulated {
                true => format!("{SIMULATED}: give the draft up"),
                false => "hand it over as planned, or give the draft up".to_owned(),
            };
            found.push(item(name, &what, shipment.draft.planned_on, circumstances.today, "its draft"));
        }
    }
    for (entry, irregular) in state.irregularities.iter().filter(|(_, irregular)| irregular.is_open()) {
        let on = irregular.on;
        let what = format!(
            "IRREGULAR since {on} (entry {entry}): {}; write down what put it right",
            irregular.words()
        );
        let (urgency, today) = (Urgency::Now, circumstances.today);
        found.push(Due { urgency, ..item(&irregular.told.name, &what, today, today, "this book") });
    }
    most_urgent_first(&mut found);
    found
}

/// Puts alarms first, then what is overdue, the longest first, then what falls due soonest.
pub fn most_urgent_first(items: &mut [Due]) {
    let order = |due: &Due| {
        let place = match due.urgency {
            Urgency::Alarm => 0,
            Urgency::Now | Urgency::Dated => 1,
            Urgency::Open => 2,
        };
        (place, due.days_left, due.urgency)
    };
    items.sort_by(|a, b| (order(a), &a.subject, &a.what).cmp(&(order(b), &b.subject, &b.what)));
}

/// Returns an item with a day, and nothing to be verified.
pub fn item(subject: &str, what: &str, on: Date, today: Date, source: &str) -> Due {
    Due {
        subject: subject.to_owned(),
        what: what.to_owned(),
        urgency: Urgency::Dated,
        on,
        days_left: days_left(today, on),
        source: source.to_owned(),
        verify: false,
        verify_with: String::new(),
    }
}

fn containers(state: &State, circumstances: &Circumstances<'_>, found: &mut Vec<Due>) {
    // No clock runs for what is not there.
    let standing = state
        .containers
        .iter()
        .filter(|(name, container)| container.is_here() && !state.holds_simulated(name));
    for (name, container) in standing {
        let earliest =
            state.cells_in(name).filter_map(|(cell, held)| held.discarded_on().map(|day| (day, cell))).min();
        let Some((begin, cell)) = earliest else { continue };
        let state = container.opened.kind.counted_as();
        for limit in circumstances.rules.limits(&container.opened.place, circumstances.today, state) {
            let end = end_of(begin, limit.limit).filter(|_| limit.what == Counted::TimeSinceDecision);
            let Some(end) = end else { continue };
            let what = format!("hand over: cell {cell} was discarded on {begin}");
            let due = Due {
                verify: limit.verify,
                verify_with: limit.verify_with.clone(),
                ..item(name, &what, end, circumstances.today, &limit.citation)
            };
            // Two laws with one last day are one item with two sources.
            match found
                .iter_mut()
                .find(|held| (&held.subject, &held.what, held.on) == (&due.subject, &due.what, due.on))
            {
                Some(held) => held.source = format!("{}; {}", held.source, due.source),
                None => found.push(due),
            }
        }
    }
}

/// Says what a cell waits for that is in no container, under no watch and has nothing against it; `None` for one that a person has
/// judged to serve again: that is stock.
pub(crate) fn waits_for(cell: &Cell) -> Option<String> {
    let loose = cell.whereabouts == Whereabouts::Loose && cell.to_screen().is_none();
    let judged = cell.standing_judgement().is_some();
    let Some(facts) = cell.facts.as_ref().filter(|_| loose) else {
        let received = cell.intake().filter(|intake| loose && cell.facts.is_none() && intake.counts)?;
        let what = if judged { "" } else { "judge it, and " };
        return Some(format!(
            "{what}put it into a container or hand it back: received on {}, and nobody has assessed it",
            received.since
        ));
    };
    let since = facts.on;
    match facts.fate {
        Fate::Reuse if judged => None,
        Fate::Reuse => Some(format!("judge it: graded for reuse on {since}, and lies in no container")),
        Fate::Undecided if facts.second_visit => Some(format!(
            "measure its rest voltage again: undecided since {since}, and that takes a second visit"
        )),
        Fate::Undecided => Some(format!("assess it again or judge it: undecided since {since}")),
        Fate::Recycle | Fate::Quarantine => {
            Some(format!("judge it and put it into a container: decided {} on {since}", facts.fate))
        }
    }
}

fn of_cell(state: &State, name: &str, cell: &Cell, circumstances: &Circumstances<'_>, found: &mut Vec<Due>) {
    let today = circumstances.today;
    let simulated = if cell.is_simulated() { format!("{SIMULATED}: ") } else { String::new() };
    let mut now = |urgency, what: &str, source: &str| {
        let what = format!("{simulated}{what}");
        found.push(Due { urgency, ..item(name, &what, today, today, source) });
    };
    if cell.legal() == LegalState::Critical {
        now(
            Urgency::Alarm,
            "CRITICAL: do not move it, keep people away, ask the fire service",
            "UN and ADR SP 376",
        );
    } else if let Some(container) = cell.container().and_then(|container| state.containers.get(container))
        && let Err(refusal) = fits(name, cell, container)
    {
        // Nothing was found of it, so that a look may be all that is missing.
        let unlooked = cell.standing_judgement().is_none() && cell.standing().next().is_none();
        let what = match cell.to_screen().filter(|_| unlooked) {
            Some(screening) => {
                format!("judge it again or take it out of its container: it {}; {refusal}", screening.because)
            }
            None => format!("take it out of its container: {refusal}"),
        };
        now(Urgency::Now, &what, "rules of mixing");
    }
    let unlabelled = without_label(cell);
    // In no container and under no watch. A simulated cell is nowhere.
    if cell.container().is_none() && cell.watch.is_none() && !cell.is_simulated() {
        if let Some(discarded) = cell.discarded_on() {
            now(
                Urgency::Now,
                &format!(
                    "put it into a container: discarded on {discarded}, the clock may be running{unlabelled}"
                ),
                "this book",
            );
        } else if let Some(found) = cell.standing().next().filter(|_| cell.legal() != LegalState::Critical) {
            let out = match &cell.whereabouts {
                Whereabouts::Fitted { device, .. } => format!("take it out of {device}, "),
                _ => String::new(),
            };
            let apart = "keep it apart, judge it and put it into a container for damaged cells";
            let (first, then) = match found.kind.row().release {
                Release::FinishedTest | Release::Screening => ("", "test it again"),
                // Nobody carries a warm cell about.
                Release::Cooling | Release::NewMeasurement => ("hands off until it is cold; then ", apart),
                Release::Striking | Release::EndOfWatch | Release::Judgement => ("", apart),
            };
            let what = format!("{first}{out}{then}: {}{unlabelled}", found.short());
            now(Urgency::Now, &what, "this book");
        } else if let Some(what) = waits_for(cell) {
            now(Urgency::Open, &format!("{what}{unlabelled}"), "this book");
        }
    }
    // Where nobody says so it may be somebody else's, and then nothing is sent.
    if let Some(why) = cell.lacks_consent().filter(|_| cell.legal() != LegalState::Critical) {
        now(
            Urgency::Open,
            &format!("ask whether it may be discarded, or hand it back: {why}"),
            "its receipt",
        );
    }
    if let Some(wrong) = wrong_label(cell).filter(|_| cell.legal() != LegalState::Critical) {
        let urgency = if wrong.promises { Urgency::Now } else { Urgency::Open };
        now(urgency, &wrong.what, "this book");
    }
    // What stands against it is told above, and bars the load of a test.
    let undisturbed = cell.standing().next().is_none() && cell.watch.is_none();
    match (&cell.whereabouts, cell.to_screen()) {
        (Whereabouts::Loose, Some(screening)) if undisturbed && cell.discarded_on().is_none() => {
            let what = match &cell.facts {
                None if cell.is_received() => {
                    format!(
                        "look at it again and write that down, then have it judged: it {}",
                        screening.because
                    )
                }
                _ => format!("screen it again before it counts as stock: it {}", screening.because),
            };
            now(Urgency::Now, &what, "this book");
        }
        (Whereabouts::Fitted { device, stays: false, since }, _) if undisturbed => {
            let what = format!("{simulated}take it out of {device}, or write down that it stays");
            let end = days_after(*since, LONGEST_TRIAL_DAYS);
            found.push(item(name, &what, end, today, "length of a trial: our choice"));
        }
        _ => {}
    }
    if let Some(watch) = &cell.watch {
        let seen = watch.inspections.iter().map(|(_, day, _)| *day).max().unwrap_or(watch.since);
        let next = days_after(seen, watch.hold.every_days);
        found.push(item(name, &format!("{simulated}look at it"), next, today, "its watch"));
        let end = format!("{simulated}the watch may end, after a look on that day or later");
        found.push(item(name, &end, watch.ends.day(), today, "its watch"));
    }
}
