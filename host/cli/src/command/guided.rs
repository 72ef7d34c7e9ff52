//! `guided`: a full capacity run, stage by stage: your charger charges, the fixture checks and discharges.
//!
//! Each call does what is due for the cell and says what comes next; it may be called again after hours, days or a
//! restart of the computer. Nobody is told to charge a cell that nobody has looked at, or that the book speaks against.

mod before_charge;
mod due;
mod full_check;
mod label;
mod list;

pub use full_check::{Checked, checked_and_discharged};

use super::assess::{Assessed, kept_off_for_its_looks, not_measured};
use super::{known_first, show};
use crate::arguments::{BenchArguments, BookPath, CaseArguments, LeaveArguments};
use crate::case::{given_looks, read_looks};
use crate::cell_name::cell_name;
use crate::clock_check::{open_to_write, stated_day_holds, warn_beside};
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::measure::{Leave, finished};
use celltriage_assessment::case::{Case, Setting};
use celltriage_book::{Book, NewAttachment};
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_workshop::capacity_run::{self as guided, Next, Run, Stage, Step, runs};
use clap::Args;
use due::Due;
use jiff::Timestamp;

/// Options of `guided`.
#[derive(Debug, Args)]
pub struct GuidedArguments {
    /// The shop's own name for the cell, as on its tag.
    #[arg(long, value_name = "NAME", value_parser = cell_name)]
    pub id: Option<String>,
    /// Show all cells that are in a run, and what is next for each.
    #[arg(long)]
    pub list: bool,
    /// The cell has just come off the charger, which ended by itself.
    #[arg(long)]
    pub charged: bool,
    /// Stay until the rest is over, then go on.
    #[arg(long)]
    pub wait: bool,
    /// Where it is measured.
    #[command(flatten)]
    pub bench: BenchArguments,
    /// What a person takes upon themself.
    #[command(flatten)]
    pub leave: LeaveArguments,
    /// Label, looks, place and policy; after the first call the label is known from the book.
    #[command(flatten)]
    pub case: CaseArguments,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Print what is due, the decision, or the list, as JSON.
    #[arg(long)]
    pub json: bool,
}

/// One call for one cell.
struct Call<'a> {
    arguments: &'a GuidedArguments,
    id: &'a str,
    nameplate: Nameplate,
    files: Vec<NewAttachment>,
    setting: Setting,
    choice: FixtureChoice,
    /// Whether the cell is one of the simulated bench, by this call or by the book.
    simulated: bool,
    leave: Leave,
}

/// Runs `guided`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &GuidedArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let Some(id) = arguments.id.as_deref().filter(|_| !arguments.list) else {
        let book = Book::open(&arguments.book.path)?;
        stated_day_holds(io)?;
        warn_beside(&book, io);
        list::list(&book, arguments.json, io)?;
        return Ok(EXIT_DONE);
    };
    // Looks first: where the cell is reacting now, nothing else may stand before the emergency text.
    let setting = crate::case::read_setting(&arguments.case.setting, io)?;
    let seen = given_looks(&arguments.case.looks)?;
    alarmed(&seen, &setting, io);
    let choice = arguments.bench.choice()?;
    let simulated = known_first::told(
        &arguments.book.path,
        id,
        &arguments.case.looks,
        choice.bench_cell().is_some(),
        io,
    )?
    .simulated;
    let mut book = open_to_write(&arguments.book.path, seen.answer(Sign::ActiveNow) == Answer::Yes, io)?;
    let known = runs(&book, Some(id))?.remove(id);
    let (nameplate, files) = label::label(&book, id, &arguments.case.label, choice.bench_cell(), io)?;
    let leave = Leave::by_options(&arguments.leave);
    let call = Call { arguments, id, nameplate, files, setting, choice, simulated, leave };

    let due = guided::next(known.as_ref(), arguments.charged, io.now);
    if due != Next::Measure {
        let case = call.case(seen, &book, io)?;
        // What is known from before is told by the refusal below: it is no new decision.
        if let Some(why) = kept_off_for_its_looks(&case) {
            let assessed = not_measured(&case, &why, call.simulated, &mut book, io)?;
            return Err(call.ended(&assessed, why, &mut book, io)?);
        }
    }
    call.not_refused(&book, io)?;
    if let Some(run) = &known {
        call.keep_label(run, &mut book, io)?;
    }
    if arguments.charged && due != Next::BeginRest {
        io.note(&format!("note: {id} is off the charger and at rest already; its rest goes on"));
    }
    call.go_on(due, &mut book, io)
}

