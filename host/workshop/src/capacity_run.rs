//! A full capacity run in which the shop's charger charges and the fixture discharges: its stages, kept in the book.
//!
//! A run takes two days and two devices. Each stage is an entry of the book, so that it goes on after a restart of the
//! program or of the computer: charge, rest, check that the cell is really full, discharge. Takes entries; gives the stage
//! a cell is at and what comes next. Nothing here measures or prints.

use celltriage_book::{Book, Entry, Filter, NewEntry, RecordingNumber, Subject, record_entry};
use celltriage_custody::CustodyError;
use celltriage_custody::cell::Cell;
use celltriage_custody::state::State;
use celltriage_instrument::simulated::marked;
use celltriage_measure::nameplate::{Fullness, Nameplate};
use celltriage_verdict::{figure, limit_figure};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Kind of an entry that holds a stage.
pub const KIND: &str = "capacity_run";
/// Rest between charge and discharge (IEC 61960-3: 1 to 4 h, from memory).
pub const REST: SignedDuration = SignedDuration::from_hours(1);

/// A stage of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "stage", rename_all = "snake_case")]
pub enum Stage {
    /// To be charged, for the first time or again.
    ToCharge {
        /// Why again.
        why: Option<String>,
    },
    /// Off the charger, at rest since the entry's time.
    Resting,
    /// Found full; the discharge was begun.
    Discharging,
    /// The run ended with a decision: after the discharge, or before it where something spoke against it.
    Done {
        /// The entry of the decision; 0 where the book did not take it then.
        decision: u32,
    },
}

/// What the entry of a stage holds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// The stage.
    #[serde(flatten)]
    pub stage: Stage,
    /// The label, so that nobody needs to give it again.
    pub nameplate: Nameplate,
    /// Since when it is at this stage, where that is not the time of the entry: only the label was written again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub since: Option<Timestamp>,
}

impl Step {
    /// Makes a step that begins with its entry.
    pub const fn new(stage: Stage, nameplate: Nameplate) -> Self {
        Self { stage, nameplate, since: None }
    }

    /// Returns since when a cell is at this step, which stands in an entry of this time.
    pub fn since(&self, entry: Timestamp) -> Timestamp {
        self.since.unwrap_or(entry)
    }
}

/// A cell in a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Run {
    /// Since when it is at this stage.
    pub since: Timestamp,
    /// Stage and label.
    pub step: Step,
}

impl Run {
    /// Returns until when a cell rests that is at rest.
    fn rests_until(&self) -> Timestamp {
        self.since.checked_add(REST).unwrap_or(self.since)
    }
}

/// What comes next.
#[derive(Clone, Debug, PartialEq)]
pub enum Next {
    /// Charge it; the stage is new and must be written.
    BeginCharge {
        /// Why again.
        why: Option<String>,
    },
    /// It is still to be charged.
    Charge,
    /// It was charged: it rests from now on, which must be written.
    BeginRest,
    /// It still rests.
    Rest {
        /// Until then.
        until: Timestamp,
    },
    /// Measure, and discharge if it is full.
    Measure,
}

/// Returns what comes next for a cell; `charged` says that it has just come off the charger. Said again while the cell
/// rests it changes nothing: the hour has begun.
pub fn next(run: Option<&Run>, charged: bool, now: Timestamp) -> Next {
    let resting =
        run.filter(|run| run.step.stage == Stage::Resting).is_some_and(|run| run.rests_until() > now);
    if charged && !resting {
        return Next::BeginRest;
    }
    let Some(run) = run else { return Next::BeginCharge { why: None } };
    match &run.step.stage {
        Stage::Done { .. } => Next::BeginCharge { why: None },
        Stage::ToCharge { .. } => Next::Charge,
        Stage::Resting if resting => Next::Rest { until: run.rests_until() },
        Stage::Resting => Next::Measure,
        Stage::Discharging => Next::BeginCharge {
            why: Some("the discharge was begun and never judged, so the cell is no longer full".to_owned()),
        },
    }
}

