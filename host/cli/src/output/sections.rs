//! The parts of the page: cautions, reasons, estimates.

use crate::output::style::{Style, hanging};
use crate::output::table::table;
use celltriage_assessment::Assessment;
use celltriage_measure::estimate::Quantity;
use celltriage_report::quantity_words::quantity_words;
use celltriage_rules::Caution;
use celltriage_verdict::{Finding, Reason, Relation, Value, bare_figure, figure_with_few, limit_figure};
use std::collections::BTreeSet;

/// Width of the column with the signal word.
const SIGNAL: usize = 11;

/// Writes cautions, one below the other: signal word, text, source, and whom to ask where the source needs it.
pub fn cautions_text<'a>(cautions: impl Iterator<Item = &'a Caution>, style: &Style) -> String {
    let mut out = String::new();
    for caution in cautions {
        let word = caution.severity.word();
        let space = " ".repeat(SIGNAL.saturating_sub(2 + word.len()));
        let beginning = format!("  {}{space}", style.signal(caution.severity, word));
        let verify = match caution.verify {
            true => format!(" Verify with {}.", caution.verify_with),
            false => String::new(),
        };
        let text = format!("{} [{}]{verify}", caution.text, caution.source);
        out.push_str(&hanging(&beginning, SIGNAL, &text, style.width()));
    }
    out
}

/// Narrower than this the table leaves no room for sources; they are told below it for what did not pass.
const WIDE: usize = 90;

/// Writes the reasons: a table of what was measured or found, then the signs in two lines.
pub fn reasons_text(reasons: &[Reason], style: &Style) -> String {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut told = BTreeSet::new();
    for reason in reasons {
        match (reason.finding, reason.sign, reason.quantity) {
            (Finding::Pass | Finding::Missing | Finding::Inconclusive, Some(_), _) => {}
            (Finding::Pass, None, Some(quantity)) => {
                if told.insert(quantity) {
                    rows.push(passed_row(quantity, reason, reasons).into());
                }
            }
            _ => rows.push(reason_row(reason).into()),
        }
    }
    let (head, widest) = (["criterion", "found", "asked for", "finding", "limit from"], [26, 22, 16, 10]);
    let wide = style.width() >= WIDE;
    if !wide {
        rows.iter_mut().for_each(|row| row.truncate(head.len() - 1));
    }
    let head = if wide { &head[..] } else { &head[..head.len() - 1] };
    let mut out = table(head, &rows, &widest, 2, style.width());
    if !wide {
        let open = |reason: &&Reason| matches!(reason.finding, Finding::Fail | Finding::Inconclusive);
        for reason in reasons.iter().filter(open) {
            let text = format!("{}: limit from {}.", reason.title, reason.source);
            out.push_str(&hanging("  ", 2, &text, style.width()));
        }
    }
    for (finding, words) in
        [(Finding::Pass, "Looked for and not found: "), (Finding::Missing, "Nobody has looked for: ")]
    {
        let signs =
            reasons.iter().filter(|reason| reason.finding == finding).filter_map(|reason| reason.sign);
        let signs: Vec<_> = signs.map(|sign| sign.words()).collect();
        if !signs.is_empty() {
            out.push_str(&hanging("  ", 2, &format!("{words}{}.", signs.join(", ")), style.width()));
        }
    }
    out
}

/// One row for all limits of a quantity that it passed: the narrowest window of them.
fn passed_row(quantity: Quantity, first: &Reason, reasons: &[Reason]) -> [String; 5] {
    let same = || reasons.iter().filter(|one| one.finding == Finding::Pass && one.quantity == Some(quantity));
    let limits = |relation| {
        same().filter(move |one| one.relation == Some(relation)).filter_map(|one| match one.limit {
            Some(Value::Number(limit)) => Some(limit),
            _ => None,
        })
    };
    let [title, found, own_limit, finding, source] = reason_row(first);
    let (low, high) = (limits(Relation::AtLeast).reduce(f64::max), limits(Relation::AtMost).reduce(f64::min));
    let unit = first.unit.as_deref().unwrap_or_default();
    let asked = match (low, high) {
        (Some(low), Some(high)) => {
            Some(format!("{} to {}", bare_figure(low, unit), limit_figure(high, unit)))
        }
        (Some(low), None) => Some(format!("≥ {}", limit_figure(low, unit))),
        (None, Some(high)) => Some(format!("≤ {}", limit_figure(high, unit))),
        (None, None) => None,
    };
    match asked {
        Some(asked) if same().count() > 1 => {
            let sources: BTreeSet<_> = same().map(|one| one.source.as_str()).collect();
            let sources: Vec<_> = sources.into_iter().collect();
            [quantity_words(quantity).to_owned(), found, asked, finding, sources.join("; ")]
        }
        _ => [title, found, own_limit, finding, source],
    }
}

fn reason_row(reason: &Reason) -> [String; 5] {
    let unit = reason.unit.as_deref().unwrap_or_default();
    let found = match &reason.value {
        Some(Value::Number(number)) => {
            let degrees = reason.conformity.as_ref().and_then(|conformity| conformity.degrees_of_freedom);
            figure_with_few(*number, reason.standard_uncertainty.unwrap_or_default(), degrees, unit)
        }
        Some(Value::Text(words)) => words.clone(),
        None => "-".to_owned(),
    };
    let asked = match &reason.limit {
        Some(Value::Number(number)) => {
            let relation = match reason.relation {
                Some(Relation::AtMost) => "≤ ",
                Some(Relation::AtLeast) => "≥ ",
                None => "",
            };
            format!("{relation}{}", limit_figure(*number, unit))
        }
        Some(Value::Text(words)) => words.clone(),
        None => "-".to_owned(),
    };
    let finding = match (reason.finding, reason.mandatory) {
        (Finding::Fail, _) => "FAIL".to_owned(),
        (Finding::Inconclusive, _) => "not clear".to_owned(),
        (Finding::Missing, false) => "not needed".to_owned(),
        (finding, _) => finding.key().to_owned(),
    };
    [reason.title.clone(), found, asked, finding, reason.source.clone()]
}

/// Writes the estimates: a table, then what the reader must know of each.
pub fn estimates_text(assessment: &Assessment, style: &Style) -> String {
    let measured =
        || Quantity::ALL.into_iter().filter_map(|q| assessment.estimates.get(&q).map(|found| (q, found)));
    if assessment.estimates.is_empty() {
        return "  Nothing was measured.\n".to_owned();
    }
    let rows: Vec<_> = measured()
        .map(|(quantity, found)| {
            let figure = match found.interval {
                Some([low, high]) => {
                    format!("{} to {}", bare_figure(low, &found.unit), limit_figure(high, &found.unit))
                }
                None => figure_with_few(
                    found.value,
                    found.standard_uncertainty,
                    found.degrees_of_freedom,
                    &found.unit,
                ),
            };
            vec![quantity_words(quantity).to_owned(), figure, found.method.clone()]
        })
        .collect();
    let mut out = table(&["quantity", "value ± U (k = 2)", "method"], &rows, &[24, 24], 2, style.width());
    // What holds for several quantities is said once, where the first of them stands.
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for (quantity, found) in measured() {
        for warning in &found.warnings {
            match said.iter_mut().find(|(text, _)| *text == warning) {
                Some((_, quantities)) => quantities.push(quantity_words(quantity)),
                None => said.push((warning, vec![quantity_words(quantity)])),
            }
        }
    }
    for (warning, quantities) in said {
        let text = format!("{}: {warning}", quantities.join(", "));
        out.push_str(&hanging("  ! ", 4, &text, style.width()));
    }
    out
}
