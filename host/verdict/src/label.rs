//! Whether the label can be right: what was counted against it, what other cells of the model have, and what a second look reads.
//!
//! Input: the counted capacity, the label, what was read from it again, and the labels of other cells of the model; output: a reason of
//! its own where there is anything to say. Capacity over rated and resistance times rated rest on one typed figure, and fail together
//! where it is wrong: a label 40 % low makes every worn cell look new. So a count far above the label proves nothing before the label
//! was confirmed, and a label other than its model's proves nothing either way.

use crate::bound::lower_bound;
use crate::criterion::{Consequence, Criterion, Subject};
use crate::evidence::Evidence;
use crate::figure::{figure, limit_figure};
use crate::judge::judge;
use crate::judged::{Judged, blank};
use crate::label_of_model::LabelOfModel;
use crate::label_terms::LabelTerms;
use crate::limit::{Guard, Limit};
use crate::measurand::Measurand;
use crate::policy::Policy;
use crate::reason::{Finding, Value};
use crate::step::Act;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::Observations;

/// Name of the reason.
pub const LABEL: &str = "label";
/// Figures of one label that differ by more are two labels: both are typed from print.
const SAME_LABEL: f64 = 0.005;
/// A lower bound below this share of the rated capacity proves nothing, so no doubt of the label is told for its sake (judged).
const SHOWS_NOTHING_BELOW: f64 = 0.75;
/// No cell gives so much more than its maker prints: then the count itself is in doubt, whatever a second look at the label reads (our
/// choice; makers print a few per cent less than the typical cell has).
const MOST_POSSIBLE: f64 = 1.3;
const SETTLE_COUNT: &str = "Check the current and the clock of the instrument against another, and whether the label is this cell's, then \
                            discharge it again.";
const SETTLE: &str = "Look at the label on the cell again and say what rated capacity it reads; where none can be read, take another \
                      cell of the model. If the label was given wrongly, correct it and judge the same recording again.";

/// What is to be said of a label.
pub(super) struct LabelDoubt<'a> {
    /// The reason, if there is any.
    pub reason: Option<Judged<'a>>,
    /// Whether figures made with the rated capacity prove nothing, not even against the cell.
    other_label: bool,
}

/// Returns whether two rated capacities are the same print.
fn same(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() <= SAME_LABEL
}

/// Returns what confirms a label, in words: a second look at it, or another cell of the model whose label was read twice.
pub fn confirmed(
    rated_ah: f64,
    observations: &Observations,
    labels_of_model: &[LabelOfModel],
) -> Option<String> {
    let ah = |capacity: f64| limit_figure(capacity, "Ah");
    let own = labels_of_model.iter().find(|group| same(group.rated_ah, rated_ah));
    match (observations.label_again_ah, own) {
        (Some(read), _) if same(read, rated_ah) => Some(match observations.assessor.as_deref() {
            Some(by) => format!("the label was read again by {by}: {}", ah(read)),
            None => format!("the label was read again: {}", ah(read)),
        }),
        (None, Some(LabelOfModel { read_again, .. })) if *read_again > 0 => {
            Some(format!("the label of another cell of this model was read twice: {}", ah(rated_ah)))
        }
        _ => None,
    }
}

/// Returns what is to be said of the label; nothing where a decision of a method that did not ask is computed again.
pub(super) fn of_label<'a>(policy: &Policy, evidence: &Evidence<'_>) -> LabelDoubt<'a> {
    let Policy { guard, bounds, .. } = *policy;
    let Some(terms) = &policy.label else { return LabelDoubt { reason: None, other_label: false } };
    let rated = evidence.nameplate.rated_capacity_ah;
    let ah = |capacity: f64| limit_figure(capacity, "Ah");
    let again = evidence.observations.label_again_ah;
    let groups = || evidence.labels_of_model.iter();
    let own = groups().find(|group| same(group.rated_ah, rated));
    let others = groups().filter(|group| !same(group.rated_ah, rated)).max_by_key(|group| group.cells);
    let confirmed = confirmed(rated, evidence.observations, evidence.labels_of_model);
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
    let possible = MOST_POSSIBLE.max(terms.most_of_rated);
    let impossible = above(possible, guard, evidence).filter(|_| bounds);
    if let Some(share) = above(terms.most_of_rated, guard, evidence) {
        let most = limit_figure(terms.most_of_rated, "1");
        against.push(format!("the cell gave {} of its rated capacity, more than {most}", figure(share, "1")));
    }
    if bounds && lower_bound(evidence).is_some_and(|bound| bound.value >= SHOWS_NOTHING_BELOW) {
        against.push(
            "the count stopped before it could show a label that is too low, since it is known only to be this or more"
                .to_owned(),
        );
    }
    if against.is_empty() {
        return LabelDoubt { reason: None, other_label: false };
    }
    let told = against.join("; ");
    let mut judged = reason(terms, rated, &told, confirmed);
    if impossible.is_some() {
        judged.reason.finding = Finding::Inconclusive;
        let most = limit_figure(possible, "1");
        judged.reason.text = format!(
            "No cell gives more than {most} of what its maker prints: the count or the label is wrong ({told})."
        );
        judged.reason.settle = Some(SETTLE_COUNT.to_owned());
        judged.settle_acts = vec![Act::Look, Act::Load];
    }
    LabelDoubt { reason: Some(judged), other_label }
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

/// Returns the share of the rated capacity that was counted, where it is not clear of a most.
fn above(most: f64, guard: Guard, evidence: &Evidence<'_>) -> Option<f64> {
    let share = Measurand::Estimate(Quantity::CapacityFraction).look_up(evidence).ok()?.measured;
    let most = Limit::AtMost { limit: most, doubtful: most };
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
