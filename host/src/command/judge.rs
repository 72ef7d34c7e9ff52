//! `judge`: a person judges the legal state of a cell; the tool proposes and writes down.

use crate::custody::cell::Cell;
use crate::custody::checklist::{Answers, Criterion, as_recorded};
use crate::custody::desk::{Desk, DeskArguments, Who};
use crate::custody::event::{Event, Judgement};
use crate::custody::refusal::Refusal;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::observation::Answer;
use crate::record;
use crate::rules::{self, LegalState};
use crate::verdict::Fate;
use clap::Args;
use jiff::civil::Date;

/// Options of `judge`.
#[derive(Debug, Args)]
pub struct JudgeArguments {
    /// The cell's name.
    pub cell: String,
    /// What it is judged to be: `not_waste`, `intact_waste`, `damaged_or_defective`, `casing_breached`, `critical`; without it the
    /// proposal and the questions are shown and nothing is written.
    #[arg(long, value_name = "STATE", requires = "by", requires = "qualification")]
    pub state: Option<String>,
    /// Answer to one question, e.g. `misuse=no`; may be given again.
    #[arg(long = "answer", value_name = "QUESTION=ANSWER")]
    pub answers: Vec<String>,
    /// Take over what was recorded when the cell was assessed, where the same was asked there.
    #[arg(long)]
    pub as_recorded: bool,
    /// Name of the person who judges.
    #[arg(long, value_name = "NAME", env = "CELLTRIAGE_PERSON")]
    pub by: Option<String>,
    /// What makes that person able to judge: the maker's criteria, or knowledge of the cell's safety features.
    #[arg(long, value_name = "TEXT")]
    pub qualification: Option<String>,
    /// Why it is milder than proposed, or what else was seen.
    #[arg(long, value_name = "TEXT")]
    pub because: Option<String>,
    /// Day on which it was decided to discard the cell; by default the day of the assessment that graded it `recycle`,
    /// else the day of the judgement.
    #[arg(long, value_name = "DATE")]
    pub discarded_on: Option<Date>,
    /// Day of the judgement; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `judge`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &JudgeArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let mut desk = Desk::open(&arguments.desk, arguments.state.is_some(), io)?;
    let state = desk.state()?;
    let unknown = || Error::from(Refusal::UnknownCell(arguments.cell.clone()));
    let cell = state.cells.get(&arguments.cell).ok_or_else(unknown)?;
    let number = cell.facts.as_ref().ok_or_else(unknown)?.assessment;
    let recorded = recorded(&desk, number)?;
    let mut answers = if arguments.as_recorded { recorded.clone() } else { Answers::new() };
    for given in &arguments.answers {
        let (criterion, answer) = read_answer(given)?;
        answers.insert(criterion, answer);
    }
    let Some(given) = &arguments.state else {
        let grounds = grounds(&desk, number)?;
        show(&arguments.cell, cell, &recorded, &answers, &grounds, io);
        return Ok(EXIT_DONE);
    };
    let judged = read_state(given)?;
    ask_for_the_rest(&mut answers, io);
    if judged == LegalState::Critical || answers.get(&Criterion::AcuteHazard) == Some(&Answer::Yes) {
        desk.emergency(io);
    }
    let who = Who { by: arguments.by.clone().unwrap_or_default(), on: arguments.on };
    let on = arguments.on.unwrap_or(desk.today);
    desk.write(&who, io, |state, _| {
        let cell =
            state.cells.get(&arguments.cell).ok_or_else(|| Refusal::UnknownCell(arguments.cell.clone()))?;
        Ok(Event::Judgement(Judgement {
            cell: arguments.cell.clone(),
            // What was looked at, not what is there by now: the check tells the two apart.
            assessment: number,
            proposed: cell.proposal(),
            state: judged,
            answers: answers.clone(),
            qualification: arguments.qualification.clone().unwrap_or_default(),
            because: arguments.because.clone(),
            decided_on: arguments.discarded_on.or_else(|| decided_on(cell, judged, on)),
        }))
    })?;
    Ok(EXIT_DONE)
}

fn recorded(desk: &Desk, number: u32) -> Result<Answers, Error> {
    let entry = desk.book().entry(number).map_err(Error::book)?;
    // An assessment that cannot be read leaves every question open.
    let assessment = entry.and_then(|entry| record::assessment_of(&entry).ok());
    Ok(assessment.map_or_else(Answers::new, |assessment| as_recorded(&assessment)))
}

