//! A case: one cell with its label, its looks and the setting it is judged in, read from options and files.
//!
//! Options as typed become values as meant here, with every file kept as it was given, so that the book can show it.

use crate::arguments::{LabelArguments, LooksArguments, SettingArguments};
use crate::assessment::{Assessment, Circumstances, Subject};
use crate::error::{Error, read_text};
use crate::history::{History, fixture_name, made};
use crate::io::Io;
use crate::recorded::Recorded;
use crate::spoken::spoken;
use celltriage_book::NewAttachment;
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_measure::estimate::{self, Estimates, FrontEnd};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::nameplate_file::Overrides;
use celltriage_measure::observation::{Answer, HOW_TO_MEASURE_THICKNESS, Observations, Sign};
use celltriage_measure::trace::{Temperatures, Trace};
use celltriage_rules::{Packs, PlaceCode, emergency_texts};
use celltriage_verdict::{DEFAULT_POLICY, Policy, RunOutcome};
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
    /// Reads policy, place and packs.
    ///
    /// # Errors
    /// An input error that names the file and place of the fault.
    pub fn read(arguments: &SettingArguments, io: &Io<'_>) -> Result<Self, Error> {
        let (policy_text, name) = match &arguments.policy {
            Some(path) => (read_text(path, "policy")?, path.display().to_string()),
            None => (DEFAULT_POLICY.to_owned(), "built-in policy".to_owned()),
        };
        let place = match arguments.place.as_deref() {
            None | Some("") => None,
            Some(text) => Some(text.parse::<PlaceCode>().map_err(|error| Error::input(error.to_string()))?),
        };
        Ok(Self {
            place,
            date: io.today(),
            policy: Policy::from_toml(&policy_text, &name)
                .map_err(|error| Error::input(error.to_string()))?,
            policy_text,
            packs: crate::command::rules::read_packs(arguments.rules.as_deref())?,
        })
    }
}

impl Setting {
    /// Tells what to do about a cell that is reacting: at once the rules of its place, after the general words.
    pub fn alarm(&self, io: &mut Io<'_>) {
        io.emergency(emergency_texts(&self.packs, self.place.as_ref()));
    }

