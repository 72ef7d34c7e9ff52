//! One assessment as an entry of the book, and back again.
//!
//! An entry holds what the decision was made from (label, observations, setting, frames or trace, policy) as it was
//! given, so that the decision can be recomputed and explained years later.

use crate::Assessment;
use crate::case::{Case, Origin, Setting, attachment};
use crate::comparison::METHOD;
use crate::history::History;
use crate::recorded::Recorded;
use celltriage_book::{
    Book, BookError, Entry, NewAttachment, NewEntry, PROGRAM, RecordingNumber, Subject, SubjectKind,
};
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_measure::bdf;
use celltriage_measure::estimate::FrontEnd;
use celltriage_measure::mapping::Mapping;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::trace::Trace;
use celltriage_rules::{Packs, PlaceCode};
use celltriage_verdict::{Fate, LIFETIME_RECORD, Policy, RunOutcome};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Width of the line that an entry has for a list; sealed with the entry.
const SUMMARY_WIDTH: usize = 100;
/// Kind of an entry that holds an assessment.
pub const ASSESSMENT: &str = "assessment";
/// Attachment names; `book export` writes files of these names.
pub const POLICY: &str = "policy.toml";
/// What the book knew of the cell and its siblings when it was judged.
pub const HISTORY: &str = "history.json";
/// The workshop's own rule packs are kept under this and the name of their file.
const OWN_RULES: &str = "rules-";
/// A trace given as CSV.
pub const TRACE_CSV: &str = "trace.csv";
/// A trace given as text of another program, read by the mapping beside it.
pub const TRACE_TEXT: &str = "trace.txt";
/// How that text is read.
pub const MAPPING: &str = "columns.toml";
/// A recording of frames given as a file.
pub const TRACE_FRAMES: &str = "trace.frames";

/// What a decision was made from, besides the files.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Inputs {
    /// The label.
    pub nameplate: Nameplate,
    /// What was seen.
    pub observations: Observations,
    /// Place whose rules applied.
    pub place: Option<PlaceCode>,
    /// Day of the decision.
    pub date: Date,
    /// A port, the simulated bench, a file.
    pub source: String,
    /// Version of the methods that the decision was made by.
    #[serde(default = "first_method")]
    pub method: u32,
    /// How the run went.
    pub run: RunOutcome,
    /// Deviations of the plan from the standard's currents, and what was odd about the link.
    pub deviations: Vec<String>,
    /// What was known of the fixture's calibration.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_used: Option<CalibrationUsed>,
}

/// The first method that asks whether the label can be right.
const LABELS_ASKED: u32 = 4;
/// The first method that knows lower bounds of a capacity.
const BOUNDS_KNOWN: u32 = 5;

/// The method of entries that name none.
const fn first_method() -> u32 {
    1
}

/// What was measured, as it goes into the book.
#[derive(Clone, Debug)]
pub enum Evidence {
    /// Nothing was measured.
    Nothing,
    /// Files that were given: the trace, and how it is read where that is not plain.
    Files(Vec<NewAttachment>),
    /// A recording that has grown in the book.
    Recording(RecordingNumber),
}

/// Writes an assessment into the book; it is on the disk when this returns.
///
/// # Errors
/// A book error.
pub fn write(
    book: &mut Book,
    case: &Case,
    assessment: &Assessment,
    evidence: Evidence,
    deviations: &[String],
    at: Timestamp,
) -> Result<Entry, BookError> {
    let entry = entry(case, assessment, evidence, deviations, at)
        .map_err(|error| book.not_storable("assessment", error))?;
    book.append(entry)
}

