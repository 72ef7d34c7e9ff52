//! `assess`: one cell, from label and looks over the fixture to decision and book. What is missing is asked for at a terminal.

use super::lead_on::{Decided, lead_on};
use super::shown::{Shown, show};
use super::{known_first, same_label};
use crate::arguments::{AssessArguments, BookPath, LabelArguments, OverrideArguments};
use crate::asked::id::{AskedId, ask_id};
use crate::asked::label_read::LabelRead;
use crate::asked::model::ModelQuestion;
use crate::beside;
use crate::case::{alarm, alarm_again, given_looks, read_label, read_setting, warn_of_label};
use crate::clock_check::open_to_write;
use crate::desk::DeskArguments;
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::Io;
use crate::questions::Questions;
use crate::run_view::RunView;
use crate::settings::Settings;
use crate::settings::key::{PERSON, QUALIFICATION};
use celltriage_assessment::case::{Case, Setting};
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_verdict::CellState;
use celltriage_workshop::Workshop;
use celltriage_workshop::admission::Before;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::job::Job;
use celltriage_workshop::known_label::KnownLabel;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::model_library::{LabelFrom, ModelLibrary};

/// What is known before the looks: which cell it is, what the book has of it, whether it reacts, what its label says.
struct Begun {
    id: AskedId,
    before: Before,
    given: Observations,
    choice: FixtureChoice,
    label: LabelRead,
}

/// Runs `assess`.
///
/// # Errors
/// Input, measurement and book errors, each with what to do.
pub fn run(arguments: &AssessArguments, settings: &Settings, io: &mut Io<'_>) -> Result<u8, Error> {
    // Looks first: where the cell is reacting now, nothing else may come before the emergency text.
    let setting = read_setting(&arguments.case.setting, io)?;
    beside::take_in(&arguments.book.path, io);
    let Begun { id, before, mut given, choice, label } = begun(arguments, &setting, io)?;
    let (AskedId { name: id, link }, (mut nameplate, files)) = (id, label);
    let reacted = given.answer(Sign::ActiveNow) == Answer::Yes;
    if !reacted {
        let said = same_label::answered(&arguments.book.path, &id, &nameplate, &given, io)?;
        given = given.overlaid(said);
    }
    if let (true, Err(error)) = (io.ask.is_some(), choice.is_there()) {
        io.note(&format!("warning: {error}; plug the fixture in before the questions are answered"));
    }
    let questions = questions(arguments, &id, &before, &setting);
    let mut observations = questions.looks(given, &nameplate, io)?;
    let reacting = observations.answer(Sign::ActiveNow) == Answer::Yes;
    if reacting && !reacted {
        // Somebody went back to the first question.
        alarm(&setting, io);
    }
    let person = settings.value(PERSON).map(|name| name.to_string_lossy().into_owned());
    if arguments.id.is_none() {
        // Who is led through the questions has looked.
        observations.assessor = observations.assessor.or_else(|| person.clone());
        observations.note = observations.note.or_else(|| link.map(|link| format!("scanned: {link}")));
    }
    let clock = HeldClock::at(io.now);
    let book = open_to_write(&arguments.book.path, reacting, io)?;
    let mut shop = Workshop::new(book, &clock, io.zone.clone());
    warn_of_label(&shop, &id, &mut nameplate, io)?;
    let case = Case { files, ..Case::new(&id, nameplate, observations, setting) };
    let (simulated, overrides) = (before.simulated, overrides(&arguments.overrides));
    let job = Job { case, choice, simulated, extent: arguments.extent, overrides };
    let attended = shop.attend(&job, &mut RunView::on(io));
    let assessed = attended.map_err(|fault| Error::from(fault).hints(questions.hint(io)))?;
    if assessed.kept.entry().is_some() {
        questions.done();
    }

    if assessed.assessment.verdict.condition == CellState::Critical {
        // The measurement may show what nobody has seen.
        alarm(&job.case.setting, io);
    }
    beside::tell_entry(&assessed.kept, &arguments.book.path, io);
    let how = Shown { json: arguments.json, full: arguments.full, kept: Some(&assessed.kept) };
    show(&assessed.assessment, how, io)?;
    if how.full && io.screen && assessed.assessment.verdict.condition == CellState::Critical {
        // The long page has scrolled away what came first; the first screen begins with it.
        alarm_again(&job.case.setting, io);
    }
    let done = if assessed.is_finished() { EXIT_DONE } else { EXIT_UNFINISHED };
    if arguments.id.is_none() && !arguments.json && assessed.kept.entry().is_some() {
        drop(shop);
        let desk = DeskArguments {
            book: BookPath { path: arguments.book.path.clone() },
            rules: arguments.case.setting.rules.clone(),
        };
        let qualification = settings.value(QUALIFICATION).map(|text| text.to_string_lossy().into_owned());
        let place = arguments.case.setting.place.clone();
        let verdict = &assessed.assessment.verdict;
        lead_on(&Decided { cell: &id, verdict, desk, person, qualification, place }, io)?;
    }
    Ok(beside::exit_code(&assessed.kept, done))
}

