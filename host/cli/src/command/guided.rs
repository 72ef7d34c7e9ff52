//! `guided`: a full capacity run, stage by stage: your charger charges, the fixture checks and discharges.
//!
//! Each call does what is due for the cell and says what comes next; it may be called again after hours, days or a
//! restart of the computer. Nobody is told to charge a cell that nobody has looked at, or that the book speaks against.

mod before_charge;
mod due;
mod label;
mod list;

use super::assess::overrides;
use super::known_first;
use super::shown::{Shown, show};
use crate::arguments::{BenchArguments, BookPath, CaseArguments, OverrideArguments};
use crate::beside;
use crate::case::{alarm, given_looks, read_looks, read_setting};
use crate::choice::{DISCHARGES, one_of};
use crate::clock_check::{begun, open_to_write, stated_day_holds, warn_beside};
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::run_view::RunView;
use crate::written_to::{Before, tell_written};
use celltriage_assessment::case::{Case, Setting};
use celltriage_book::{Kept, NewAttachment};
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::plan::Extent;
use celltriage_workshop::admission::kept_off_for_its_looks;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::capacity_run::{self, Next, Run, Stage, Step};
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::{Fault, Workshop};
use clap::Args;
use due::Due;
use jiff::Timestamp;

/// Options of `guided`.
#[derive(Debug, Args)]
pub struct GuidedArguments {
    /// The shop's own name for the cell, or its tag as scanned.
    #[arg(long, value_name = "NAME", value_parser = new_cell)]
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
    /// How the full cell is discharged.
    #[arg(long, value_parser = one_of(&DISCHARGES), default_value = "proof")]
    pub extent: Extent,
    /// Where it is measured.
    #[command(flatten)]
    pub bench: BenchArguments,
    /// Overrides the operator answers for.
    #[command(flatten)]
    pub overrides: OverrideArguments,
    /// Label, looks, place and policy; after the first call the label is known from the book.
    #[command(flatten)]
    pub case: CaseArguments,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Print what is due, the decision, or the list, as JSON.
    #[arg(long)]
    pub json: bool,
    /// Print the long page of a decision instead of its first screen: every criterion, figure, caution and source.
    #[arg(long, conflicts_with = "json")]
    pub full: bool,
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
    overrides: Overrides,
    clock: &'a HeldClock,
}

/// Runs `guided`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &GuidedArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let Some(id) = arguments.id.as_deref().filter(|_| !arguments.list) else {
        let book = begun(&arguments.book.path, io)?;
        stated_day_holds(io)?;
        warn_beside(&book, io);
        beside::tell(&arguments.book.path, io);
        list::list(&Workshop::new(book, &clock, io.zone.clone()), arguments.json, io)?;
        return Ok(EXIT_DONE);
    };
    // Looks first: where the cell is reacting now, nothing else may come before the emergency text.
    let setting = read_setting(&arguments.case.setting, io)?;
    let seen = given_looks(&arguments.case.looks)?;
    alarmed(&seen, &setting, io);
    let choice = arguments.bench.choice()?;
    beside::take_in(&arguments.book.path, io);
    let simulated = known_first::told(
        &arguments.book.path,
        id,
        &arguments.case.looks,
        choice.bench_cell().is_some(),
        io,
    )?
    .simulated;
    let book = open_to_write(&arguments.book.path, seen.answer(Sign::ActiveNow) == Answer::Yes, io)?;
    let mut shop = Workshop::new(book, &clock, io.zone.clone());
    let known = shop.capacity_runs(Some(id))?.remove(id);
    let (nameplate, files) = label::label(&shop, id, &arguments.case.label, choice.bench_cell(), io)?;
    let overrides = overrides(&arguments.overrides);
    let call = Call { arguments, id, nameplate, files, setting, choice, simulated, overrides, clock: &clock };

    let due = capacity_run::next(known.as_ref(), arguments.charged, shop.now());
    if due != Next::Measure {
        let case = call.case(seen);
        // What is known from before is told by the refusal below: it is not a new decision.
        if let Some(why) = kept_off_for_its_looks(&case) {
            let assessed = shop.keep_off(&case, &why, call.simulated)?;
            return Err(call.ended(&assessed, why, &mut shop, io)?.into());
        }
    }
    call.not_refused(&shop)?;
    if let Some(run) = &known {
        call.keep_label(run, &mut shop, io)?;
    }
    if arguments.charged && due != Next::BeginRest {
        io.note(&format!("note: {id} is off the charger and at rest already; its rest goes on"));
    }
    call.go_on(due, &mut shop, io)
}

