//! Whether the label can be right: what was counted against it, what other cells of the model have, and what a second look reads.
//!
//! Input: the counted capacity, the label, what was read from it again, and the labels of other cells of the model; output: a reason of
//! its own where there is anything to say. Capacity over rated and resistance times rated rest on one typed figure, and fail together
//! where it is wrong: a label 40 % low makes every worn cell look new. So a count far above the label proves nothing before the label
//! was confirmed, and a label other than its model's proves nothing either way.

use crate::consequence_file::value;
use crate::criterion::{Consequence, Criterion, Subject};
use crate::evidence::Evidence;
use crate::figure::{figure, limit_figure};
use crate::judge::judge;
use crate::judged::{Judged, blank};
use crate::label_of_model::LabelOfModel;
use crate::limit::{Guard, Limit};
use crate::measurand::Measurand;
use crate::reason::{Finding, Value};
use crate::step::Act;
use celltriage_measure::estimate::Quantity;
use celltriage_written::{Fields, Found, Reading};

/// Name of the reason.
pub const LABEL: &str = "label";
/// The keys of the table in a policy file.
const KEYS: [&str; 2] = ["most_of_rated", "source"];
/// A new cell gives up to some per cent more than its label says; beyond a tenth the label is the likelier error.
const MOST_OF_RATED: f64 = 1.10;
/// Figures of one label that differ by more are two labels: both are typed from print.
const SAME_LABEL: f64 = 0.005;
const SETTLE: &str = "Look at the label on the cell again and say what rated capacity it reads; where none can be read, take another \
                      cell of the model. If the label was given wrongly, correct it and judge the same recording again.";

/// What a policy says of counts above the label.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelTerms {
    /// Share of the rated capacity above which a count proves nothing until the label was confirmed.
    pub most_of_rated: f64,
    /// Where that comes from.
    pub source: String,
}

impl Default for LabelTerms {
    fn default() -> Self {
        Self { most_of_rated: MOST_OF_RATED, source: "common practice".to_owned() }
    }
}

/// What is to be said of a label.
pub(super) struct LabelDoubt<'a> {
    /// The reason, if there is any.
    pub reason: Option<Judged<'a>>,
    /// Whether figures made with the rated capacity prove nothing, not even against the cell.
    other_label: bool,
}

/// Reads the table `label` of a policy file; without one the usual terms hold.
pub(super) fn read(head: &mut Fields<'_>, reading: &mut Reading<'_>) -> LabelTerms {
    let usual = LabelTerms::default();
    if !head.has("label") {
        return usual;
    }
    let Some(mut table) = head.table("label", reading) else { return usual };
    let most = table.take::<f64>("most_of_rated", reading);
    if let Some(Found { span, .. }) = most.as_ref().filter(|found| !(1.0..=3.0).contains(&found.value)) {
        reading.add(span.clone(), "write a share of the rated capacity between 1 and 3; 1.1 is common");
    }
    let terms = LabelTerms {
        most_of_rated: most.map_or(usual.most_of_rated, |found| found.value),
        source: value(&mut table, "source", reading).unwrap_or(usual.source),
    };
    table.finish(&KEYS, reading);
    terms
}

/// Returns whether two rated capacities are the same print.
fn same(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() <= SAME_LABEL
}

