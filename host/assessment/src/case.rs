//! A case: one cell with its label, its looks, what is known of it, and the setting in which it is judged.

use crate::adapter::AdapterUsed;
use crate::guard::GuardUsed;
use crate::history::{History, fixture_name, made};
use crate::recorded::Recorded;
use crate::same_cell::{Facts, contradictions};
use crate::{Assessment, Circumstances, Subject};
use celltriage_book::NewAttachment;
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_measure::estimate::{self, Estimates, FrontEnd};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_measure::trace::{Temperatures, Trace};
use celltriage_rules::{Packs, PlaceCode};
use celltriage_verdict::{Contradiction, DEFAULT_POLICY, Policy, RunOutcome};
use jiff::civil::Date;

/// Where a cell is judged, when, and by what.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Place whose rules apply.
    pub place: Option<PlaceCode>,
    /// Day of the decision at the place of this computer.
    pub date: Date,
    /// The policy.
    pub policy: Policy,
    /// The policy's text, as it is kept with each decision.
    pub policy_text: String,
    /// Rule packs.
    pub packs: Packs,
}

impl Setting {
    /// Makes a setting with the policy and the rule packs that are built in.
    ///
    /// # Errors
    /// A sentence; a build from changed data only.
    pub fn built_in(place: Option<PlaceCode>, date: Date) -> Result<Self, String> {
        Ok(Self {
            place,
            date,
            policy: Policy::built_in().map_err(|error| error.to_string())?,
            policy_text: DEFAULT_POLICY.to_owned(),
            packs: Packs::built_in().map_err(|error| error.to_string())?,
        })
    }
}

/// One cell to be judged.
#[derive(Clone, Debug)]
pub struct Case {
    /// The shop's name for it.
    pub id: String,
    /// Its label.
    pub nameplate: Nameplate,
    /// What was seen.
    pub observations: Observations,
    /// Where, when, by what.
    pub setting: Setting,
    /// What the book knows of it from before.
    pub history: History,
    /// Files as they were given.
    pub files: Vec<NewAttachment>,
}

/// Makes an attachment for the book.
pub fn attachment(name: &str, media_type: &str, bytes: Vec<u8>) -> NewAttachment {
    NewAttachment { name: name.to_owned(), media_type: media_type.to_owned(), bytes }
}

/// Makes an attachment of the text of a label file.
pub fn label_file(text: String) -> NewAttachment {
    attachment("label.toml", "application/toml", text.into_bytes())
}

/// How a measurement came about, for the record.
#[derive(Clone, Debug)]
pub struct Origin {
    /// A port, the simulated bench, a file.
    pub source: String,
    /// Which fixture.
    pub fixture: Option<String>,
    /// Which guard watched over the run.
    pub guard: Option<GuardUsed>,
    /// Which adapter was between fixture and cell.
    pub adapter: Option<AdapterUsed>,
    /// Number of its calibration.
    pub calibration: Option<u32>,
    /// What is known of that calibration.
    pub calibration_used: Option<CalibrationUsed>,
    /// How the run went.
    pub run: RunOutcome,
    /// Its measuring budget.
    pub front_end: FrontEnd,
    /// Deviations of the plan from the standard's currents, damage of a recording.
    pub notes: Vec<String>,
}

impl Origin {
    /// Makes the origin of a recording, with the plan's deviations.
    pub fn of(source: String, recorded: &Recorded, deviations: &[String]) -> Self {
        Self {
            source,
            fixture: recorded.fixture(),
            guard: recorded.guard(),
            adapter: recorded.adapter(),
            calibration: recorded.calibration(),
            calibration_used: None,
            run: recorded.run.clone(),
            front_end: recorded.front_end(),
            notes: deviations.iter().chain(&recorded.damage).cloned().collect(),
        }
    }

    /// Makes the origin of a case in which nothing was measured.
    pub fn none(why: &str) -> Self {
        let run = RunOutcome::NotMeasured { why: why.to_owned() };
        Self { run, ..Self::elsewhere("no measurement".to_owned()) }
    }