impl Call<'_> {
    /// Does what is due, stage after stage, until a person or the time has to do something.
    fn go_on(self, mut due: Next, shop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<u8, Error> {
        let (id, json, wait) = (self.id, self.arguments.json, self.arguments.wait);
        loop {
            match due {
                Next::BeginCharge { why } => {
                    if let Some(why) = &why {
                        io.note(&format!("note: {why}"));
                    }
                    self.make_chargeable(shop, io)?;
                    let entry = shop.write_stage(id, &self.step(Stage::ToCharge { why }), Vec::new())?;
                    tell_written(entry.number, shop.book().path(), io);
                    due = Next::Charge;
                }
                Next::Charge => {
                    self.make_chargeable(shop, io)?;
                    let charge = Due::charge(id, &self.nameplate).simulated(self.simulated);
                    charge.begin(json, io);
                    if !wait || !due::charger_has_ended(io) {
                        charge.end(json, io)?;
                        return Ok(EXIT_DONE);
                    }
                    self.clock.move_to(Timestamp::now());
                    due = Next::BeginRest;
                }
                Next::BeginRest => {
                    let entry = shop.write_stage(id, &self.step(Stage::Resting), Vec::new())?;
                    tell_written(entry.number, shop.book().path(), io);
                    due = capacity_run::next(shop.capacity_runs(Some(id))?.get(id), false, shop.now());
                }
                Next::Rest { until } => {
                    let rest = Due::rest(id, until, io).simulated(self.simulated);
                    rest.begin(json, io);
                    if !wait || !due::waited(until, shop.now(), io) {
                        rest.end(json, io)?;
                        return Ok(EXIT_DONE);
                    }
                    self.clock.move_to(until);
                    due = Next::Measure;
                }
                Next::Measure => return self.measured(shop, io),
            }
        }
    }

    /// Looks at the cell once more, checks that it is full, discharges it, and shows the decision.
    fn measured(self, shop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<u8, Error> {
        let observations = read_looks(&self.arguments.case.looks, io)?;
        alarmed(&observations, &self.setting, io);
        // It rests here since `--charged`, which says so.
        let case = self.case(Observations { charger_ended: true, ..observations });
        let before = Before::of(shop.book());
        let mut view = RunView::on(io);
        let Self { choice, simulated, overrides, .. } = self;
        let job = Job { case, choice, simulated, extent: self.arguments.extent, overrides };
        let checked = shop.check_and_discharge(&job, &mut view);
        let Job { case, .. } = job;
        let assessed = checked.and_then(|checked| checked.decided(&case)).inspect_err(|_| {
            // A cell that is not full is written down with its rest.
            before.tell_newer(shop.book(), io);
        })?;
        beside::tell_entry(&assessed.kept, shop.book().path(), io);
        show(&assessed.assessment, shown(self.arguments, &assessed.kept), io)?;
        let done = if assessed.is_finished() { EXIT_DONE } else { EXIT_UNFINISHED };
        Ok(beside::exit_code(&assessed.kept, done))
    }

    fn step(&self, stage: Stage) -> Step {
        Step::new(stage, self.nameplate.clone())
    }

    fn case(&self, observations: Observations) -> Case {
        let case = Case::new(self.id, self.nameplate.clone(), observations, self.setting.clone());
        Case { files: self.files.clone(), ..case }
    }

    /// Writes a label that has changed beside the stage the cell is at, so that the next call knows it.
    fn keep_label(&self, run: &Run, shop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<(), Error> {
        if let Some(entry) = shop.relabel_run(self.id, run, &self.nameplate)? {
            io.note("note: from now on the run has the new label");
            tell_written(entry.number, shop.book().path(), io);
        }
        Ok(())
    }

    /// Shows a decision that ends the run, and returns what to tell about it.
    fn ended(
        &self,
        assessed: &Assessed,
        why: String,
        shop: &mut Workshop<'_>,
        io: &mut Io<'_>,
    ) -> Result<Fault, Error> {
        shop.end_run(self.id, &self.nameplate, assessed)?;
        beside::tell_entry(&assessed.kept, shop.book().path(), io);
        show(&assessed.assessment, shown(self.arguments, &assessed.kept), io)?;
        Ok(Fault::NotToBeCharged { cell: self.id.to_owned(), why })
    }
}

fn shown<'a>(arguments: &GuidedArguments, kept: &'a Kept) -> Shown<'a> {
    Shown { json: arguments.json, full: arguments.full, kept: Some(kept) }
}

/// Tells at once what to do about a cell that is reacting.
fn alarmed(seen: &Observations, setting: &Setting, io: &mut Io<'_>) {
    if seen.answer(Sign::ActiveNow) == Answer::Yes {
        alarm(setting, io);
    }
}
