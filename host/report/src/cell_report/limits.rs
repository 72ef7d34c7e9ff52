//! Each limit with the value and the interval that holds it; then what was looked for, in lines.

use crate::reason_row::{passed_row, row};
use celltriage_document::document::{Block, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_verdict::{Finding, Reason, Value, figure_to};
use std::collections::BTreeSet;

/// Lays them out. Limits of one quantity that it passed are one row: the narrowest window of them.
pub(super) fn limits(reasons: &[Reason]) -> Vec<Block> {
    use Phrase::{AskedFor, Criterion, Found, ReportWithin};
    let mut table = Table::under([Criterion, Found, ReportWithin, AskedFor, Phrase::Finding]);
    let mut blocks = Vec::new();
    let mut passed = BTreeSet::new();
    for reason in reasons.iter().filter(|reason| reason.sign.is_none() && !is_missing(reason)) {
        // A sentence does not fit into a column.
        if reason.limit.is_none() && !matches!(reason.value, Some(Value::Number(_))) {
            blocks.push(Paragraph::of(reason.text.as_str()).into());
            continue;
        }
        let [title, found, asked, finding, _] = match (reason.finding, reason.quantity) {
            (Finding::Pass, Some(quantity)) if passed.insert(quantity) => {
                passed_row(quantity, reason, reasons)
            }
            (Finding::Pass, Some(_)) => continue,
            _ => row(reason),
        };
        table.row([title, found, within(reason), asked, finding]);
    }
    blocks.insert(0, table.into());
    for (finding, phrase) in [
        (Finding::Fail, Phrase::FoundLine),
        (Finding::Pass, Phrase::LookedForLine),
        (Finding::Missing, Phrase::NotLookedForLine),
    ] {
        let signs = reasons.iter().filter(|one| one.finding == finding).filter_map(|one| one.sign);
        let signs: Vec<_> = signs.map(|sign| sign.words()).collect();
        if !signs.is_empty() {
            blocks.push(Paragraph::of(Text::phrase(phrase, [("signs", signs.join(", "))])).into());
        }
    }
    blocks
}

/// Names the limits that nothing was measured for, where something was measured: else the reason for all says it.
pub(super) fn not_judged(reasons: &[Reason]) -> Option<Text> {
    let measured = reasons.iter().any(|one| one.conformity.is_some());
    let missing = reasons.iter().filter(|one| one.sign.is_none() && is_missing(one));
    let missing: Vec<&str> = missing.map(|one| one.title.as_str()).collect();
    (measured && !missing.is_empty()).then(|| say!(ReportNotJudged, criteria = missing.join(", ")))
}

fn is_missing(reason: &Reason) -> bool {
    reason.value.is_none() && reason.finding == Finding::Missing
}

/// Returns the interval that holds the true value with 95 %, to the digits that it allows.
fn within(reason: &Reason) -> Text {
    let unit = reason.unit.as_deref().unwrap_or_default();
    let Some(conformity) = &reason.conformity else { return "-".into() };
    let [low, high] = conformity.interval;
    let [low, high] = [low, high].map(|end| figure_to(end, 0.25 * (high - low), unit));
    let low = low.split(' ').next().unwrap_or(&low).to_owned();
    say!(Span, low = low, high = high)
}
