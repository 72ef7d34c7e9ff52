//! The label of a cell: its tag, what was decided, the condition that was found, and whatever stands against it since.

use celltriage_assessment::Assessment;
use celltriage_custody::cell::Cell;
use celltriage_custody::cell_name::tag::tag_of;
use celltriage_document::label::Label;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_verdict::Fate;
use jiff::civil::Date;

/// What the label of a cell is made of.
#[derive(Clone, Copy, Debug)]
pub struct CellLabelled<'a> {
    /// Its name.
    pub name: &'a str,
    /// How it stands now.
    pub cell: &'a Cell,
    /// The decision that counts, with its entry, where there is one.
    pub decided: Option<(u32, &'a Assessment)>,
    /// The day on which the label is made.
    pub today: Date,
}

/// Puts the label together. A name that no code can hold has none: the words are all there is of it.
pub fn cell_label(of: &CellLabelled<'_>) -> Label {
    let CellLabelled { name, cell, decided, today } = *of;
    let tag = tag_of(name).ok();
    let code = tag.clone().filter(|tag| tag.bytes().all(|byte| (b' '..=b'~').contains(&byte)));
    let (result, mut lines) = match decided {
        Some((entry, assessment)) => {
            let verdict = &assessment.verdict;
            let day = assessment.conditions.date;
            let condition = Text::from(verdict.condition.words());
            (result(cell, verdict.fate), vec![condition, say!(LabelDecided, day = day, entry = entry)])
        }
        None => (Phrase::LabelNotAssessed.into(), vec![say!(LabelOfToday, day = today)]),
    };
    if let Some(judged) = cell.standing_judgement() {
        lines.push(say!(LabelJudged, day = judged.on, state = cell.legal()));
    }
    if let Some(screening) = cell.to_screen() {
        lines.push(say!(LabelToScreen, because = screening.because));
    }
    // The decision tells what it knew itself; what came since must be read at the shelf too.
    let told = |entry: u32| decided.is_some_and(|(decision, _)| decision == entry);
    lines.extend(
        cell.standing()
            .filter(|found| !told(found.entry))
            .map(|found| say!(LabelAgainst, what = found.short())),
    );
    Label {
        title: say!(CellLabelTitle, id = name),
        code,
        notices: cell.is_simulated().then(|| FIRST_LINE.into()).into_iter().collect(),
        name: tag.unwrap_or_else(|| name.to_owned()).into(),
        result,
        lines,
        ..Label::default()
    }
}

/// Names the fate; one of reuse only where the cell may really be taken from the shelf.
fn result(cell: &Cell, fate: Fate) -> Text {
    match fate {
        Fate::Reuse if !cell.is_for_reuse() => Phrase::LabelHold.into(),
        fate => fate.key().to_uppercase().into(),
    }
}
