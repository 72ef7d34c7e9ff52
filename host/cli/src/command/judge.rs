//! `judge`: a person judges the legal state of a cell; the tool proposes, asks for what is missing, and writes down.

mod asked;

use super::put_away::put_away;
use crate::choice::place_named;
use crate::desk::{AtDesk, Desk, DeskArguments, Who};
use crate::entry_hint::with_cell_hint;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::cell_name::typed::known_cell;
use celltriage_custody::checklist::{Answers, Criterion};
use celltriage_custody::fit::not_damaged;
use celltriage_measure::observation::Answer;
use celltriage_report::judgement_page::{How, JudgementShown, judgement_page};
use celltriage_rules::{self, LegalState, PlaceCode};
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::judging::{NewJudgement, ToJudge, is_urgent, next_question};
use clap::Args;
use jiff::civil::Date;

/// Options of `judge`.
#[derive(Debug, Args)]
pub struct JudgeArguments {
    /// The cell's name, or its tag as scanned.
    #[arg(value_parser = known_cell)]
    pub cell: String,
    /// What it is judged to be: `not_waste`, `intact_waste`, `damaged_or_defective`, `casing_breached`, `critical`; without it the
    /// proposal and the questions are shown, a person at the terminal is asked, and nothing is written unasked.
    #[arg(long, value_name = "STATE")]
    pub state: Option<String>,
    /// Answer to one question, e.g. `misuse=no`; may be given again.
    #[arg(long = "answer", value_name = "QUESTION=ANSWER")]
    pub answers: Vec<String>,
    /// Take over what was recorded when the cell was assessed, where the same was asked there.
    #[arg(long)]
    pub as_recorded: bool,
    /// Name of the person who judges; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_person", long = "by", value_name = "NAME")]
    pub by: Option<String>,
    /// What makes that person able to judge: the maker's criteria, or knowledge of the cell's safety features; unsaid, as set (see
    /// `celltriage settings`).
    #[arg(id = "setting_qualification", long = "qualification", value_name = "TEXT")]
    pub qualification: Option<String>,
    /// Why it is milder than proposed, or what else was seen.
    #[arg(long, value_name = "TEXT")]
    pub because: Option<String>,
    /// The device that it was taken out of.
    #[arg(long, value_name = "TEXT")]
    pub device: Option<String>,
    /// Day on which it was taken out of its device.
    #[arg(long, value_name = "DATE")]
    pub removed_on: Option<Date>,
    /// Where a photograph of it is kept.
    #[arg(long, value_name = "TEXT")]
    pub photo: Option<String>,
    /// Day on which it was decided to discard the cell; by default the day of the assessment that graded it `recycle`,
    /// else the day of the judgement.
    #[arg(long, value_name = "DATE")]
    pub discarded_on: Option<Date>,
    /// Where it is, as ISO 3166 code; unsaid, as set (see `celltriage settings`), else the place of its container or assessment.
    #[arg(id = "setting_place", long = "place", value_name = "CODE")]
    pub place: Option<String>,
    /// Day of the judgement; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
    /// Print the judgement that was written as JSON; nobody is asked whether to write one.
    #[arg(long, requires = "state")]
    pub json: bool,
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `judge`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &JudgeArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let judged = judged(arguments, false, io)?;
    if let (Some((state, by)), None) = (judged, &arguments.state) {
        put_away(&arguments.cell, state, &arguments.desk, &by, io)?;
    }
    Ok(EXIT_DONE)
}