    /// Tells it once more.
    pub fn alarm_again(&self, io: &mut Io<'_>) {
        io.emergency_again(emergency_texts(&self.packs, self.place.as_ref()));
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

/// Reads the label from file and options; also returns the file as given.
///
/// # Errors
/// An input error with all that is wrong at once.
pub fn read_label(arguments: &LabelArguments) -> Result<(Nameplate, Vec<NewAttachment>), Error> {
    let options = Overrides {
        model: arguments.model.clone(),
        rated_capacity_ah: arguments.rated_capacity_ah,
        charge_limit_v: arguments.charge_limit_v,
        end_of_discharge_v: arguments.end_of_discharge_v,
        nominal_v: arguments.nominal_v,
        nominal_thickness_mm: arguments.nominal_thickness_mm,
        thickness_from: arguments.thickness_from.clone(),
        chemistry: arguments.chemistry.clone(),
        form: arguments.form.clone(),
        mass_g: arguments.mass_g,
    };
    let file = match &arguments.cell {
        Some(path) => Some((read_text(path, "label file")?, path.display().to_string())),
        None => None,
    };
    let borrowed = file.as_ref().map(|(text, name)| (text.as_str(), name.as_str()));
    let nameplate = Nameplate::read(borrowed, &options).map_err(|error| Error::input(error.to_string()))?;
    let kept = file.map(|(text, _)| attachment("label.toml", "application/toml", text.into_bytes()));
    Ok((nameplate, kept.into_iter().collect()))
}

/// Reads what was seen from file and options, and asks for the rest where somebody is there to answer.
///
/// # Errors
/// An input error that names file or option.
pub fn read_looks(arguments: &LooksArguments, io: &mut Io<'_>) -> Result<Observations, Error> {
    let mut looks = given_looks(arguments)?;
    if looks.answer(Sign::ActiveNow) == Answer::Yes {
        crate::danger_first::tell(io);
    }
    ask_for_the_rest(&mut looks, io);
    Ok(looks)
}

/// Reads what was seen from file and options, and asks nobody.
///
/// # Errors
/// An input error that names file or option.
pub fn given_looks(arguments: &LooksArguments) -> Result<Observations, Error> {
    let wrong = |error: celltriage_measure::observation::ObservationError| Error::input(error.to_string());
    let mut looks = match &arguments.observations {
        Some(path) => {
            Observations::from_toml(&read_text(path, "observations file")?, &path.display().to_string())?
        }
        None => Observations::default(),
    };
    if arguments.no_signs {
        looks = looks.overlaid(Observations::no_signs());
    }
    let mut later = Observations {
        assessor: arguments.assessor.clone(),
        note: arguments.note.clone(),
        ..Observations::default()
    };
    for given in &arguments.signs {
        let (sign, answer) = Observations::parse_option(given).map_err(wrong)?;
        later.set(sign, answer);
    }
    for given in &arguments.thickness_mm {
        later.add_thickness(Observations::parse_thickness(given).map_err(wrong)?);
    }
    later.new_cell = arguments.new_cell;
    later.rested_h = arguments.rested_h.map(Observations::check_rest).transpose().map_err(wrong)?;
    Ok(looks.overlaid(later))
}

/// Asks the open points one by one, the most dangerous first; ends at once where the cell is reacting now.
fn ask_for_the_rest(looks: &mut Observations, io: &mut Io<'_>) {
    let Some(ask) = io.ask.as_mut() else { return };
    for sign in Sign::ALL {
        if looks.answer(sign) != Answer::NotObserved || looks.answer(Sign::ActiveNow) == Answer::Yes {
            continue;
        }
        loop {
            let question = format!("{} [y/n, ? = how to look, empty = not looked] ", sign.question());
            let Some(line) = ask(&question) else { return };
            let Some(answer) = spoken(&line) else {
                let _answer_comes_next_round = writeln!(io.err, "  {}", sign.help());
                continue;
            };
            looks.set(sign, answer);
            if (sign, answer) == (Sign::ActiveNow, Answer::Yes) {
                crate::danger_first::tell(io);
                return;
            }
            break;
        }
    }
}

/// Asks for the thickness, point by point, where the label states one, none was given and somebody is there to answer.
/// A slip of the finger is told and the point asked again: nothing that was answered before is lost.
pub fn ask_for_thickness(looks: &mut Observations, nameplate: &Nameplate, io: &mut Io<'_>) {
    let asked =
        nameplate.nominal_thickness_mm.filter(|_| looks.thickness_mm.is_empty() && !looks.any_found());
    let Some(nominal) = asked.filter(|_| io.ask.is_some()) else { return };
    io.note(HOW_TO_MEASURE_THICKNESS);
    for point in ["the middle", "one corner", "another corner"] {
        let question =
            format!("Thickness at {point} in mm (made: {nominal}), readings with commas [empty = none] ");
        loop {
            let line = io.ask.as_mut().and_then(|ask| ask(&question));
            let Some(line) = line.filter(|line| !line.trim().is_empty()) else { return };
            match Observations::parse_thickness(line.trim()) {
                Ok(readings) => {
                    looks.add_thickness(readings);
                    break;
                }
                Err(error) => io.note(&format!("  {error}")),
            }
        }
    }
}

/// Makes an attachment for the book.
pub fn attachment(name: &str, media_type: &str, bytes: Vec<u8>) -> NewAttachment {
    NewAttachment { name: name.to_owned(), media_type: media_type.to_owned(), bytes }
}

/// How a measurement came about, for the record.
#[derive(Clone, Debug)]
pub struct Origin {
    /// A port, the simulated bench, a file.
    pub source: String,
    /// Which fixture.
    pub fixture: Option<String>,
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
    /// Adds what only the visits before can tell.
    fn compare_with_before(&self, estimates: &mut Estimates, front_end: &FrontEnd, fixture: Option<String>) {
        let Some(at) = self.history.now.clone() else { return };
        let now = made(at, estimates, self.observations.rested_h, fixture);
        let found = estimate::self_discharge(&self.nameplate, front_end, &self.history.visits, &now);
        for (quantity, found) in found {
            estimates.put(quantity, found);
        }
    }

    /// Judges the cell by its looks and a trace, if there is one.
    pub fn judge(&self, trace: Option<&Trace>, origin: Origin) -> Assessment {
        let mut circumstances = Circumstances::new(self.setting.date, &origin.source, origin.run);
        circumstances.place = self.setting.place.clone();
        circumstances.fixture = origin.fixture;
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
            cell_id: Some(self.id.clone()),
            nameplate: self.nameplate.clone(),
            observations: self.observations.clone(),
            estimates,
            circumstances,
            siblings: self.history.siblings.clone(),
            known: self.history.known.clone(),
        };
        Assessment::build(subject, &self.setting.policy, &self.setting.packs)
    }
}
