//! The first screen of a decision: fate, reason, what to do now, what was checked, what is still needed, what was known before, on the
//! lines of one terminal.
//!
//! It says the same as the long page and decides nothing. Parts are put together in their shortest form, then as richly as there is
//! room; what bars an action and what to do about a cell that reacts are never cut.

mod around;
mod care;
mod checked;
mod layout;
mod part;
mod sentences;
mod steps;

pub use around::{Around, ToType};

use crate::deciding::deciding;
use crate::decision_page::signal_of;
use care::{care, emergency, forbidden};
use celltriage_assessment::{Assessment, CaseFile};
use celltriage_document::document::{Block, Document};
use celltriage_document::form::terminal::Terminal;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::{Text, Tone};
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_verdict::{CellState, Fate, Finding, KnownFinding, LIFETIME_RECORD};
use checked::{checked, decided_by};
use layout::Layout;
use part::{Part, fitted};
use sentences::sentences;
use steps::{needed, now};

/// Claims of the other parts to room: the whole reason, what the page is not, that nothing was known, what was known before, the day, space between parts, what is recorded of its
/// life.
const REASON: u8 = 0;
const SUPPORTS: u8 = 0;
/// What was asked is answered whole before anything else is told at length.
const ANSWER: u8 = 0;
const NOTHING_BEFORE: u8 = 0;
const BEFORE: u8 = 3;
const DATE: u8 = 6;
const SPACE: u8 = 7;
const LIFE: u8 = 8;
/// Lines of the reason, and of one thing known before, in their shortest form.
const LINES_OF_THE_REASON: usize = 1;
const LINES_OF_ONE: usize = 1;
const LINES_OF_THE_ANSWER: usize = 2;

/// Puts the screen together for a terminal.
pub fn first_screen(assessment: &Assessment, around: &Around<'_>, terminal: &Terminal) -> Document {
    let layout = Layout::of(terminal);
    let mut page = Document::screen(named(assessment));
    if assessment.conditions.is_simulated() {
        page.notice(FIRST_LINE);
    }
    let deciding = deciding(&assessment.verdict);
    // What is told by the reason, or as the number that decided, is not told again.
    let told = deciding.filter(|one| one.conformity.is_some() || one.finding != Finding::Missing);
    let parts = vec![
        emergency(assessment, &layout),
        head(assessment, &layout),
        device(assessment, &layout),
        space(),
        now(assessment, around, &layout),
        forbidden(assessment, &layout),
        care(assessment, &layout),
        space(),
        decided_by(deciding, &layout),
        checked(assessment, told, &layout),
        needed(assessment, &layout),
        before(assessment, around, &layout),
        life(assessment, &layout),
        space(),
        more(assessment, around, &layout),
    ];
    let width = terminal.for_a_screen().width();
    page.blocks = fitted(parts, page.notices.len(), width, &layout);
    page
}

fn named(assessment: &Assessment) -> Text {
    let id = assessment.cell.id.as_deref();
    id.map_or_else(|| say!(CellWithoutNumber), |id| say!(CellNamed, id = id))
}

/// The fate with the cell, then why.
fn head(assessment: &Assessment, layout: &Layout) -> Part {
    let (verdict, conditions) = (&assessment.verdict, &assessment.conditions);
    let place = conditions.place.as_ref().map_or_else(|| say!(NoPlace), |place| place.as_str().into());
    let never_calibrated = conditions.fixture.is_some() && conditions.calibration == Some(0);
    let about = named(assessment).strong().and(format!(" · {} · ", verdict.condition.words())).and(place);
    let about = if never_calibrated { about.and(Phrase::NeverCalibratedFixture) } else { about };
    let dated = about.clone().and(format!(" · {}", conditions.date));
    let fate = Text::from(verdict.fate.key().to_uppercase()).toned(Tone::Signal(signal_of(assessment)));
    let form = |about: &Text, reason: Text| {
        let mut blocks = layout.headed(fate.clone(), about.clone());
        blocks.push(layout.line(reason.strong()));
        blocks
    };
    let (short, whole) =
        (layout.cut(&verdict.statement, 0, LINES_OF_THE_REASON), || Text::from(&verdict.statement));
    Part::of(form(&about, short)).richer(REASON, form(&about, whole())).richer(DATE, form(&dated, whole()))
}