/// Judges a cell, and returns what it was judged to be and by whom; `None` where nobody has judged. A person who is led on from the decision has
/// its screen in front, so the page is not shown.
///
/// # Errors
/// As [`run`].
pub(super) fn judged(
    arguments: &JudgeArguments,
    led: bool,
    io: &mut Io<'_>,
) -> Result<Option<(LegalState, String)>, Error> {
    let clock = HeldClock::at(io.now);
    let desk = Desk::open(&arguments.desk, arguments.state.is_some(), &clock, io)?;
    let mut desk = desk.told_as_json(arguments.json);
    let cell = &arguments.cell;
    let to_judge =
        desk.shop.to_judge(cell).map_err(|fault| with_cell_hint(fault.into(), desk.shop.book(), cell))?;
    let mut answers = if arguments.as_recorded { to_judge.recorded.clone() } else { Answers::new() };
    for given in &arguments.answers {
        let (criterion, answer) = read_answer(given)?;
        answers.insert(criterion, answer);
    }
    // A mistyped place is told after what to do about a reacting cell, not in its stead.
    let (named, mistyped) = match place_named(arguments.place.as_deref()) {
        Ok(place) => (place, None),
        Err(error) => (None, Some(error)),
    };
    let place = named.or_else(|| desk.shop.place_of(&arguments.cell));
    let judged = match (&arguments.state, mistyped.is_some()) {
        (Some(given), _) => read_state(given)?,
        (None, true) => return mistyped.map_or(Ok(None), Err),
        (None, false) => {
            if !led {
                show(arguments, &desk, (&to_judge, &answers), place.as_ref(), io);
            }
            let Some(state) = asked::state(cell, &to_judge.cell, led, io) else {
                match io.ask.is_some() {
                    true => io.note("nothing was judged"),
                    false => io.note("nothing was written: no --state was given"),
                }
                return Ok(None);
            };
            desk = Desk::open(&arguments.desk, true, &clock, io)?;
            state
        }
    };
    let is_asked = arguments.state.is_none();
    if is_urgent(judged, &answers) {
        desk.emergency(place.as_ref(), io);
    }
    if let Some(mistyped) = mistyped {
        return Err(mistyped);
    }
    // What is known beforehand is told before the questions; of a critical cell the judgement itself says more.
    let asks = next_question(&answers, judged).is_some();
    if asks && judged == LegalState::IntactWaste && to_judge.cell.acute().is_none() {
        not_damaged(&arguments.cell, &to_judge.cell)?;
    }
    if is_asked && judged != LegalState::Critical {
        asked::whether_they_hold(&mut answers, &to_judge.recorded, io);
    }
    asked::the_rest(&mut answers, judged, io);
    let urgent = is_urgent(judged, &answers);
    let (by, qualification) = asked::signature(arguments, &desk, urgent, io)?;
    let mut because = arguments.because.clone();
    if is_asked && !urgent {
        if because.is_none() && judged < to_judge.cell.proposal() {
            because = asked::why_milder(&answers, io);
        }
        if !asked::whether_to_write(cell, judged, &by, io) {
            io.note("nothing was written");
            return Ok(None);
        }
    }
    let who = Who { by: by.clone(), on: arguments.on };
    let signer = if urgent { desk.signer_at_once(&who, io) } else { desk.signer(&who, io)? };
    let new = NewJudgement {
        cell: arguments.cell.clone(),
        assessment: to_judge.entry,
        state: judged,
        answers,
        qualification,
        because,
        device: arguments.device.clone(),
        removed_on: arguments.removed_on,
        photo: arguments.photo.clone(),
        discarded_on: arguments.discarded_on,
        place,
    };
    let entered = desk.shop.judge(&signer, &desk.rules, &new, &mut AtDesk(io))?;
    desk.tell(&entered, io);
    Ok(Some((judged, by)))
}

/// Shows what there is to judge by.
fn show(
    arguments: &JudgeArguments,
    desk: &Desk<'_>,
    (to_judge, answers): (&ToJudge, &Answers),
    place: Option<&PlaceCode>,
    io: &mut Io<'_>,
) {
    let proposal = desk.shop.proposal(to_judge, place, &desk.rules);
    let name = &arguments.cell;
    let sign = format!(
        "celltriage judge {name} --state STATE --as-recorded --answer QUESTION=no ... --by NAME --qualification TEXT"
    );
    let page = judgement_page(&JudgementShown {
        name,
        cell: &to_judge.cell,
        recorded: &to_judge.recorded,
        answers,
        proposal: proposal.as_ref(),
        place,
        how: How {
            place: "give --place for its signs of damage",
            again: "asked again with --state, unless --as-recorded",
            sign: &sign,
        },
    });
    let critical = to_judge.cell.legal() == LegalState::Critical;
    let above = if critical { desk.emergency(place, io) } else { 0 };
    let scrolled = io.show_in_screens(&page, above);
    if critical && scrolled {
        desk.emergency_again(place, io);
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
        let known: Vec<_> = Criterion::ALL.into_iter().map(Criterion::name).collect();
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
