//! The page for the bench: the fate first, then what endangers people, then why, then the numbers.

use crate::cautions::cautions;
use crate::estimates::{estimates, grouped};
use crate::quantity_words::quantity_words;
use crate::reasons::reasons;
use celltriage_assessment::{Assessment, CaseFile};
use celltriage_custody::known;
use celltriage_document::document::{Banner, Block, Bullets, Document, Emergency, Paragraph};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_rules::{Caution, Kind, Severity};
use celltriage_verdict::{CellState, Fate, KnownFinding, LIFETIME_RECORD, PolicyMark};

/// Puts the page together below what the book has found of the cell `since`: that a cell is simulated and what is known of
/// it from before stand above everything.
pub fn decision_page(since: &[KnownFinding], assessment: &Assessment) -> Document {
    let verdict = &assessment.verdict;
    let id = assessment.cell.id.as_deref();
    let named = id.map_or_else(|| say!(CellWithoutNumber), |id| say!(CellNamed, id = id));
    let mut page = Document::page(named.clone());
    if assessment.conditions.is_simulated() {
        page.notice(FIRST_LINE);
    }
    for found in since {
        page.push(known_line(id.unwrap_or(Phrase::WithoutNumber.english()), found));
    }
    for found in &assessment.known {
        let text = Text::from(Phrase::KnownBefore).and(" ").and(found.words());
        page.push(Paragraph::of(text).hanging(2));
    }
    for line in assessment.case_file.iter().flat_map(CaseFile::beside) {
        page.push(Paragraph::of(Text::from(Phrase::KnownBefore).and(" ").and(line)).hanging(2));
    }
    // With "reuse" it is among the reasons.
    let among_reasons = verdict.reasons.iter().any(|reason| reason.criterion == LIFETIME_RECORD);
    if let Some(lifetime) = assessment.lifetime.as_ref().filter(|_| !among_reasons && !verdict.active_now()) {
        page.push(Paragraph::of(say!(OfItsLife, told = lifetime.words())).hanging(2));
    }
    if verdict.active_now() {
        let texts = assessment.cautions.iter().filter(|caution| caution.kind == Kind::Emergency);
        let texts = texts.map(|caution| (caution.severity, caution.text.as_str().into())).collect();
        page.push(Emergency { texts });
    }
    page.push(banner(assessment, named));
    let answer = assessment.device.iter().map(|answer| Paragraph::of(&answer.statement).indented(2).into());
    page.section(Phrase::ScreenDevice, answer.collect::<Vec<Block>>());

    let told = |caution: &&Caution| verdict.active_now() && caution.kind == Kind::Emergency;
    let urgent = |caution: &&Caution| caution.severity > Severity::Notice && !told(caution);
    page.section(Phrase::Heed, cautions(assessment.cautions.iter().filter(urgent)));
    page.section(Phrase::Why, reasons(&verdict.reasons));
    page.section(Phrase::Measured, estimates(assessment));
    let health = assessment.health.iter().flat_map(|health| &health.statement);
    page.section(Phrase::Health, [Bullets::of(health).into()]);
    let undecided = verdict.fate == Fate::Undecided;
    let heading = if undecided { Phrase::WouldSettle } else { Phrase::NextSteps };
    page.section(heading, [Bullets::of(&verdict.next_steps).into()]);
    let notices = assessment.cautions.iter().filter(|caution| caution.severity == Severity::Notice);
    page.section(Phrase::PapersAndPlaces, cautions(notices));
    page.section(Phrase::MeasurementNotes, [Bullets::of(notes(assessment)).into()]);
    page.blocks.extend(footer(assessment));
    page
}

/// What stands against a cell, in a line of its own above a page.
pub(crate) fn known_line(cell: &str, found: &KnownFinding) -> Paragraph {
    Paragraph::of(known::line(known::OF, cell, found)).hanging(2)
}

/// The word that people in a workshop know from signs, for the fate as a whole.
pub(crate) fn signal_of(assessment: &Assessment) -> Severity {
    match (assessment.verdict.condition, assessment.verdict.fate) {
        (CellState::Critical, _) => Severity::Danger,
        (_, Fate::Quarantine) => Severity::Warning,
        (_, Fate::Recycle | Fate::Undecided) => Severity::Caution,
        (_, Fate::Reuse) => Severity::Notice,
    }
}

fn banner(assessment: &Assessment, named: Text) -> Banner {
    let (verdict, conditions) = (&assessment.verdict, &assessment.conditions);
    let place = conditions.place.as_ref().map_or_else(|| say!(NoPlace), |place| place.as_str().into());
    let about = named.and(format!(" · {} · ", conditions.date)).and(place);
    let about = about.and(format!(" · {}", verdict.condition.words()));
    let never_calibrated = conditions.fixture.is_some() && conditions.calibration == Some(0);
    Banner {
        severity: signal_of(assessment),
        result: verdict.fate.key().into(),
        statement: format!("{}: {}", verdict.fate, verdict.statement).into(),
        about: if never_calibrated { about.and(Phrase::NeverCalibratedFixture) } else { about },
    }
}

fn notes(assessment: &Assessment) -> Vec<Text> {
    let conditions = &assessment.conditions;
    let mut notes: Vec<Text> =
        assessment.cell.warnings.iter().map(|note| say!(LabelNote, note = note)).collect();
    notes.extend(conditions.trace_notes.iter().map(|note| say!(TraceNote, note = note)));
    // One line for each reason: where nothing was measured, the same reason holds for everything.
    // A lower bound stands in for a capacity; where there is neither, the capacity's own reason says it.
    let missing = conditions.not_estimated.iter().filter(|(of, _)| !of.is_lower_bound());
    let missing = missing.map(|(of, why)| (why.as_str(), quantity_words(*of)));
    let not_measured = |(why, of): (&str, Vec<&str>)| say!(NotMeasuredNote, why = why, of = of.join(", "));
    notes.extend(grouped(missing).into_iter().map(not_measured));
    notes
}

fn footer(assessment: &Assessment) -> [Block; 3] {
    let conditions = &assessment.conditions;
    let mut facts = policy(&assessment.verdict.policy).and(say!(FromTrace, source = conditions.source));
    if let Some(front_end) = &conditions.front_end {
        facts = facts.and(say!(FrontEnd, name = front_end));
    }
    if let Some(fixture) = &conditions.fixture {
        facts = facts.and(say!(Fixture, name = fixture));
    }
    if let Some(number) = conditions.calibration {
        facts = facts.and(say!(CalibrationUsed, number = number));
    }
    end(facts.and(say!(Program, version = conditions.program)))
}

/// Names the policy that decided.
pub(crate) fn policy(mark: &PolicyMark) -> Text {
    let digest: String = mark.sha256.chars().take(12).collect();
    say!(Policy, name = mark.name, version = mark.version, digest = digest)
}

/// Ends a page with what it was made from and what it is not.
pub(crate) fn end(facts: Text) -> [Block; 3] {
    let text = facts.and(". ").and(Phrase::Supports);
    [Block::Space, Block::Rule, Paragraph::of(text).indented(2).into()]
}