/// Returns what speaks for a state by the rules of the place of the assessment, and what is for a person to judge.
fn grounds(desk: &Desk, number: u32) -> Result<Vec<String>, Error> {
    let entry = desk.book().entry(number).map_err(Error::book)?;
    let Some(assessment) = entry.and_then(|entry| record::assessment_of(&entry).ok()) else {
        return Ok(Vec::new());
    };
    let place = assessment.conditions.place.as_ref();
    let observed = &assessment.cell.observations;
    let proposal = rules::propose(&assessment.verdict, observed, place, desk.today, desk.packs());
    let facts = proposal.grounds.iter().map(|fact| format!("{} [{}]", fact.text, fact.source));
    Ok(facts
        .chain(proposal.by_policy_alone.iter().cloned())
        .chain(proposal.to_judge.iter().cloned())
        .collect())
}

/// Returns the day on which a cell counts as discarded by a judgement. A damaged cell that is only kept apart is not
/// discarded yet; it is when it goes into a waste container.
fn decided_on(cell: &Cell, judged: LegalState, on: Date) -> Option<Date> {
    let recycled = cell.facts.as_ref().filter(|facts| facts.fate == Fate::Recycle).map(|facts| facts.on);
    match judged {
        LegalState::NotWaste => None,
        LegalState::IntactWaste => recycled.or(Some(on)),
        _ => recycled,
    }
}

fn read_state(text: &str) -> Result<LegalState, Error> {
    LegalState::ALL.into_iter().find(|state| state.key() == text.replace('-', "_")).ok_or_else(|| {
        let known: Vec<_> = LegalState::ALL.into_iter().map(LegalState::key).collect();
        Error::input(format!("\"{text}\" is no legal state; nothing was written"))
            .hint(format!("write one of {}", known.join(", ")))
    })
}

fn read_answer(text: &str) -> Result<(Criterion, Answer), Error> {
    let wrong = || {
        let known: Vec<_> = Criterion::ALL.into_iter().map(Criterion::key).collect();
        Error::input(format!("\"{text}\" is no answer; nothing was written"))
            .hint(format!("write QUESTION=yes, =no or =not_observed; the questions: {}", known.join(", ")))
    };
    let (key, answer) = text.split_once('=').ok_or_else(wrong)?;
    let criterion = Criterion::from_key(&key.trim().replace('-', "_")).ok_or_else(wrong)?;
    let answer = match answer.trim() {
        "yes" => Answer::Yes,
        "no" => Answer::No,
        "not_observed" => Answer::NotObserved,
        _ => return Err(wrong()),
    };
    Ok((criterion, answer))
}

/// Asks the questions that are still open, where somebody is there to answer; no answer leaves a question open.
fn ask_for_the_rest(answers: &mut Answers, io: &mut Io<'_>) {
    let Some(ask) = io.ask.as_mut() else { return };
    for criterion in Criterion::ALL {
        if answers.contains_key(&criterion) {
            continue;
        }
        let Some(line) = ask(&format!("{} [y/n, empty = not looked] ", criterion.question())) else { return };
        match line.trim().to_lowercase().as_str() {
            "y" | "yes" => answers.insert(criterion, Answer::Yes),
            "n" | "no" => answers.insert(criterion, Answer::No),
            _ => answers.insert(criterion, Answer::NotObserved),
        };
    }
}

fn show(name: &str, cell: &Cell, recorded: &Answers, answers: &Answers, grounds: &[String], io: &mut Io<'_>) {
    let mut page = format!("cell {name}\n  now:      {}\n  proposed: {}\n", cell.legal(), cell.proposal());
    if let Some(facts) = &cell.facts {
        page.push_str(&format!("  graded:   {} on {} (entry {})\n", facts.fate, facts.on, facts.assessment));
    }
    if let Some(judged) = cell.standing_judgement() {
        page.push_str(&format!("  judged:   {} by {} on {}\n", judged.judgement.state, judged.by, judged.on));
    }
    if !grounds.is_empty() {
        page.push_str("\nto be weighed\n");
    }
    for ground in grounds {
        page.push_str(&format!("  {ground}\n"));
    }
    page.push_str("\nquestions for the person who judges; one \"yes\" or one left open makes it damaged\n");
    for criterion in Criterion::ALL {
        let at_the_bench = recorded.get(&criterion).map_or("not asked", |answer| answer.key());
        let now = answers.get(&criterion).map_or(String::new(), |answer| format!(", now {}", answer.key()));
        page.push_str(&format!(
            "  {:<27}{} [{}]\n  {:<27}at the bench: {at_the_bench}{now}\n",
            criterion.key(),
            criterion.question(),
            criterion.source(),
            ""
        ));
    }
    page.push_str(
        "\nThe judgement is yours: by the maker's safety criteria, or as a technical expert who knows the cell's safety\n\
         features (note to SP 376). Until then the cell is handled as damaged. To sign:\n",
    );
    page.push_str(&format!(
        "  celltriage judge {name} --state STATE --as-recorded --answer QUESTION=no ... --by NAME --qualification TEXT\n"
    ));
    io.say(&page);
    io.note("nothing was written: no --state was given");
}
