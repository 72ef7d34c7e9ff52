//! `guided`: a full capacity run, stage by stage: your charger charges, the fixture checks and discharges.
//!
//! Each call does what is due for the cell and says what comes next; it may be called again after hours, days or a
//! restart of the computer.

use super::assess::{self, Assessed, looked_at};
use super::fixture_choice::FixtureChoice;
use super::say_json;
use super::show;
use crate::arguments::{BenchArguments, BookPath, CaseArguments, LeaveArguments};
use crate::book::{Book, RecordingNumber};
use crate::case::{Case, Setting, read_label, read_looks};
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error, Kind};
use crate::estimate::{self, Quantity};
use crate::guided::{self, Next, Stage, Step, runs};
use crate::history::History;
use crate::io::Io;
use crate::measure::{Leave, finished, measure};
use crate::nameplate::Nameplate;
use crate::output::{Style, hanging};
use crate::plan::{Extent, plan};
use crate::verdict::limit_figure;
use clap::Args;
use jiff::Timestamp;
use serde_json::json;
use std::time::{Duration, Instant};

/// Options of `guided`.
#[derive(Debug, Args)]
pub struct GuidedArguments {
    /// The shop's own name for the cell, as on its tag.
    #[arg(long, value_name = "NAME", required_unless_present = "list")]
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
    /// Print the decision, or the list, as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Runs `guided`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &GuidedArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut book = Book::open(&arguments.book.path).map_err(Error::book)?;
    let Some(id) = arguments.id.as_deref().filter(|_| !arguments.list) else {
        list(&book, arguments.json, io)?;
        return Ok(EXIT_DONE);
    };
    let known = runs(&book, Some(id))?.remove(id);
    let given = arguments.case.label.cell.is_some() || arguments.case.label.charge_limit_v.is_some();
    let choice = FixtureChoice::by_options(&arguments.bench)?;
    let (nameplate, files) = match (&known, choice.bench_cell()) {
        (Some(run), _) if !given => (run.step.nameplate.clone(), Vec::new()),
        (None, Some(cell)) if !given => (cell.nameplate.clone(), Vec::new()),
        _ => read_label(&arguments.case.label)?,
    };
    let mut due = guided::next(known.as_ref(), arguments.charged, io.now);
    loop {
        let step = |stage| Step { stage, nameplate: nameplate.clone() };
        match due {
            Next::BeginCharge { why } => {
                if let Some(why) = &why {
                    io.note(&format!("note: {why}"));
                }
                guided::write(&mut book, id, &step(Stage::ToCharge { why }), Vec::new(), io.now)?;
                due = Next::Charge;
            }
            Next::Charge => {
                let told = charging(id, &nameplate);
                let page = hanging("1 of 3  ", 8, &told, Style::new(io.width, false).width());
                io.say(&page);
                let asked = io.ask.as_mut().filter(|_| arguments.wait);
                let answer = asked
                    .and_then(|ask| ask("Press Enter when the charger has ended (anything else: later). "));
                if !answer.is_some_and(|line| line.trim().is_empty()) {
                    io.say(&format!("then: celltriage guided --id {id} --charged"));
                    return Ok(EXIT_DONE);
                }
                io.now = Timestamp::now().max(io.now);
                due = Next::BeginRest;
            }
            Next::BeginRest => {
                guided::write(&mut book, id, &step(Stage::Resting), Vec::new(), io.now)?;
                due = guided::next(runs(&book, Some(id))?.get(id), false, io.now);
            }
            Next::Rest { until } => {
                let clock = until.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
                io.say(&format!(
                    "2 of 3  let {id} rest off the charger until {clock}, in the room, away from heat."
                ));
                if !arguments.wait || !waited(until, io) {
                    io.say(&format!("then look at it, clip it on, and: celltriage guided --id {id}"));
                    return Ok(EXIT_DONE);
                }
                io.now = until;
                due = Next::Measure;
            }
            Next::Measure => {
                let setting = Setting::read(&arguments.case.setting, io)?;
                let observations = read_looks(&arguments.case.looks, io)?;
                let history = History::read(&book, id, nameplate.model.as_deref(), io.now, &io.zone)?;
                let case = Case { id: id.to_owned(), nameplate, observations, setting, history, files };
                let leave = Leave::by_options(&arguments.leave);
                return judged(&case, choice.charged(), &leave, &mut book, arguments.json, io);
            }
        }
    }
}

fn judged(
    case: &Case,
    choice: FixtureChoice,
    leave: &Leave,
    book: &mut Book,
    json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let assessed = checked_and_discharged(case, &choice, leave, book, io)?;
    io.note(&format!("written as entry {} of {}", assessed.entry, book.path().display()));
    show(&assessed.assessment, json, io)?;
    let done = assessed.by_choice || finished(&assessed.assessment.conditions.run);
    Ok(if done { EXIT_DONE } else { EXIT_UNFINISHED })
}