/// Says whether a cell that rests at this voltage may be discharged for its capacity, with what is to be noted of it.
///
/// # Errors
/// A sentence that says why not.
pub fn ready(nameplate: &Nameplate, rest_v: f64, charger_ended: bool) -> Result<Option<String>, String> {
    let (rest, limit) = (figure(rest_v, "V"), limit_figure(nameplate.charge_limit_v, "V"));
    let lacking = (nameplate.charge_limit_v - rest_v) * 1e3;
    let fullness = match charger_ended {
        true => nameplate.fullness_off_charger(rest_v),
        false => nameplate.fullness(rest_v),
    };
    match fullness {
        Fullness::Full => Ok(None),
        Fullness::Nearly => Ok(Some(format!(
            "it rests at {rest}, {lacking:.0} mV below its limit of {limit}: taken, with a wider doubt"
        ))),
        Fullness::NotFull => {
            Err(format!("not full: it rests at {rest}, {lacking:.0} mV below its limit of {limit}"))
        }
        Fullness::Over => {
            Err(format!("over-charged: it rests at {rest}, {:.0} mV above its limit of {limit}", -lacking))
        }
    }
}

/// Returns the stage that a cell of the book is at, by its name; nothing where it never was in a run.
///
/// # Errors
/// A book error.
pub fn runs(book: &Book, cell_id: &str) -> Result<BTreeMap<String, Run>, CustodyError> {
    let (about, kind) = (Some(Subject::cell(cell_id)), Some(KIND.to_owned()));
    // Newest first: the first stage is the one that holds.
    let filter = Filter { about, kind, limit: Some(1), ..Filter::default() };
    let mut runs = BTreeMap::new();
    for entry in book.entries(&filter)? {
        let step = step_of(&entry).map_err(|error| book.unreadable(&entry, error))?;
        runs.insert(entry.subject.name.clone(), Run { since: step.since(entry.at), step });
    }
    Ok(runs)
}

/// Reads the stage of an entry.
///
/// # Errors
/// It holds none.
pub fn step_of(entry: &Entry) -> Result<Step, serde_json::Error> {
    serde_json::from_value(entry.inputs.clone())
}

/// Writes a stage; it is on the disk when this returns.
///
/// # Errors
/// A book error.
pub fn write(
    book: &mut Book,
    cell_id: &str,
    step: &Step,
    recordings: Vec<RecordingNumber>,
    at: Timestamp,
) -> Result<Entry, CustodyError> {
    let simulated = State::about(book, &[cell_id])?.cells.get(cell_id).is_some_and(Cell::is_simulated);
    let mut entry =
        entry(cell_id, step, simulated, at).map_err(|error| book.not_storable("capacity run", error))?;
    entry.recordings = recordings;
    Ok(book.append(entry)?)
}