/// Returns what is to be said of the label. `terms` is `None` where a decision of an older method is computed again: then nothing.
pub(super) fn of_label<'a>(
    terms: Option<&LabelTerms>,
    guard: Guard,
    evidence: &Evidence<'_>,
) -> LabelDoubt<'a> {
    let Some(terms) = terms else { return LabelDoubt { reason: None, other_label: false } };
    let rated = evidence.nameplate.rated_capacity_ah;
    let ah = |capacity: f64| limit_figure(capacity, "Ah");
    let again = evidence.observations.label_again_ah;
    let groups = || evidence.labels_of_model.iter();
    let own = groups().find(|group| same(group.rated_ah, rated));
    let others = groups().filter(|group| !same(group.rated_ah, rated)).max_by_key(|group| group.cells);
    let confirmed = match (again, own) {
        (Some(read), _) if same(read, rated) => Some(match evidence.observations.assessor.as_deref() {
            Some(by) => format!("the label was read again by {by}: {}", ah(read)),
            None => format!("the label was read again: {}", ah(read)),
        }),
        (None, Some(LabelOfModel { read_again, .. })) if *read_again > 0 => {
            Some(format!("the label of another cell of this model was read twice: {}", ah(rated)))
        }
        _ => None,
    };
    let mut against = Vec::new();
    let mut other_label = false;
    if let Some(read) = again.filter(|read| !same(*read, rated)) {
        against.push(format!("it was given as {} and reads {}", ah(rated), ah(read)));
        other_label = true;
    }
    if let Some(LabelOfModel { rated_ah, cells, .. }) =
        others.filter(|others| own.is_none_or(|own| others.cells > own.cells))
    {
        let (s, have) = if *cells == 1 { ("", "has") } else { ("s", "have") };
        against.push(format!(
            "{cells} other cell{s} of this model {have} {} on the label, this one {}",
            ah(*rated_ah),
            ah(rated)
        ));
        other_label |= confirmed.is_none();
    }
    if let Some(share) = above(terms, guard, evidence) {
        let most = limit_figure(terms.most_of_rated, "1");
        against.push(format!("the cell gave {} of its rated capacity, more than {most}", figure(share, "1")));
    }
    if against.is_empty() {
        return LabelDoubt { reason: None, other_label: false };
    }
    let told = against.join("; ");
    LabelDoubt { reason: Some(reason(terms, rated, &told, confirmed)), other_label }
}

fn reason<'a>(terms: &LabelTerms, rated: f64, told: &str, confirmed: Option<String>) -> Judged<'a> {
    let consequence = Consequence::of_question(terms.source.clone());
    let mut reason = blank(LABEL, "label", &consequence, true);
    reason.value = Some(Value::Text(limit_figure(rated, "Ah")));
    reason.limit = Some(Value::Text("confirmed".to_owned()));
    let mut settle_acts = Vec::new();
    match confirmed {
        Some(by) => {
            reason.finding = Finding::Pass;
            reason.text = format!("Confirmed: {by}. What spoke against it: {told}.");
        }
        None => {
            reason.finding = Finding::Inconclusive;
            reason.text = format!("The label may be wrong: {told}.");
            reason.settle = Some(SETTLE.to_owned());
            settle_acts.push(Act::Look);
        }
    }
    Judged { reason, condition: None, advice: None, settle_acts }
}

/// Returns the share of the rated capacity that was counted, where it is not clear of the most that a label explains.
fn above(terms: &LabelTerms, guard: Guard, evidence: &Evidence<'_>) -> Option<f64> {
    let share = Measurand::Estimate(Quantity::CapacityFraction).look_up(evidence).ok()?.measured;
    let most = Limit::AtMost { limit: terms.most_of_rated, doubtful: terms.most_of_rated };
    let (finding, _) = judge(most, &share, guard)?;
    (finding != Finding::Pass).then_some(share.value)
}

impl LabelDoubt<'_> {
    /// Takes from a failed criterion what it proves, where it rests on a label that is not the cell's.
    pub(super) fn soften(&self, criterion: &Criterion, judged: &mut Judged<'_>) {
        let Subject::Number(number) = &criterion.subject else { return };
        let by_label = [Measurand::Estimate(Quantity::CapacityFraction), Measurand::ResistanceTimesCapacity];
        if self.other_label && by_label.contains(&number.measurand) && judged.reason.finding == Finding::Fail
        {
            judged.reason.finding = Finding::Inconclusive;
            judged.reason.text.push_str(" But the rated capacity may be that of another label.");
        }
    }
}
