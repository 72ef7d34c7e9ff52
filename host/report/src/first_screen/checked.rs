//! What was checked, with its limits: failures first, then what is not clear or missing, then what passed; as counts where there is
//! no room for more.

use super::layout::Layout;
use super::part::Part;
use crate::deciding::{in_short, small_drawing};
use crate::quantity_words::quantity_words;
use crate::reason_row::{passed_row, row};
use celltriage_assessment::Assessment;
use celltriage_document::document::Block;
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_verdict::{Finding, LIFETIME_RECORD, Reason, Value, figure_to};
use std::collections::BTreeSet;

/// Claims to room: the names of what failed or is open, the drawing, what passed by name and with its value, then all of it.
const OPEN: u8 = 1;
const DRAWING: u8 = 2;
const PASSED: u8 = 5;
const ALL_PASSED: u8 = 6;
const NOT_NEEDED: u8 = 7;

/// Lays out the number that decided, with where it lies.
pub(super) fn decided_by(reason: Option<&Reason>, layout: &Layout) -> Part {
    let Some(reason) = reason.filter(|reason| reason.conformity.is_some()) else {
        return Part::of(Vec::new());
    };
    let [what, found, limit] = in_short(reason).map(|text| text.said());
    let finding = match reason.finding {
        Finding::Pass => Phrase::Passes,
        Finding::Fail => Phrase::Fails,
        Finding::Inconclusive => Phrase::NotClear,
        Finding::Missing => Phrase::Missing,
    };
    let line = |limit: &str| {
        say!(DecidingNumber, what = what, found = found, limit = limit, finding = finding.english())
    };
    // The unit of the limit is that of the value; where the line has no room for it, it is left out.
    let whole = layout.part(Phrase::ScreenDecidedBy, [line(&limit)]);
    let words = match layout.count(&whole) {
        1 => whole,
        _ => layout.part(Phrase::ScreenDecidedBy, [line(without_unit(&limit, &found))]),
    };
    let further = layout.indent().saturating_sub(2);
    let drawing = small_drawing(reason).map(|drawing| Block::from(drawing.further(further)));
    let drawn = words.iter().cloned().chain(drawing).collect();
    // Value and limit stand in the reason too.
    Part::of(Vec::new()).richer(DRAWING, drawn)
}

/// What passed.
#[derive(Debug)]
struct Passed {
    name: String,
    /// With value and limit.
    whole: String,
    mandatory: bool,
}

/// How much is said of what passed.
#[derive(Clone, Copy)]
enum Detail {
    Names,
    ValuesOfTheMandatory,
    Values,
}

/// What became of the criteria but the one that is told beside, one list for each finding.
#[derive(Debug, Default)]
struct Groups {
    failed: Vec<String>,
    open: Vec<String>,
    missing: Vec<String>,
    passed: Vec<Passed>,
    not_needed: Vec<String>,
    signs: usize,
    unseen: Vec<&'static str>,
}

/// Lays out what was checked beside what is told already.
pub(super) fn checked(assessment: &Assessment, told: Option<&Reason>, layout: &Layout) -> Part {
    let groups = Groups::of(&assessment.verdict.reasons, told);
    let part = |lines: Vec<Option<Text>>| layout.part(Phrase::ScreenChecked, lines.into_iter().flatten());
    let form = |detail| part(groups.open_lines().into_iter().chain([groups.passed(detail)]).collect());
    let not_needed = list(Phrase::CheckedNotNeeded, &groups.not_needed);
    let all = groups.open_lines().into_iter().chain([groups.passed(Detail::Values), not_needed]);
    Part::of(part(vec![groups.counts(true)]))
        .richer(OPEN, part(groups.failed_lines().into_iter().chain([groups.counts(false)]).collect()))
        .richer(PASSED, form(Detail::Names))
        .richer(PASSED, form(Detail::ValuesOfTheMandatory))
        .richer(ALL_PASSED, form(Detail::Values))
        .richer(NOT_NEEDED, part(all.collect()))
}

impl Groups {
    fn of(reasons: &[Reason], told: Option<&Reason>) -> Self {
        let mut groups = Self::default();
        let mut seen = BTreeSet::new();
        let is_told = |one: &Reason| told.is_some_and(|told| std::ptr::eq(told, one));
        for reason in reasons.iter().filter(|one| one.criterion != LIFETIME_RECORD && !is_told(one)) {
            let name =
                || reason.quantity.map_or_else(|| reason.title.clone(), |of| quantity_words(of).to_owned());
            match (reason.finding, reason.sign, reason.quantity) {
                (Finding::Pass, Some(_), _) => groups.signs += 1,
                (Finding::Missing, Some(sign), _) => groups.unseen.push(sign.words()),
                (Finding::Fail, ..) => groups.failed.push(one(reason)),
                (Finding::Inconclusive, ..) => groups.open.push(one(reason)),
                (Finding::Missing, None, _) => {
                    let list = if reason.mandatory { &mut groups.missing } else { &mut groups.not_needed };
                    if !list.contains(&name()) {
                        list.push(name());
                    }
                }
                // All limits of one quantity are one window.
                (Finding::Pass, None, Some(quantity)) => {
                    if told.is_none_or(|told| told.quantity != Some(quantity)) && seen.insert(quantity) {
                        groups.passed.push(Passed::of(reason, passed_row(quantity, reason, reasons)));
                    }
                }
                (Finding::Pass, None, None) => groups.passed.push(Passed::of(reason, row(reason))),
            }
        }
        groups
    }