/// Returns a stage as an entry; `simulated` says whether it is a cell of the simulated bench.
///
/// # Errors
/// It cannot be written as JSON.
pub fn entry(
    cell_id: &str,
    step: &Step,
    simulated: bool,
    at: Timestamp,
) -> Result<NewEntry, serde_json::Error> {
    let limit = limit_figure(step.nameplate.charge_limit_v, "V");
    let words = match &step.stage {
        Stage::ToCharge { why: None } => format!("to be charged to {limit}"),
        Stage::ToCharge { why: Some(why) } => format!("to be charged to {limit} again: {why}"),
        Stage::Resting => "off the charger, at rest".to_owned(),
        Stage::Discharging => "found full, discharge begun".to_owned(),
        Stage::Done { decision: 0 } => "ended with a decision that lay beside the book".to_owned(),
        Stage::Done { decision } => format!("ended with the decision of entry {decision}"),
    };
    let summary = format!("{cell_id:<12} capacity run: {words}");
    let new = NewEntry {
        summary: marked(&summary, simulated),
        simulated: simulated.then_some(true),
        ..NewEntry::of(KIND, Subject::cell(cell_id), at)
    };
    record_entry(new, step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_measure::test_support::nameplate;

    fn at(minutes: i64) -> Timestamp {
        Timestamp::from_second(1_764_000_000 + 60 * minutes).unwrap()
    }

    fn run(stage: Stage) -> Run {
        Run { since: at(0), step: Step::new(stage, nameplate()) }
    }

    #[test]
    fn each_stage_leads_to_the_next() {
        let to_charge = run(Stage::ToCharge { why: None });
        assert_eq!(next(None, false, at(0)), Next::BeginCharge { why: None });
        assert_eq!(next(Some(&to_charge), false, at(600)), Next::Charge);
        assert_eq!(next(Some(&to_charge), true, at(600)), Next::BeginRest);
        assert_eq!(
            next(Some(&run(Stage::Done { decision: 3 })), false, at(9)),
            Next::BeginCharge { why: None }
        );
    }

    #[test]
    fn charged_said_again_during_the_rest_does_not_begin_it_anew() {
        let resting = run(Stage::Resting);
        assert_eq!(next(Some(&resting), true, at(59)), Next::Rest { until: at(60) });
        // After the rest it has been on the charger once more.
        assert_eq!(next(Some(&resting), true, at(60)), Next::BeginRest);
        assert_eq!(next(Some(&run(Stage::ToCharge { why: None })), true, at(1)), Next::BeginRest);
    }

    #[test]
    fn the_rest_is_an_hour_to_the_second() {
        let resting = run(Stage::Resting);
        assert_eq!(next(Some(&resting), false, at(59)), Next::Rest { until: at(60) });
        assert_eq!(next(Some(&resting), false, at(60)), Next::Measure);
        // Days later, in another run of the program, too.
        assert_eq!(next(Some(&resting), false, at(5000)), Next::Measure);
    }

    #[test]
    fn a_discharge_that_broke_off_begins_with_a_charge_again() {
        let broken = run(Stage::Discharging);
        assert!(matches!(next(Some(&broken), false, at(9)), Next::BeginCharge { why: Some(_) }));
        assert_eq!(next(Some(&broken), true, at(9)), Next::BeginRest);
    }

    #[test]
    fn only_a_full_cell_is_discharged() {
        let plate = nameplate(); // 4.35 V
        for charger_ended in [false, true] {
            let ready = |rest_v| ready(&plate, rest_v, charger_ended);
            assert_eq!(ready(4.34), Ok(None));
            assert!(ready(4.32).unwrap().unwrap().contains("30 mV below"));
            // An aged cell settles so low, and only its charger tells that it is full.
            assert_eq!(ready(4.275).is_ok(), charger_ended);
            assert!(ready(4.20).unwrap_err().contains("150 mV below"));
            assert!(ready(4.41).unwrap_err().contains("over-charged"));
            assert!(ready(f64::NAN).is_err());
        }
    }

    #[test]
    fn stages_are_read_back_from_the_book_after_a_restart() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book.sqlite");
        let stages = [Stage::ToCharge { why: None }, Stage::Resting];
        for (minute, stage) in (0..).zip(stages) {
            let mut book = Book::open(&path).unwrap();
            write(&mut book, "PE-7", &Step::new(stage, nameplate()), Vec::new(), at(minute)).unwrap();
        }
        // A label that is written again moves no clock.
        let relabelled = Step { since: Some(at(1)), ..Step::new(Stage::Resting, nameplate()) };
        write(&mut Book::open(&path).unwrap(), "PE-7", &relabelled, Vec::new(), at(30)).unwrap();
        let book = Book::open_read_only(&path).unwrap();
        let runs = runs(&book, "PE-7").unwrap();
        assert_eq!((runs["PE-7"].since, &runs["PE-7"].step), (at(1), &relabelled));
    }
}
