//! A reason as a row: what was looked at, what was found, what was asked for, what became of it, where the limit comes from.

use crate::quantity_words::quantity_words;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::{
    Finding, Reason, Relation, TRIP, Value, bare_figure, figure_with_few, limit_figure,
};
use std::collections::BTreeSet;

/// One row for all limits of a quantity that it passed: the narrowest window of them.
pub(crate) fn passed_row(quantity: Quantity, first: &Reason, reasons: &[Reason]) -> [Text; 5] {
    let same = || reasons.iter().filter(|one| one.finding == Finding::Pass && one.quantity == Some(quantity));
    let limits = |relation| {
        same().filter(move |one| one.relation == Some(relation)).filter_map(|one| match one.limit {
            Some(Value::Number(limit)) => Some(limit),
            _ => None,
        })
    };
    let [title, found, own_limit, finding, source] = row(first);
    let (low, high) = (limits(Relation::AtLeast).reduce(f64::max), limits(Relation::AtMost).reduce(f64::min));
    let unit = first.unit.as_deref().unwrap_or_default();
    let asked = match (low, high) {
        (Some(low), Some(high)) => {
            Some(say!(Span, low = bare_figure(low, unit), high = limit_figure(high, unit)))
        }
        (Some(low), None) => Some(format!("≥ {}", limit_figure(low, unit)).into()),
        (None, Some(high)) => Some(format!("≤ {}", limit_figure(high, unit)).into()),
        (None, None) => None,
    };
    match asked {
        Some(asked) if same().count() > 1 => {
            let sources: BTreeSet<_> = same().map(|one| one.source.as_str()).collect();
            let sources: Vec<_> = sources.into_iter().collect();
            [quantity_words(quantity).into(), found, asked, finding, sources.join("; ").into()]
        }
        _ => [title, found, own_limit, finding, source],
    }
}

/// Writes what was found; a lower bound is told from a value.
pub(crate) fn found_figure(reason: &Reason, value: f64, degrees: Option<f64>) -> String {
    let unit = reason.unit.as_deref().unwrap_or_default();
    let told = figure_with_few(value, reason.standard_uncertainty.unwrap_or_default(), degrees, unit);
    if reason.is_lower_bound() { format!("≥ {told}") } else { told }
}

/// What there is to say of a reason in a row: what was looked at, what was found, what was asked for, what became of it, and where the limit
/// comes from.
pub(crate) fn row(reason: &Reason) -> [Text; 5] {
    let unit = reason.unit.as_deref().unwrap_or_default();
    // A trip without a unit is a code of the guard: its cause says it, the code says nothing.
    let code =
        reason.criterion.strip_prefix(TRIP).filter(|_| reason.unit.is_none() && reason.value.is_some());
    let found = match &reason.value {
        _ if code.is_some() => code.unwrap_or_default().replace('_', " "),
        Some(Value::Number(number)) => {
            let degrees = reason.conformity.as_ref().and_then(|conformity| conformity.degrees_of_freedom);
            found_figure(reason, *number, degrees)
        }
        Some(Value::Text(words)) => words.clone(),
        None => "-".to_owned(),
    };
    let asked = match (&reason.limit, reason.relation) {
        _ if code.is_some() => "-".to_owned(),
        (Some(Value::Number(number)), Some(Relation::AtMost)) => format!("≤ {}", limit_figure(*number, unit)),
        (Some(Value::Number(number)), Some(Relation::AtLeast)) => {
            format!("≥ {}", limit_figure(*number, unit))
        }
        (Some(Value::Number(number)), None) => limit_figure(*number, unit),
        (Some(Value::Text(words)), _) => words.clone(),
        (None, _) => "-".to_owned(),
    };
    let finding = match (reason.finding, reason.mandatory) {
        (Finding::Fail, _) => Phrase::FailLoud.into(),
        (Finding::Inconclusive, _) => Phrase::NotClear.into(),
        (Finding::Missing, false) => Phrase::NotNeeded.into(),
        (finding, _) => Text::from(finding.key()),
    };
    [reason.title.as_str().into(), found.into(), asked.into(), finding, reason.source.as_str().into()]
}
