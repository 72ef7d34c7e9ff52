//! The one criterion that a decision rests on most, and where its value lies.

use crate::drawing::number_line;
use crate::reason_row::row;
use celltriage_document::figure::{Figure, Layout, Panel};
use celltriage_document::text::Text;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::{Fate, Finding, Reason, TRIP, Verdict};

/// What a cell must have been counted to give before it is reused, and what most often is missing.
const COUNTED: [Quantity; 3] =
    [Quantity::CapacityFraction, Quantity::CapacityFractionAtLeast, Quantity::Capacity];

/// Returns the criterion that decided. Of those with the same finding it is the first, but the capacity comes before others that
/// passed or are missing: it is what most often stands between a cell and its second life.
pub(crate) fn deciding(verdict: &Verdict) -> Option<&Reason> {
    let finding = match verdict.fate {
        Fate::Reuse => Finding::Pass,
        _ => verdict.reasons.first()?.finding,
    };
    let same = || verdict.reasons.iter().filter(move |one| one.finding == finding);
    let counted = |one: &&Reason| one.quantity.is_some_and(|quantity| COUNTED.contains(&quantity));
    let by_capacity = matches!(finding, Finding::Pass | Finding::Missing);
    let capacity =
        same().find(counted).filter(|one| by_capacity && (one.mandatory || finding == Finding::Pass));
    capacity.or_else(|| same().find(|one| verdict.fate != Fate::Reuse || one.conformity.is_some()))
}

/// Draws where a number lies, in a line or two.
pub(crate) fn small_drawing(reason: &Reason) -> Option<Figure> {
    let panel = number_line(reason)?;
    Some(Figure::of(Panel { layout: Layout::Line, ..panel }))
}

/// Says in few words what was looked at, found and asked for; a sign is asked for by its name alone.
pub(crate) fn in_short(reason: &Reason) -> [Text; 3] {
    let [title, found, asked, ..] = row(reason);
    // The guard has one title for all its trips.
    let title = reason
        .criterion
        .strip_prefix(TRIP)
        .map_or(title, |cause| say!(GuardTripped, cause = cause.replace('_', " ")));
    match reason.sign {
        Some(_) => [title, found, Text::default()],
        None => [title, found, asked],
    }
}