/// Finds out which cell it is, what is known of it, whether it reacts, and what its label says; who goes back from the model is
/// asked for the cell again.
fn begun(arguments: &AssessArguments, setting: &Setting, io: &mut Io<'_>) -> Result<Begun, Error> {
    let simulated_run = arguments.bench.simulated.is_some();
    loop {
        let id = match &arguments.id {
            Some(name) => AskedId { name: name.clone(), link: None },
            None if io.ask.is_some() => {
                welcome(arguments, io);
                ask_id(new_cell, io)?
            }
            None => {
                return Err(Error::input(
                    "which cell is assessed is not said; nothing was measured or written",
                )
                .hint("name it: --id NAME; at a terminal it is asked for"));
            }
        };
        let looks = &arguments.case.looks;
        let before = known_first::told(&arguments.book.path, &id.name, looks, simulated_run, io)?;
        let given = questions(arguments, &id.name, &before, setting).reacts(given_looks(looks)?, io)?;
        let reacting = given.answer(Sign::ActiveNow) == Answer::Yes;
        if reacting {
            alarm(setting, io);
        }
        // What can be known beforehand, before anybody is asked anything else.
        let choice = arguments.bench.choice()?;
        if let Some(label) = label(arguments, &choice, &id.name, reacting, io)? {
            return Ok(Begun { id, before, given, choice, label });
        }
        if arguments.id.is_some() {
            io.note("  this is the first question");
        }
    }
}

fn questions<'q>(
    arguments: &'q AssessArguments,
    cell: &'q str,
    before: &'q Before,
    setting: &Setting,
) -> Questions<'q> {
    let thickness_decides = setting.policy.needs_thickness();
    Questions { book: &arguments.book.path, cell, known: &before.case_file.standing, thickness_decides }
}

/// Says how the questions are answered, and for where.
fn welcome(arguments: &AssessArguments, io: &mut Io<'_>) {
    let place = match arguments.case.setting.place.as_deref() {
        None | Some("") => "no place set, so general cautions only (setting `place`)".to_owned(),
        Some(place) => format!("place {place}"),
    };
    io.note(&format!("One cell: b goes back, Ctrl-C stops and keeps the answers; {place}."));
}

/// Takes what the operator answers for.
pub(super) fn overrides(arguments: &OverrideArguments) -> Overrides {
    Overrides { acknowledge_trip: arguments.acknowledge_trip, despite_stop: arguments.despite_stop.clone() }
}

/// The label as given; a simulated cell brings its own where none is given, and a person is asked where nothing says it. `None` where
/// the person wants to go back.
fn label(
    arguments: &AssessArguments,
    choice: &FixtureChoice,
    cell: &str,
    reacting: bool,
    io: &mut Io<'_>,
) -> Result<Option<LabelRead>, Error> {
    let given = &arguments.case.label;
    if !is_unsaid(given) {
        return read_label(given).map(Some);
    }
    let (book, models) = (arguments.book.path.as_path(), arguments.models.as_deref());
    let own = choice.bench_cell().map(|cell| &cell.nameplate);
    if let Some(model) = given.model.as_deref().filter(|_| own.is_none()) {
        let library = ModelLibrary::read(book, models, false)?;
        return match library.models.into_iter().find(|known| known.name == model) {
            Some(known) => {
                let from = match &known.from {
                    LabelFrom::File(path, _) => path.display().to_string(),
                    LabelFrom::Entry(entry) => format!("entry {entry}"),
                };
                io.note(&format!("note: the label of {model} is that of {from}"));
                Ok(Some((known.nameplate, Vec::new())))
            }
            None => read_label(given).map(Some),
        };
    }
    if reacting {
        // Nobody stays beside it to read a label: what the book knows, or the simulated cell's own, or the error that says so.
        return match (known_label(book, cell)?, own) {
            (Some(known), _) => Ok(Some((known, Vec::new()))),
            (None, Some(own)) => Ok(Some((own.clone(), Vec::new()))),
            (None, None) => read_label(given).map(Some).map_err(|error| {
                error.hint(format!(
                    "nothing was recorded. Once nobody is in danger: celltriage container escalate {cell} --because TEXT"
                ))
            }),
        };
    }
    let is_asked = io.ask.is_some() && (own.is_none() || arguments.id.is_none());
    match own {
        _ if is_asked => ModelQuestion { book, cell, models, simulated: own }.ask(io),
        Some(own) => Ok(Some((own.clone(), Vec::new()))),
        None => read_label(given).map(Some),
    }
}

/// Returns whether no figure of the label is given.
const fn is_unsaid(given: &LabelArguments) -> bool {
    given.cell.is_none() && given.charge_limit_v.is_none() && given.rated_capacity_ah.is_none()
}

fn known_label(book: &std::path::Path, cell: &str) -> Result<Option<Nameplate>, Error> {
    if !book.exists() {
        return Ok(None);
    }
    let known = KnownLabel::read(&celltriage_book::Book::open_to_read(book)?, cell)?;
    Ok(known.map(|known| known.nameplate))
}