    /// What failed or is not clear, by name.
    fn failed_lines(&self) -> Vec<Option<Text>> {
        vec![list(Phrase::CheckedFailed, &self.failed), list(Phrase::CheckedOpen, &self.open)]
    }

    /// The same, and what is missing.
    fn open_lines(&self) -> Vec<Option<Text>> {
        let unseen = (!self.unseen.is_empty()).then(|| say!(CheckedSomeSigns, open = self.unseen.join(", ")));
        let missing = [list(Phrase::CheckedMissing, &self.missing), unseen];
        self.failed_lines().into_iter().chain(missing).collect()
    }

    /// How many there are of each, in one line; what failed or is not clear only where it stands in no line by name.
    fn counts(&self, open: bool) -> Option<Text> {
        let all = [
            (Phrase::CountFailed, self.failed.len(), open),
            (Phrase::CountOpen, self.open.len(), open),
            (Phrase::CountMissing, self.missing.len() + self.unseen.len(), true),
            (Phrase::CountPassed, self.passed.len() + self.signs, true),
        ];
        let counted = all.into_iter().filter(|(_, count, counted)| *counted && *count > 0);
        let parts = counted.map(|(phrase, count, _)| phrase.said(&[("count", &count.to_string())]));
        let parts = parts.collect::<Vec<_>>().join(", ");
        (!parts.is_empty()).then(|| parts.into())
    }

    /// What passed: the signs in a few words, then each number.
    fn passed(&self, detail: Detail) -> Option<Text> {
        let mut names: Vec<String> = Vec::new();
        if self.signs > 0 {
            names.push(say!(CheckedSigns, count = self.signs).said());
        }
        names.extend(self.passed.iter().filter_map(|one| match detail {
            Detail::Names => Some(one.name.clone()),
            Detail::ValuesOfTheMandatory => one.mandatory.then(|| one.whole.clone()),
            Detail::Values => Some(one.whole.clone()),
        }));
        let others = self.passed.iter().filter(|one| !one.mandatory).count();
        if matches!(detail, Detail::ValuesOfTheMandatory) && others > 0 {
            names.push(say!(CountOthers, count = others).said());
        }
        list(Phrase::CheckedPassed, &names)
    }
}

impl Passed {
    fn of(reason: &Reason, row: [Text; 5]) -> Self {
        let [title, _, asked, ..] = row.map(|text| text.said());
        let value = value(reason);
        let number = matches!(reason.value, Some(Value::Number(_)));
        let whole = if number { with_limit(&title, &value, &asked) } else { title.clone() };
        Self { name: title, whole, mandatory: reason.mandatory }
    }
}

fn list(phrase: Phrase, names: &[String]) -> Option<Text> {
    (!names.is_empty()).then(|| Text::phrase(phrase, [("what", names.join("; "))]))
}

/// Says one criterion with what was found and asked for.
fn one(reason: &Reason) -> String {
    let [title, found, asked] = in_short(reason).map(|text| text.said());
    match reason.value {
        Some(Value::Number(_)) if asked != "-" => with_limit(&title, &found, &asked),
        _ if reason.sign.is_some() => title,
        _ => format!("{title} ({found})"),
    }
}

/// Leaves out of a limit the unit that stands beside the value already.
fn without_unit<'a>(limit: &'a str, found: &str) -> &'a str {
    let unit = found.rsplit(' ').next().unwrap_or_default();
    limit.strip_suffix(unit).map_or(limit, str::trim_end)
}

fn with_limit(what: &str, found: &str, limit: &str) -> String {
    let limit = without_unit(limit, found);
    say!(CheckedOne, what = what, found = found, limit = limit).said()
}

/// A value that passed, to the digits that its doubt allows.
fn value(reason: &Reason) -> String {
    let unit = reason.unit.as_deref().unwrap_or_default();
    let bound = if reason.is_lower_bound() { "≥ " } else { "" };
    match &reason.value {
        Some(Value::Number(number)) => {
            format!("{bound}{}", figure_to(*number, reason.standard_uncertainty.unwrap_or_default(), unit))
        }
        Some(Value::Text(words)) => words.clone(),
        None => "-".to_owned(),
    }
}
