//! What is to be done now, and what is still needed to decide: the steps of the decision, then what is typed next.

use super::around::{Around, ToType};
use super::layout::Layout;
use super::part::Part;
use super::sentences::shortened;
use crate::deciding::deciding;
use celltriage_assessment::Assessment;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_verdict::{Act, CellState, Fate, Finding, Verdict};

/// Claims to room of all steps in short, of the whole steps, and of the whole of what is needed.
const ALL_STEPS: u8 = 1;
const WHOLE_STEPS: u8 = 6;
const WHOLE_NEEDED: u8 = 1;
const NOTHING_NEEDED: u8 = 6;
/// Most lines of the first step, and of one that is needed, where there is hardly room for them.
const LINES_OF_THE_FIRST: usize = 1;
const LINES_OF_ONE: usize = 1;

/// Lays out what is to be done now: what the decision says first, then the command.
pub(super) fn now(assessment: &Assessment, around: &Around<'_>, layout: &Layout) -> Part {
    let told: Vec<&str> =
        told(&assessment.verdict).filter(|(_, settles)| !settles).map(|(step, _)| step).collect();
    let next = next(assessment, around);
    let form = |steps: Vec<Text>| {
        layout.steps(Phrase::ScreenDoNow, steps.into_iter().chain([next.clone()]).collect())
    };
    let first = told.first().map(|step| layout.cut(&shortened(step), told.len() - 1, LINES_OF_THE_FIRST));
    let shortest = first.map_or_else(|| next.clone(), |first| first.and(" ").and(next.clone()));
    Part::of(layout.wide(Phrase::ScreenDoNow, shortest))
        .richer(ALL_STEPS, form(told.iter().map(|step| shortened(step).into()).collect()))
        .richer(WHOLE_STEPS, form(told.iter().copied().map(Text::from).collect()))
}

/// Lays out what is still needed for a decision, each with the time it takes.
pub(super) fn needed(assessment: &Assessment, layout: &Layout) -> Part {
    let steps: Vec<&str> =
        told(&assessment.verdict).filter(|(_, settles)| *settles).map(|(step, _)| step).collect();
    let Some((first, others)) = steps.split_first() else {
        let undecided = assessment.verdict.fate == Fate::Undecided;
        let nothing = (!undecided).then(|| Phrase::NothingNeeded.into());
        return Part::of(Vec::new()).richer(NOTHING_NEEDED, layout.part(Phrase::ScreenNeeded, nothing));
    };
    let short = layout.cut(first, others.len(), LINES_OF_ONE);
    let whole = steps.iter().map(|step| Text::from(*step)).collect();
    Part::of(layout.part(Phrase::ScreenNeeded, [short]))
        .richer(WHOLE_NEEDED, layout.steps(Phrase::ScreenNeeded, whole))
}

/// The steps of a decision, each with whether it is there to settle what is open.
fn told(verdict: &Verdict) -> impl Iterator<Item = (&str, bool)> {
    verdict.next_steps.iter().map(|step| {
        let settles = |reason: &celltriage_verdict::Reason| {
            reason.finding != Finding::Fail && reason.settle.as_ref() == Some(step)
        };
        (step.as_str(), verdict.reasons.iter().any(settles))
    })
}

/// What comes after the steps of the decision, with what to type.
fn next(assessment: &Assessment, around: &Around<'_>) -> Text {
    if assessment.cell.id.is_none() {
        return Phrase::NextNumber.into();
    }
    let (phrase, command) = match assessment.verdict.condition {
        _ if !around.in_book => (Phrase::NextKeep, ToType::Keep),
        CellState::Critical => (Phrase::NextWatch, ToType::Watch),
        _ => match assessment.verdict.fate {
            Fate::Reuse => (Phrase::NextFit, ToType::Fit),
            Fate::Recycle | Fate::Quarantine => (Phrase::NextJudge, ToType::Judge),
            Fate::Undecided => of_an_undecided_one(&assessment.verdict),
        },
    };
    Text::phrase(phrase, [("command", around.command(command))])
}

fn of_an_undecided_one(verdict: &Verdict) -> (Phrase, ToType) {
    let forbids = |act| verdict.forbids.as_ref().is_some_and(|acts| acts.contains(&act));
    let unseen = verdict.reasons.iter().any(|one| one.finding == Finding::Missing && one.sign.is_some());
    let lacks_capacity =
        deciding(verdict).is_some_and(|one| one.finding == Finding::Missing && one.quantity.is_some());
    if forbids(Act::Load) {
        return (Phrase::NextJudge, ToType::Judge);
    }
    match lacks_capacity && !unseen && !forbids(Act::Charge) {
        true => (Phrase::NextGuided, ToType::Guided),
        false => (Phrase::NextAssess, ToType::Assess),
    }
}