    /// Makes the origin of a trace that another program or instrument recorded.
    pub fn elsewhere(source: String) -> Self {
        Self {
            source,
            fixture: None,
            guard: None,
            adapter: None,
            calibration: None,
            calibration_used: None,
            run: RunOutcome::Recorded,
            front_end: FrontEnd::unknown(),
            notes: Vec::new(),
        }
    }
}

impl Origin {
    /// Judges by what is known of the calibration: its doubt goes into every uncertainty.
    #[must_use]
    pub fn calibrated(mut self, used: Option<CalibrationUsed>) -> Self {
        if let Some(used) = &used {
            self.front_end = used.front_end();
        }
        self.calibration_used = used;
        self
    }
}

impl Case {
    /// Makes a case of a cell of which nothing is known from before, and without files.
    pub fn new(id: &str, nameplate: Nameplate, observations: Observations, setting: Setting) -> Self {
        let (history, files) = (History::default(), Vec::new());
        Self { id: id.to_owned(), nameplate, observations, setting, history, files }
    }

    /// Adds what only the visits before can tell.
    fn compare_with_before(&self, estimates: &mut Estimates, front_end: &FrontEnd, fixture: Option<String>) {
        let Some(at) = self.history.now.clone() else { return };
        let now = made(at, estimates, self.observations.rested_h, fixture);
        let found = estimate::self_discharge(&self.nameplate, front_end, &self.history.visits, &now);
        for (quantity, found) in found {
            estimates.put(quantity, found);
        }
    }

    /// Compares with the earlier decisions on the cell.
    fn against_before(&self, estimates: &Estimates) -> Vec<Contradiction> {
        let now = Facts::of(&self.nameplate, &self.observations, &estimates.measured);
        let History { earlier, lies_since, .. } = &self.history;
        contradictions(earlier, &now, self.setting.date, *lies_since)
    }

    /// Judges the cell by its looks and a trace, if there is one.
    pub fn judge(&self, trace: Option<&Trace>, origin: Origin) -> Assessment {
        let mut circumstances = Circumstances::new(self.setting.date, &origin.source, origin.run);
        circumstances.place = self.setting.place.clone();
        circumstances.fixture = origin.fixture;
        circumstances.guard = origin.guard;
        circumstances.adapter = origin.adapter;
        circumstances.calibration = origin.calibration;
        circumstances.calibration_used = origin.calibration_used;
        circumstances.trace_notes = origin.notes;
        let estimates: Estimates = match trace {
            Some(trace) => {
                circumstances.front_end = Some(origin.front_end.name.clone());
                let temperatures: Temperatures = trace.points.gather(0..trace.points.len());
                circumstances.temperature_c = temperatures.cell().map(|mean| mean.0);
                circumstances.trace_notes.extend(trace.notes.iter().map(ToString::to_string));
                let mut estimates =
                    estimate::all(trace, &self.nameplate, &self.observations, &origin.front_end);
                let fixture = fixture_name(circumstances.fixture.as_deref(), circumstances.calibration);
                self.compare_with_before(&mut estimates, &origin.front_end, fixture);
                estimates
            }
            None => {
                let why = match &circumstances.run {
                    RunOutcome::NotMeasured { why } => why.clone(),
                    _ => "there is no trace".to_owned(),
                };
                estimate::without_trace(&self.nameplate, &self.observations, &why)
            }
        };
        let subject = Subject {
            contradictions: self.against_before(&estimates),
            labels_of_model: self.history.labels_of_model.clone(),
            cell_id: Some(self.id.clone()),
            nameplate: self.nameplate.clone(),
            observations: self.observations.clone(),
            estimates,
            circumstances,
            siblings: self.history.siblings.clone(),
            known: self.history.known.clone(),
            case_file: self.history.case_file.clone(),
            lifetime: self.history.lifetime.clone(),
        };
        Assessment::build(subject, &self.setting.policy, &self.setting.packs)
    }
}