impl Call<'_> {
    /// Does what is due, stage after stage, until a person or the time has to do something.
    fn go_on(self, mut due: Next, book: &mut Book, io: &mut Io<'_>) -> Result<u8, Error> {
        let (id, json, wait) = (self.id, self.arguments.json, self.arguments.wait);
        loop {
            match due {
                Next::BeginCharge { why } => {
                    if let Some(why) = &why {
                        io.note(&format!("note: {why}"));
                    }
                    self.make_chargeable(book, io)?;
                    let stage = Stage::ToCharge { why };
                    guided::write(book, id, &self.step(stage), Vec::new(), io.now)?;
                    due = Next::Charge;
                }
                Next::Charge => {
                    self.make_chargeable(book, io)?;
                    let charge = Due::charge(id, &self.nameplate).simulated(self.simulated);
                    charge.begin(json, io);
                    if !wait || !due::charger_has_ended(io) {
                        charge.end(json, io)?;
                        return Ok(EXIT_DONE);
                    }
                    io.now = Timestamp::now().max(io.now);
                    due = Next::BeginRest;
                }
                Next::BeginRest => {
                    guided::write(book, id, &self.step(Stage::Resting), Vec::new(), io.now)?;
                    due = guided::next(runs(book, Some(id))?.get(id), false, io.now);
                }
                Next::Rest { until } => {
                    let rest = Due::rest(id, until, io).simulated(self.simulated);
                    rest.begin(json, io);
                    if !wait || !due::waited(until, io) {
                        rest.end(json, io)?;
                        return Ok(EXIT_DONE);
                    }
                    io.now = until;
                    due = Next::Measure;
                }
                Next::Measure => return self.measured(book, io),
            }
        }
    }

    /// Looks at the cell once more, checks that it is full, discharges it, and shows the decision.
    fn measured(self, book: &mut Book, io: &mut Io<'_>) -> Result<u8, Error> {
        let observations = read_looks(&self.arguments.case.looks, io)?;
        alarmed(&observations, &self.setting, io);
        let case = self.case(observations, book, io)?;
        let checked =
            checked_and_discharged(&case, (&self.choice.charged(), self.simulated), &self.leave, book, io)?;
        let assessed = checked.decided(&case)?;
        io.note(&format!("written as entry {} of {}", assessed.entry, book.path().display()));
        show(&assessed.assessment, self.arguments.json, io)?;
        let done = assessed.by_choice || finished(&assessed.assessment.conditions.run);
        Ok(if done { EXIT_DONE } else { EXIT_UNFINISHED })
    }

    fn step(&self, stage: Stage) -> Step {
        Step::new(stage, self.nameplate.clone())
    }

    fn case(&self, observations: Observations, book: &Book, io: &Io<'_>) -> Result<Case, Error> {
        let history = celltriage_workshop::history::read(
            book,
            self.id,
            self.nameplate.model.as_deref(),
            self.simulated,
            io.now,
            &io.zone,
        )?;
        Ok(Case {
            id: self.id.to_owned(),
            nameplate: self.nameplate.clone(),
            observations,
            setting: self.setting.clone(),
            history,
            files: self.files.clone(),
        })
    }

    /// Writes a label that has changed beside the stage the cell is at, so that the next call knows it.
    fn keep_label(&self, run: &Run, book: &mut Book, io: &mut Io<'_>) -> Result<(), Error> {
        let stage = &run.step.stage;
        let figures = |label: &Nameplate| Nameplate { warnings: Vec::new(), ..label.clone() };
        let same = figures(&run.step.nameplate) == figures(&self.nameplate);
        if same || !matches!(stage, Stage::ToCharge { .. } | Stage::Resting) {
            return Ok(());
        }
        let step = Step { since: Some(run.since), ..self.step(stage.clone()) };
        let entry = guided::write(book, self.id, &step, Vec::new(), io.now)?;
        io.note(&format!("note: from now on the run has the new label (entry {})", entry.number));
        Ok(())
    }

    /// Shows a decision that ends the run, and returns what to tell about it.
    fn ended(
        &self,
        assessed: &Assessed,
        why: String,
        book: &mut Book,
        io: &mut Io<'_>,
    ) -> Result<Error, Error> {
        let stage = Stage::Done { decision: assessed.entry };
        guided::write(book, self.id, &self.step(stage), Vec::new(), io.now)?;
        io.note(&format!("written as entry {} of {}", assessed.entry, book.path().display()));
        show(&assessed.assessment, self.arguments.json, io)?;
        Ok(before_charge::refused(self.id, &why))
    }
}

/// Tells at once what to do about a cell that is reacting.
fn alarmed(seen: &Observations, setting: &Setting, io: &mut Io<'_>) {
    if seen.answer(Sign::ActiveNow) == Answer::Yes {
        crate::case::alarm(setting, io);
    }
}