/// Whether the cell explains what its device did, where somebody asked and the cell is none to keep away from.
fn device(assessment: &Assessment, layout: &Layout) -> Part {
    let critical = assessment.verdict.condition == CellState::Critical;
    let Some(answer) = assessment.device.as_ref().filter(|_| !critical) else { return Part::default() };
    let part = |text: Text| layout.part(Phrase::ScreenDevice, [text]);
    let short = layout.cut(&answer.statement, 0, LINES_OF_THE_ANSWER);
    Part::of(part(short)).richer(ANSWER, part(Text::from(&answer.statement)))
}

/// What the book had of it when it was decided.
fn before(assessment: &Assessment, around: &Around<'_>, layout: &Layout) -> Part {
    let part = |lines: Vec<Text>| layout.part(Phrase::ScreenBefore, lines);
    let mut known: Vec<String> = assessment.known.iter().map(KnownFinding::words).collect();
    known.extend(assessment.case_file.iter().flat_map(CaseFile::beside));
    let Some((first, others)) = known.split_first() else {
        let nothing = if around.in_book { Phrase::NothingBefore } else { Phrase::NotAskedBefore };
        return Part::of(Vec::new()).richer(NOTHING_BEFORE, part(vec![nothing.into()]));
    };
    let short = layout.cut(first, others.len(), LINES_OF_ONE);
    Part::of(part(vec![short])).richer(BEFORE, part(known.iter().map(Text::from).collect()))
}

/// What is recorded of its life: with "reuse" what the policy says of it.
fn life(assessment: &Assessment, layout: &Layout) -> Part {
    let recorded = assessment.verdict.reasons.iter().find(|reason| reason.criterion == LIFETIME_RECORD);
    let told = recorded.map(|reason| reason.text.clone());
    let told = told.or_else(|| assessment.lifetime.as_ref().map(|lifetime| lifetime.words()));
    let Some(told) = told else { return Part::default() };
    // Whether it may be used again rests on the second sentence; where that was read stands on the long page.
    let short = sentences(&told).into_iter().take(2).map(without_brackets).collect::<Vec<_>>().join(" ");
    let part = |text: &str| layout.part(Phrase::ScreenLife, [Text::from(text)]);
    let shortest = if assessment.verdict.fate == Fate::Reuse { part(&short) } else { Vec::new() };
    Part::of(shortest).richer(LIFE, part(&told))
}

/// Leaves out what stands in brackets.
fn without_brackets(sentence: &str) -> String {
    let mut parts = sentence.split(" (");
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |said, part| said + part.split_once(')').map_or("", |(_, after)| after))
}

/// Where the rest is, and what the screen is not.
fn more(assessment: &Assessment, around: &Around<'_>, layout: &Layout) -> Part {
    let whole = say!(ScreenWhole, whole = around.command(ToType::Whole));
    let mut text = whole.clone();
    if around.in_book && assessment.cell.id.is_some() {
        text = text.and("; ").and(say!(ScreenNumbers, numbers = around.command(ToType::Numbers)));
    }
    let part = |lines: Vec<Text>| layout.part(Phrase::ScreenMore, lines);
    Part::of(part(vec![whole])).richer(SUPPORTS, part(vec![text, Phrase::ScreenSupports.into()]))
}

/// A blank line where there is room for one.
fn space() -> Part {
    Part::of(Vec::new()).richer(SPACE, vec![Block::Space])
}

#[cfg(test)]
mod tests;
