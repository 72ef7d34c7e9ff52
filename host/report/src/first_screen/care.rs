//! What nobody may do with the cell, and what to heed: what bars an action is shown in any case, the rest as there is room.

use super::layout::Layout;
use super::part::Part;
use super::sentences::{barring, barring_parts};
use celltriage_assessment::Assessment;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_rules::{Caution, Kind, Severity};
use celltriage_verdict::{Act, CellState};

/// Claims to room: of an emergency that stands beside its signal word, of the sentences of grave cautions, of those of milder ones, of whole cautions, of lines of their own.
const BESIDE: u8 = 0;
const GRAVE_CAUTIONS: u8 = 1;
const MILDER_CAUTIONS: u8 = 3;
const WHOLE_GRAVE_CAUTIONS: u8 = 4;
const WHOLE_MILDER_CAUTIONS: u8 = 5;
const CAUTIONS_APART: u8 = 8;

/// Puts what to do about a cell that reacts, or may at any moment, before everything else.
pub(super) fn emergency(assessment: &Assessment, layout: &Layout) -> Part {
    let texts: Vec<&str> = emergencies(assessment).map(|caution| caution.text.as_str()).collect();
    let gravest = emergencies(assessment).map(|caution| caution.severity).max();
    let Some(severity) = gravest else { return Part::default() };
    let (signal, said) = (Text::signal(severity), Text::from(texts.join(" ")).strong());
    Part::of(layout.wide_under(signal.clone(), said.clone())).richer(BESIDE, layout.headed(signal, said))
}

/// Lays out what the decision forbids.
pub(super) fn forbidden(assessment: &Assessment, layout: &Layout) -> Part {
    let acts = assessment.verdict.forbids.as_deref().unwrap_or_default().iter();
    // A charge is what a person does most often.
    let words: Vec<&str> = acts.rev().map(|act| act_words(*act).english()).collect();
    let line = (!words.is_empty()).then(|| Text::from(words.join(", ")));
    Part::of(layout.part(Phrase::ScreenDoNot, line))
}

/// Lays out the cautions about injury. What the grave ones bar is shown in any case, and the general words for the case that it reacts,
/// at their end; then what the others bar, more of them whole, the gravest first, and each in lines of its own.
pub(super) fn care(assessment: &Assessment, layout: &Layout) -> Part {
    let told: Vec<&str> = emergencies(assessment).map(|caution| caution.rule.as_str()).collect();
    let urgent =
        |caution: &&Caution| caution.severity > Severity::Notice && !told.contains(&caution.rule.as_str());
    let (general, others): (Vec<&Caution>, Vec<&Caution>) =
        assessment.cautions.iter().filter(urgent).partition(|caution| caution.kind == Kind::Emergency);
    let lines = |least: Severity, whole: usize, barring: fn(&str) -> String| -> Vec<String> {
        let of = |(at, caution): (usize, &&Caution)| match at < whole {
            true => caution.text.clone(),
            false if caution.severity >= least => barring(&caution.text),
            false => String::new(),
        };
        // What to do in an emergency is never cut.
        let last = general.iter().map(|caution| caution.text.clone());
        others.iter().enumerate().map(of).chain(last).filter(|line| !line.is_empty()).collect()
    };
    let part = |lines: Vec<String>| layout.part(Phrase::ScreenTakeCare, lines.into_iter().map(Text::from));
    let together = |least, whole| part(vec![lines(least, whole, barring).join(" ")]);
    let shortest = lines(Severity::Warning, 0, barring_parts).join(" ");
    let short = Part::of(layout.wide(Phrase::ScreenTakeCare, shortest.into()))
        .richer(GRAVE_CAUTIONS, together(Severity::Warning, 0))
        .richer(MILDER_CAUTIONS, together(Severity::Caution, 0));
    let whole = |part: Part, whole: usize| {
        let last = others.get(whole - 1).map_or(Severity::Notice, |caution| caution.severity);
        let rank = if last >= Severity::Warning { WHOLE_GRAVE_CAUTIONS } else { WHOLE_MILDER_CAUTIONS };
        part.richer(rank, together(Severity::Caution, whole))
    };
    (1..=others.len())
        .fold(short, whole)
        .richer(CAUTIONS_APART, part(lines(Severity::Caution, others.len(), barring)))
}

/// What to do now, where the cell is critical.
fn emergencies(assessment: &Assessment) -> impl Iterator<Item = &Caution> {
    let critical = assessment.verdict.condition == CellState::Critical;
    assessment.cautions.iter().filter(move |caution| critical && caution.kind == Kind::Emergency)
}

const fn act_words(act: Act) -> Phrase {
    match act {
        Act::Look => Phrase::ForbidLook,
        Act::Load => Phrase::ForbidLoad,
        Act::PreCharge => Phrase::ForbidPreCharge,
        Act::Charge => Phrase::ForbidCharge,
    }
}