/// Returns an assessment as an entry.
///
/// # Errors
/// It cannot be written as JSON.
pub fn entry(
    case: &Case,
    assessment: &Assessment,
    evidence: Evidence,
    deviations: &[String],
    at: Timestamp,
) -> Result<NewEntry, serde_json::Error> {
    let inputs = Inputs {
        nameplate: case.nameplate.clone(),
        observations: case.observations.clone(),
        place: case.setting.place.clone(),
        date: case.setting.date,
        source: assessment.conditions.source.clone(),
        method: METHOD,
        run: assessment.conditions.run.clone(),
        deviations: deviations.to_vec(),
        calibration_used: assessment.conditions.calibration_used.clone(),
    };
    let mut attachments = case.files.clone();
    attachments.push(attachment(POLICY, "application/toml", case.setting.policy_text.clone().into_bytes()));
    for (file, text) in case.setting.packs.own_files() {
        let name = format!("{OWN_RULES}{file}");
        attachments.push(attachment(&name, "application/toml", text.as_bytes().to_vec()));
    }
    if case.history != History::default() {
        // Not among the inputs: a search for another cell's name must not find this entry.
        let text = serde_json::to_vec(&case.history)?;
        attachments.push(attachment(HISTORY, "application/json", text));
    }
    let mut recordings = Vec::new();
    match evidence {
        Evidence::Nothing => {}
        Evidence::Files(files) => attachments.extend(files),
        Evidence::Recording(number) => recordings.push(number),
    }
    let a_name =
        |model: &&String| !model.is_empty() && model.trim() == *model && !model.contains(char::is_control);
    let model = case.nameplate.model.as_ref().filter(a_name);
    let mut personal: Vec<String> = case.observations.assessor.iter().cloned().collect();
    personal.extend(case.history.known.iter().filter_map(|known| known.by.clone()));
    personal.extend(case.history.case_file.iter().flat_map(|file| file.people()).map(str::to_owned));
    personal.sort();
    personal.dedup();
    Ok(NewEntry {
        at,
        kind: ASSESSMENT.to_owned(),
        subject: Subject::cell(&case.id),
        about: model.map(|model| Subject::new(SubjectKind::Model, model)).into_iter().collect(),
        simulated: Some(assessment.conditions.is_simulated()),
        personal,
        fate: Some(assessment.verdict.fate.key().to_owned()),
        summary: assessment.summary(SUMMARY_WIDTH).trim().to_owned(),
        program: PROGRAM.to_owned(),
        inputs: serde_json::to_value(&inputs)?,
        result: serde_json::to_value(assessment)?,
        corrects: None,
        attachments,
        recordings,
    })
}

/// An entry that holds no assessment that this program can read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("entry {entry} holds no assessment: {detail}")]
pub struct NotAnAssessment {
    /// Number of the entry.
    pub entry: u32,
    /// What does not fit.
    pub detail: String,
}

impl NotAnAssessment {
    fn of(entry: &Entry, detail: &serde_json::Error) -> Self {
        Self { entry: entry.number, detail: detail.to_string() }
    }
}

/// Reads the assessment of an entry.
///
/// # Errors
/// [`NotAnAssessment`].
pub fn assessment_of(entry: &Entry) -> Result<Assessment, NotAnAssessment> {
    Assessment::deserialize(&entry.result).map_err(|error| NotAnAssessment::of(entry, &error))
}

/// Returns the version of the methods that an entry was made by.
///
/// # Errors
/// [`NotAnAssessment`].
pub fn method_of(entry: &Entry) -> Result<u32, NotAnAssessment> {
    let inputs: Inputs =
        serde_json::from_value(entry.inputs.clone()).map_err(|error| NotAnAssessment::of(entry, &error))?;
    Ok(inputs.method)
}

/// Judges an entry's cell again from what was kept with it.
///
/// # Errors
/// A book error where something it was made from is missing or unreadable.
pub fn recompute(book: &Book, entry: &Entry) -> Result<Assessment, BookError> {
    let broken = |what: String| book.unreadable(entry, what);
    let inputs: Inputs =
        serde_json::from_value(entry.inputs.clone()).map_err(|error| broken(format!("inputs: {error}")))?;
    let policy_text = text_of(book, entry, POLICY)?;
    let policy = Policy::from_toml(&policy_text, POLICY).map_err(|error| broken(error.to_string()))?;
    // Decisions of before steps were withheld, or of before lives were asked about, come out as they did.
    let verdict = assessment_of(entry).map_err(|error| broken(error.detail))?.verdict;
    let policy = if verdict.forbids.is_some() { policy } else { policy.without_withholding() };
    let asked = verdict.reasons.iter().any(|reason| reason.criterion == LIFETIME_RECORD);
    let policy = if asked || verdict.fate != Fate::Reuse { policy } else { policy.without_traceability() };
    let policy = if inputs.method >= LABELS_ASKED { policy } else { policy.without_label() };
    let policy = if inputs.method >= BOUNDS_KNOWN { policy } else { policy.without_bounds() };
    let setting = Setting {
        place: inputs.place,
        date: inputs.date,
        policy,
        policy_text,
        packs: packs_of(book, entry)?,
    };
    let case = Case {
        id: entry.subject.name.clone(),
        nameplate: inputs.nameplate,
        observations: inputs.observations,
        setting,
        history: history_of(book, entry)?,
        files: Vec::new(),
    };
    let mut origin = Origin {
        source: inputs.source,
        fixture: None,
        guard: None,
        adapter: None,
        calibration: None,
        calibration_used: None,
        run: inputs.run,
        front_end: FrontEnd::unknown(),
        notes: inputs.deviations,
    };
    let trace = evidence_of(book, entry, &mut origin)?;
    Ok(case.judge(trace.as_ref(), origin.calibrated(inputs.calibration_used)))
}

