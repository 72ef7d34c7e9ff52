//! The page for the bench: the fate first, then what endangers people, then why, then the numbers.
//!
//! Takes an [`Assessment`] and a [`Style`]; gives text of at most the style's width.

use crate::output::sections::{cautions_text, estimates_text, reasons_text};
use crate::output::style::{Style, hanging, wrapped};
use celltriage_assessment::Assessment;
use celltriage_custody::known;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_report::quantity_words::quantity_words;
use celltriage_rules::{Caution, Kind, Severity};
use celltriage_verdict::{CellState, Fate, KnownFinding};

/// Writes the whole page: that a cell is simulated and what is known of it from before stand above everything.
pub fn decision_page(assessment: &Assessment, style: &Style) -> String {
    decision_page_below(&[], assessment, style)
}

/// Writes the whole page below what the book has found of the cell since.
pub fn decision_page_below(since: &[KnownFinding], assessment: &Assessment, style: &Style) -> String {
    let verdict = &assessment.verdict;
    let mut page = String::new();
    if assessment.conditions.is_simulated() {
        page.push_str(&format!("{}\n", style.strong(FIRST_LINE)));
    }
    let id = assessment.cell.id.as_deref().unwrap_or("without a number");
    for found in since {
        page.push_str(&hanging("", 2, &known::line(known::OF, id, found), style.width()));
    }
    for found in &assessment.known {
        page.push_str(&hanging("Known before: ", 2, &found.words(), style.width()));
    }
    if verdict.active_now() {
        page.push_str(&emergency(assessment, style));
    }
    page.push_str(&banner(assessment, style));

    let told = |caution: &&Caution| verdict.active_now() && caution.kind == Kind::Emergency;
    let urgent =
        assessment.cautions.iter().filter(|caution| caution.severity > Severity::Notice && !told(caution));
    section(&mut page, "HEED", &cautions_text(urgent, style), style);
    section(&mut page, "WHY", &reasons_text(&verdict.reasons, style), style);
    section(&mut page, "MEASURED", &estimates_text(assessment, style), style);
    let health = assessment.health.iter().flat_map(|health| &health.statement);
    section(&mut page, "HEALTH", &bullets(health, style), style);
    let heading = if verdict.fate == Fate::Undecided { "WHAT WOULD SETTLE IT" } else { "WHAT TO DO NEXT" };
    section(&mut page, heading, &bullets(verdict.next_steps.iter(), style), style);
    let notices = assessment.cautions.iter().filter(|caution| caution.severity == Severity::Notice);
    section(&mut page, "PAPERS AND PLACES", &cautions_text(notices, style), style);
    section(&mut page, "NOTES ON THE MEASUREMENT", &notes(assessment, style), style);
    page.push_str(&footer(assessment, style));
    page
}

/// The word that people in a workshop know from signs, for the fate as a whole.
fn signal_of(assessment: &Assessment) -> Severity {
    match (assessment.verdict.condition, assessment.verdict.fate) {
        (CellState::Critical, _) => Severity::Danger,
        (_, Fate::Quarantine) => Severity::Warning,
        (_, Fate::Recycle | Fate::Undecided) => Severity::Caution,
        (_, Fate::Reuse) => Severity::Notice,
    }
}

fn emergency(assessment: &Assessment, style: &Style) -> String {
    let mut out = style.line('━') + "\n";
    for caution in assessment.cautions.iter().filter(|caution| caution.kind == Kind::Emergency) {
        for line in wrapped(&caution.text, style.width().saturating_sub(4)) {
            let room = style.width().saturating_sub(2);
            let padded = format!("  {line:<room$}");
            out.push_str(style.signal(caution.severity, &padded).trim_end());
            out.push('\n');
        }
    }
    out + &style.line('━') + "\n\n"
}

/// The fate in spaced capitals, so that it stands out from across the bench, then the sentence.
fn banner(assessment: &Assessment, style: &Style) -> String {
    let verdict = &assessment.verdict;
    let severity = signal_of(assessment);
    let spaced: Vec<_> = capitals(verdict.fate).chars().map(String::from).collect();
    let word = severity.word();
    let room = style.width().saturating_sub(word.len() + 4);
    let title = format!("  {:<room$}{word}  ", spaced.join(" "));
    let title = style.signal(severity, &title);

    let mut out = format!("{}\n{}\n{}\n", style.line('━'), title.trim_end(), style.line('━'));
    let why = format!("{}: {}", verdict.fate, verdict.statement);
    for line in wrapped(&why, style.width().saturating_sub(4)) {
        out.push_str(&format!("  {}\n", style.strong(&line)));
    }
    let id =
        assessment.cell.id.as_deref().map_or("cell without a number".to_owned(), |id| format!("cell {id}"));
    let place = assessment.conditions.place.as_ref().map_or("no place given", |place| place.as_str());
    let facts = format!("{id} · {} · {place} · {}", assessment.conditions.date, verdict.condition.words());
    out.push_str(&hanging("  ", 2, &facts, style.width()));
    out
}

fn bullets<'a>(items: impl Iterator<Item = &'a String>, style: &Style) -> String {
    items.map(|item| hanging("  - ", 4, item, style.width())).collect()
}

fn notes(assessment: &Assessment, style: &Style) -> String {
    let conditions = &assessment.conditions;
    let mut notes: Vec<String> =
        assessment.cell.warnings.iter().map(|note| format!("label: {note}")).collect();
    notes.extend(conditions.trace_notes.iter().map(|note| format!("trace: {note}")));
    // One line for each reason: where nothing was measured, the same reason holds for everything.
    let mut missing: Vec<(&str, Vec<&str>)> = Vec::new();
    for (quantity, why) in &conditions.not_estimated {
        match missing.iter_mut().find(|(known, _)| known == why) {
            Some((_, quantities)) => quantities.push(quantity_words(*quantity)),
            None => missing.push((why, vec![quantity_words(*quantity)])),
        }
    }
    notes.extend(
        missing.iter().map(|(why, quantities)| format!("not measured, {why}: {}", quantities.join(", "))),
    );
    bullets(notes.iter(), style)
}

fn footer(assessment: &Assessment, style: &Style) -> String {
    let policy = &assessment.verdict.policy;
    let conditions = &assessment.conditions;
    let digest: String = policy.sha256.chars().take(12).collect();
    let mut facts = vec![
        format!("policy {} {} ({digest})", policy.name, policy.version),
        format!("trace: {}", conditions.source),
    ];
    facts.extend(conditions.front_end.iter().map(|front_end| format!("front end: {front_end}")));
    facts.extend(conditions.fixture.iter().map(|fixture| format!("fixture {fixture}")));
    facts.extend(conditions.calibration.map(|number| format!("calibration {number}")));
    facts.push(format!("celltriage {}", conditions.program));
    let text = format!(
        "{}. This page supports a trained person's judgement and replaces neither it nor the law of the place.",
        facts.join(" · ")
    );
    format!("\n{}\n{}", style.line('─'), hanging("  ", 2, &text, style.width()))
}

fn section(page: &mut String, heading: &str, body: &str, style: &Style) {
    if !body.is_empty() {
        page.push_str(&format!("\n{}\n{body}", style.strong(heading)));
    }
}

fn capitals(fate: Fate) -> String {
    fate.key().to_uppercase()
}
