//! What a judgement lacks, asked of the person who judges: the proposal stands first and Enter takes it, but for what only a look at
//! the cell can answer.

use super::JudgeArguments;
use crate::desk::Desk;
use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;
use celltriage_custody::cell::Cell;
use celltriage_custody::checklist::{Answers, Criterion};
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_workshop::judging::next_question;

/// What a person may judge a cell to be, by number.
const STATES: [LegalState; 5] = [
    LegalState::NotWaste,
    LegalState::IntactWaste,
    LegalState::DamagedOrDefective,
    LegalState::CasingBreached,
    LegalState::Critical,
];
/// What is proposed as the reason for a milder judgement.
const ALL_NO: &str = "every question answered no";

/// Asks what a cell is; `None` where nobody is there, or not now. Under the screen of a decision (`led`) the list comes only when it is
/// asked for, so that the screen stays.
pub(super) fn state(name: &str, cell: &Cell, led: bool, io: &mut Io<'_>) -> Option<LegalState> {
    io.ask.as_ref()?;
    let proposed = cell.proposal();
    let default = STATES.into_iter().find(|state| *state == proposed);
    let question = match (default, led) {
        (Some(state), true) => format!("Judge {name} now: {state}? [Enter yes, ? others, q later] "),
        (Some(_), false) => "Number [Enter as proposed, q not now]: ".to_owned(),
        (None, true) => format!("Judge {name} now? [? shows the states, q later] "),
        (None, false) => "Number [q not now]: ".to_owned(),
    };
    if !led {
        list(name, proposed, io);
    }
    loop {
        match Reply::to(&question, io)? {
            Reply::Empty if default.is_some() => return default,
            Reply::Empty if led => list(name, proposed, io),
            Reply::Empty => io.note("  a number, or q: what is proposed is not a judgement"),
            Reply::Back => return None,
            Reply::Text(text) if text == "q" => return None,
            Reply::Text(text) => {
                let place = text.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
                match place.and_then(|place| STATES.get(place)) {
                    Some(state) => return Some(*state),
                    None => list(name, proposed, io),
                }
            }
        }
    }
}

fn list(name: &str, proposed: LegalState, io: &mut Io<'_>) {
    io.note(&format!("What is {name}? Proposed: {proposed}."));
    for (number, state) in (1..).zip(STATES) {
        io.note(&format!(" {number}  {state}"));
    }
}

/// Asks whether the answers of the bench still hold, and takes those that were given: what nobody looked for is asked now.
pub(super) fn whether_they_hold(answers: &mut Answers, recorded: &Answers, io: &mut Io<'_>) {
    let open = recorded.iter().filter(|(criterion, _)| !answers.contains_key(criterion));
    let given: Answers = open
        .filter(|(_, answer)| **answer != Answer::NotObserved)
        .map(|(criterion, answer)| (*criterion, *answer))
        .collect();
    if given.is_empty() {
        return;
    }
    let yes: Vec<_> = given.iter().filter(|(_, answer)| **answer == Answer::Yes).collect();
    let found: Vec<&str> = yes.into_iter().map(|(criterion, _)| criterion.name()).collect();
    let found = if found.is_empty() { "all no".to_owned() } else { format!("yes to {}", found.join(", ")) };
    let question =
        format!("The bench recorded {} answers, {found}. Still so? [Enter yes, n ask again] ", given.len());
    if Reply::to(&question, io).is_some_and(|reply| reply.takes_it()) {
        answers.extend(given);
    }
}

/// Asks the questions that are still open, where somebody is there to answer; no answer leaves a question open.
pub(super) fn the_rest(answers: &mut Answers, judged: LegalState, io: &mut Io<'_>) {
    let mut open: Vec<Criterion> = Vec::new();
    let mut probe = answers.clone();
    while let Some(criterion) = next_question(&probe, judged) {
        open.push(criterion);
        probe.insert(criterion, Answer::No);
    }
    let mut at = 0;
    while let Some(criterion) = open.get(at).copied() {
        let question =
            format!("{} of {}  {} [y/n, Enter not looked] ", at + 1, open.len(), criterion.question());
        let Some(reply) = Reply::to(&question, io) else { return };
        let answer = match reply {
            Reply::Back if at == 0 => continue,
            Reply::Back => {
                at -= 1;
                open.get(at).map(|criterion| answers.remove(criterion));
                continue;
            }
            Reply::Empty => Answer::NotObserved,
            Reply::Text(text) => match text.to_lowercase().as_str() {
                "y" | "yes" => Answer::Yes,
                "n" | "no" => Answer::No,
                _ => Answer::NotObserved,
            },
        };
        answers.insert(criterion, answer);
        if next_question(answers, judged).is_none() {
            return;
        }
        at += 1;
    }
}

/// Returns who judges and what makes them able to, as given or set, else asked; what the person gave last is proposed.
///
/// # Errors
/// Nobody says it.
pub(super) fn signature(
    arguments: &JudgeArguments,
    desk: &Desk<'_>,
    urgent: bool,
    io: &mut Io<'_>,
) -> Result<(String, String), Error> {
    let text_of = |question: &str, io: &mut Io<'_>| match urgent {
        // Nobody stays beside it to answer questions.
        true => None,
        false => match Reply::to(question, io) {
            Some(Reply::Text(text)) => Some(text),
            _ => None,
        },
    };
    let lacking = |what: &str| {
        Error::input(format!("a judgement is signed, and {what} is not said; nothing was written"))
            .hint("give both: --by NAME --qualification TEXT, or set them once: see `celltriage settings`")
    };
    let by = match &arguments.by {
        Some(by) => by.clone(),
        None => text_of("Your name (who judges, and answers for it): ", io)
            .ok_or_else(|| lacking("who judges"))?,
    };
    if let Some(given) = &arguments.qualification {
        return Ok((by, given.clone()));
    }
    let last = desk.shop.last_qualification(&by)?;
    let question = match &last {
        Some(last) => format!("What makes you able to judge? [Enter: {last}] "),
        None => "What makes you able to judge (maker's criteria, training)? ".to_owned(),
    };
    let qualification = match io.ask.is_some() && !urgent {
        true => text_of(&question, io).or(last),
        false => None,
    };
    Ok((by, qualification.ok_or_else(|| lacking("what makes that person able to judge"))?))
}

/// Asks for the reason of a judgement that is milder than proposed.
pub(super) fn why_milder(answers: &Answers, io: &mut Io<'_>) -> Option<String> {
    let all_no = Criterion::ALL.into_iter().all(|one| answers.get(&one) == Some(&Answer::No));
    let enter = if all_no { format!(" [Enter: {ALL_NO}]") } else { String::new() };
    match Reply::to(&format!("This is milder than proposed. Why?{enter} "), io) {
        Some(Reply::Text(text)) => Some(text),
        Some(Reply::Empty) if all_no => Some(ALL_NO.to_owned()),
        _ => None,
    }
}

/// Asks once before it is written.
pub(super) fn whether_to_write(cell: &str, state: LegalState, by: &str, io: &mut Io<'_>) -> bool {
    let question = format!("Write: {cell} is {state}, by {by}? [Enter yes, q no] ");
    Reply::to(&question, io).is_some_and(|reply| reply.takes_it())
}
