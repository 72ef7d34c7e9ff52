//! The report on a cell, for whoever brought it and for the file: what was found on the day of the test, in plain words.
//!
//! It says what was found and what was not measured, never through whom; and never that the cell is free of danger.

mod limits;
mod pulse;

use crate::cautions::cautions;
use crate::decision_page::{known_line, policy};
use crate::drawing::number_line;
use crate::estimates::grouped;
use crate::quantity_words::quantity_words;
use celltriage_assessment::pulse_curve::PulseCurve;
use celltriage_assessment::{Assessment, Circumstances};
use celltriage_custody::state::Struck;
use celltriage_document::document::{Block, Bullets, Document, Facts, Paragraph, Picture};
use celltriage_document::figure::{Figure, Panel};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_rules::{Caution, Severity};
use celltriage_verdict::{Fate, Finding, KnownFinding};

/// What a report is made of.
#[derive(Clone, Copy, Debug)]
pub struct CellReported<'a> {
    /// The name of the cell.
    pub name: &'a str,
    /// The decision.
    pub assessment: &'a Assessment,
    /// Number of its entry.
    pub entry: u32,
    /// When the entry was written, in words.
    pub at: &'a str,
    /// Digest of the entry, which its chain ties to all entries before.
    pub digest: &'a str,
    /// How it was struck, if it was.
    pub struck: Option<&'a Struck>,
    /// The entry of a newer decision that counts.
    pub newer: Option<u32>,
    /// What was found against the cell since.
    pub since: &'a [KnownFinding],
    /// The pulse, where one was kept.
    pub pulse: Option<&'a PulseCurve>,
    /// Photographs.
    pub photographs: &'a [Picture],
}

/// Puts the report together.
pub fn cell_report(of: &CellReported<'_>) -> Document {
    let CellReported { name, assessment, .. } = *of;
    let verdict = &assessment.verdict;
    let mut paper = Document::paper(say!(ReportTitle, id = name));
    if assessment.conditions.is_simulated() {
        paper.notice(FIRST_LINE);
    }
    if of.struck.is_some() {
        paper.notice(Phrase::ReportStruck);
    }
    if let Some(newer) = of.newer {
        paper.notice(say!(ReportNewer, entry = newer));
    }
    paper.push(head(of));
    paper.push(Paragraph::of(Text::from(meaning(verdict.fate)).strong()));
    paper.push(Paragraph::of(verdict.statement.as_str()));
    if let Some(struck) = of.struck {
        paper.push(Paragraph::of(struck.words()));
    }
    let since = of.since.iter().map(|found| Block::from(known_line(name, found)));
    paper.section(Phrase::ReportSince, since.collect::<Vec<_>>());
    paper.section(Phrase::ReportLimits, limits::limits(&verdict.reasons));
    paper.blocks.extend(deciding(assessment));
    paper.section(
        Phrase::ReportPulse,
        of.pulse.map(|pulse| pulse::pulse(pulse, assessment)).unwrap_or_default(),
    );
    paper.section(Phrase::ReportNotMeasured, [Bullets::of(not_measured(assessment)).into()]);
    let grave = assessment.cautions.iter().filter(|caution: &&Caution| caution.severity > Severity::Notice);
    paper.section(Phrase::ReportHeed, cautions(grave));
    paper.blocks.extend(of.photographs.iter().cloned().map(Block::from));
    let entry = say!(ReportEntry, entry = of.entry, at = of.at, digest = of.digest);
    paper.push(Block::Rule).push(Facts::of([(Phrase::ReportBook, entry)]));
    paper.push(Paragraph::of(Text::from(Phrase::ReportEnd).and(" ").and(Phrase::Supports)));
    paper
}

const fn meaning(fate: Fate) -> Phrase {
    match fate {
        Fate::Reuse => Phrase::ReportReuse,
        Fate::Undecided => Phrase::ReportUndecided,
        Fate::Recycle => Phrase::ReportRecycle,
        Fate::Quarantine => Phrase::ReportQuarantine,
    }
}

/// What it is about: the cell, the day, the result, who and what measured it.
fn head(of: &CellReported<'_>) -> Facts {
    let Assessment { cell, conditions, verdict, .. } = of.assessment;
    let plate = &cell.nameplate;
    let rated = celltriage_verdict::limit_figure(plate.rated_capacity_ah, "Ah");
    let rated = say!(ReportRated, capacity = rated, limit = plate.charge_limit_v);
    let model = plate.model.as_ref().map_or(Text::default(), |model| format!(" · {model}").into());
    let place = conditions.place.as_ref().map_or_else(|| say!(NoPlace), |place| place.as_str().into());
    let assessor = cell.observations.assessor.as_deref().map_or(Phrase::ReportNobody.into(), Text::from);
    let fixture = match &conditions.fixture {
        Some(fixture) => fixture.as_str().into(),
        None => say!(ReportNoFixture, source = conditions.source),
    };
    let mut rows: Vec<(Phrase, Text)> = vec![
        (Phrase::ReportResult, Text::from(verdict.fate.key().to_uppercase()).strong()),
        (Phrase::ReportCondition, verdict.condition.words().into()),
        (Phrase::ReportCell, Text::from(of.name).and(model).and(" · ").and(rated)),
        (Phrase::ReportTested, Text::from(format!("{} · ", conditions.date)).and(place)),
        (Phrase::ReportAssessor, assessor),
        (Phrase::ReportWith, fixture),
    ];
    rows.extend(calibration(conditions).map(|text| (Phrase::ReportCalibration, text)));
    rows.push((Phrase::ReportPolicy, policy(&verdict.policy)));
    Facts::of(rows)
}

fn calibration(conditions: &Circumstances) -> Option<Text> {
    let number = conditions.calibration.filter(|_| conditions.fixture.is_some())?;
    if number == 0 {
        return Some(Text::from(Phrase::ReportUncalibrated).strong());
    }
    let used = conditions.calibration_used.as_ref();
    let known = used.and_then(|used| Some((used.on?, used.reference.as_deref()?, used.due)));
    Some(match known {
        Some((day, reference, due)) => {
            let due = due.map_or_else(|| "-".to_owned(), |due| due.to_string());
            say!(ReportCalibrated, number = number, day = day, reference = reference, due = due)
        }
        None => say!(ReportCalibrationOnly, number = number),
    })
}

/// Draws the number that the decision rests on most.
fn deciding(assessment: &Assessment) -> Option<Block> {
    let reason = crate::deciding::deciding(&assessment.verdict)?;
    let panel = number_line(reason)?;
    let finding = match reason.finding {
        Finding::Pass => Phrase::Passes,
        Finding::Fail => Phrase::Fails,
        Finding::Inconclusive => Phrase::NotClear,
        Finding::Missing => Phrase::Missing,
    };
    let heading = Text::from(reason.title.as_str());
    Some(Figure::of(Panel { heading, finding: finding.into(), ..panel }).into())
}

/// What was not measured, and why: one line for each reason.
fn not_measured(assessment: &Assessment) -> Vec<Text> {
    let missing = assessment.conditions.not_estimated.iter().filter(|(of, _)| !of.is_lower_bound());
    let missing = missing.map(|(of, why)| (why.as_str(), quantity_words(*of)));
    let line = |(why, of): (&str, Vec<&str>)| Text::from(format!("{}: {why}", of.join(", ")));
    let not_judged = limits::not_judged(&assessment.verdict.reasons);
    not_judged.into_iter().chain(grouped(missing).into_iter().map(line)).collect()
}

#[cfg(test)]
mod tests;