/// Checks that a cell is really full, then screens and discharges it; every stage goes into the book.
///
/// # Errors
/// A measurement error where it is not full, or the run could not begin; a book error where it could not be kept.
pub fn checked_and_discharged(
    case: &Case,
    choice: &FixtureChoice,
    leave: &Leave,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<Assessed, Error> {
    if let Some(why) = assess::must_not_be_loaded(case) {
        return assess::not_measured(case, &why, book, io);
    }
    looked_at(&case.observations, leave.said_in)?;
    let (rest, recording) = rest_voltage(case, choice, leave, book, io)?;
    let step = |stage| Step { stage, nameplate: case.nameplate.clone() };
    match guided::ready(&case.nameplate, rest) {
        Ok(note) => {
            io.note(&format!("3 of 3  {} rests at {rest:.3} V: full; discharging", case.id));
            note.iter().for_each(|note| io.note(&format!("note: {note}")));
        }
        Err((why, again)) => {
            let stage = Stage::ToCharge { why: Some(why.clone()) };
            guided::write(book, &case.id, &step(stage), vec![recording], io.now)?;
            let error =
                Error { kind: Kind::Measurement, message: format!("{}: {why}", case.id), hints: Vec::new() };
            return Err(match again {
                true => error.hint(format!("after charging: celltriage guided --id {} --charged", case.id)),
                false => error.hint(
                    "keep it apart, away from anything that burns, and check the label and the charger",
                ),
            });
        }
    }
    guided::write(book, &case.id, &step(Stage::Discharging), vec![recording], io.now)?;
    let leave = leave.for_the_next_run();
    let assessed = assess::assess(case, choice.connect(book)?, Extent::Full, &leave, book, io)?;
    let stage = Stage::Done { decision: assessed.entry };
    guided::write(book, &case.id, &step(stage), Vec::new(), io.now)?;
    Ok(assessed)
}

/// Measures the rest voltage without a load.
fn rest_voltage(
    case: &Case,
    choice: &FixtureChoice,
    leave: &Leave,
    book: &mut Book,
    io: &mut Io<'_>,
) -> Result<(f64, RecordingNumber), Error> {
    let planned = plan(&case.nameplate, Extent::Rest, 1).map_err(Error::input)?;
    let measured = measure(choice.connect(book)?, &planned, leave, &case.id, book, io)?;
    let none = |why: String| {
        Error {
            kind: Kind::Measurement,
            message: format!("{}: no rest voltage: {why}", case.id),
            hints: Vec::new(),
        }
        .hint("check the clips, then call again")
    };
    let Some(trace) = &measured.recorded.trace else { return Err(none("nothing was recorded".to_owned())) };
    let found =
        estimate::all(trace, &case.nameplate, &case.observations, &measured.calibration_used.front_end());
    match found.get(Quantity::RestVoltage) {
        Some(rest) => Ok((rest.value, measured.recording)),
        None => Err(none(found.missing.get(&Quantity::RestVoltage).cloned().unwrap_or_default())),
    }
}

/// What the technician is told to do at the charger.
fn charging(id: &str, nameplate: &Nameplate) -> String {
    let it = nameplate.rated_capacity_ah;
    format!(
        "charge {id} on your charger: limit {}, as on its label, never higher; at most {:.2} A (0.5 It, or what its \
         maker says); until the charger ends by itself (below {:.3} A). Between 10 and 45 °C, on a surface that cannot burn, with somebody near. Hot, swelling, smelling: stop.",
        limit_figure(nameplate.charge_limit_v, "V"),
        0.5 * it,
        0.05 * it,
    )
}

/// Waits on the spot; returns whether the time has come.
fn waited(until: Timestamp, io: &mut Io<'_>) -> bool {
    let wait = until.duration_since(io.now);
    let wait = Duration::from_secs(u64::try_from(wait.as_secs()).unwrap_or(0));
    io.note(&format!(
        "waiting {} min; Ctrl-C ends the waiting and loses nothing",
        wait.as_secs().div_ceil(60)
    ));
    let began = Instant::now();
    while began.elapsed() < wait {
        if io.stop_wanted() {
            return false;
        }
        std::thread::sleep(Duration::from_millis(500).min(wait));
    }
    true
}

fn list(book: &Book, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let runs = runs(book, None)?;
    let open = runs.iter().filter(|(_, run)| !matches!(run.step.stage, Stage::Done { .. }));
    let rows: Vec<_> = open
        .map(|(id, run)| {
            let what = match guided::next(Some(run), false, io.now) {
                Next::Charge => "on or before the charger".to_owned(),
                Next::Rest { until } => {
                    format!(
                        "rests until {}",
                        until.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M")
                    )
                }
                Next::Measure => "has rested: clip it on".to_owned(),
                Next::BeginCharge { why } => why.unwrap_or_else(|| "to be charged".to_owned()),
                Next::BeginRest => "off the charger".to_owned(),
            };
            (id, run, what)
        })
        .collect();
    if as_json {
        let rows: Vec<_> = rows
            .iter()
            .map(|(id, run, what)| json!({ "cell": id, "since": run.since.to_string(), "stage": run.step.stage, "next": what }))
            .collect();
        return say_json(&json!({ "schema": "celltriage.capacity_runs/1", "runs": rows }), io);
    }
    for (id, run, what) in &rows {
        let since = run.since.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
        io.say(&format!("{id:<12} {what} (since {since})"));
    }
    if rows.is_empty() {
        io.note("no cell is in a capacity run; begin with: celltriage guided --id NAME --cell LABEL.toml");
    }
    Ok(())
}