/// Reads the rule packs that an entry was made with: the built-in ones, and over them those kept with it.
fn packs_of(book: &Book, entry: &Entry) -> Result<Packs, BookError> {
    let broken = |what: String| book.unreadable(entry, what);
    let mut packs = Packs::built_in().map_err(|error| broken(error.to_string()))?;
    for kept in book.attachments_of(entry.number)? {
        if let Some(file) = kept.name.strip_prefix(OWN_RULES) {
            let text = text_of(book, entry, &kept.name)?;
            packs.add_own(file, &text).map_err(|error| broken(error.to_string()))?;
        }
    }
    Ok(packs)
}

/// Reads the trace that an entry was made from, if one was kept.
///
/// # Errors
/// A book error where what was kept cannot be read.
pub fn trace_of(book: &Book, entry: &Entry) -> Result<Option<Trace>, BookError> {
    match frames_of(book, entry)? {
        Some(frames) => Ok(Recorded::read(&frames, None).trace),
        None => table_of(book, entry),
    }
}

fn frames_of(book: &Book, entry: &Entry) -> Result<Option<Vec<u8>>, BookError> {
    match book.recordings_of(entry.number)?.first() {
        Some(recording) => book.recording(recording.number),
        None => bytes_of(book, entry, TRACE_FRAMES),
    }
}

fn table_of(book: &Book, entry: &Entry) -> Result<Option<Trace>, BookError> {
    if let Some(text) = bytes_of(book, entry, TRACE_TEXT)? {
        let mapping = Mapping::from_toml(&text_of(book, entry, MAPPING)?, MAPPING);
        let mapping = mapping.map_err(|faults| book.unreadable(entry, faults))?;
        return mapping.read(&text, TRACE_TEXT).map(Some).map_err(|error| book.unreadable(entry, error));
    }
    let Some(csv) = bytes_of(book, entry, TRACE_CSV)? else { return Ok(None) };
    bdf::read(csv.as_slice(), TRACE_CSV).map(Some).map_err(|error| book.unreadable(entry, error))
}

/// Reads the trace that an entry was made from, and completes the origin from it.
fn evidence_of(book: &Book, entry: &Entry, origin: &mut Origin) -> Result<Option<Trace>, BookError> {
    if let Some(frames) = frames_of(book, entry)? {
        let recorded = Recorded::read(&frames, None);
        origin.fixture = recorded.fixture();
        origin.guard = recorded.guard();
        origin.adapter = recorded.adapter();
        origin.calibration = recorded.calibration();
        origin.front_end = recorded.front_end();
        origin.notes.extend(recorded.damage);
        return Ok(recorded.trace);
    }
    table_of(book, entry)
}

/// Reads what was known from before when an entry was written.
fn history_of(book: &Book, entry: &Entry) -> Result<History, BookError> {
    match bytes_of(book, entry, HISTORY)? {
        Some(bytes) => serde_json::from_slice(&bytes)
            .map_err(|error| book.unreadable(entry, format!("{HISTORY}: {error}"))),
        None => Ok(History::default()),
    }
}

fn bytes_of(book: &Book, entry: &Entry, name: &str) -> Result<Option<Vec<u8>>, BookError> {
    let attachments = book.attachments_of(entry.number)?;
    match attachments.into_iter().find(|attachment| attachment.name == name) {
        Some(found) => book.attachment(found.sha256),
        None => Ok(None),
    }
}

fn text_of(book: &Book, entry: &Entry, name: &str) -> Result<String, BookError> {
    let bytes =
        bytes_of(book, entry, name)?.ok_or_else(|| book.unreadable(entry, format!("{name} was not kept")))?;
    String::from_utf8(bytes).map_err(|error| book.unreadable(entry, format!("{name}: {error}")))
}
