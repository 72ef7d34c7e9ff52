//! What falls due on the local rules themselves: packs to be checked again, and law that begins or ends for what stands here.

use celltriage_custody::due::{Due, item};
use celltriage_custody::state::State;
use celltriage_rules::{LegalState, Pack, Packs, PlaceCode, Rule};
use jiff::ToSpan;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// So many days before it, a change is told (our choice: time to arrange another collector, packing or form).
const AHEAD_DAYS: i64 = 60;

/// Returns what falls due on the rules of the places at which a container stands.
pub(crate) fn on_rules(state: &State, packs: &Packs, today: Date) -> Vec<Due> {
    let ahead = today.saturating_add(AHEAD_DAYS.days());
    let standing = state.containers.values().filter(|container| container.is_here());
    let mut kinds: BTreeSet<(PlaceCode, LegalState)> = BTreeSet::new();
    kinds.extend(standing.map(|one| (one.opened.place.clone(), one.opened.kind.counted_as())));
    let mut found: Vec<Due> = Vec::new();
    for (place, legal) in kinds {
        for pack in packs.layers(Some(&place)) {
            let again = review(pack, ahead, today).into_iter();
            for due in
                again.chain(pack.rules.iter().filter_map(|rule| change(pack, rule, legal, today, ahead)))
            {
                if !found.contains(&due) {
                    found.push(due);
                }
            }
        }
    }
    found
}

/// Says that a pack is to be checked again, once that is near.
fn review(pack: &Pack, ahead: Date, today: Date) -> Option<Due> {
    let what = format!("check the rules of {} again: last checked on {}", pack.title, pack.checked_on);
    let due = item(pack.name(), &what, pack.review_by, today, "its rule pack");
    (pack.review_by <= ahead).then(|| Due { verify: true, verify_with: pack.authority.clone(), ..due })
}

/// Says that a rule about cells as they stand here begins, or ends, soon.
fn change(pack: &Pack, rule: &Rule, legal: LegalState, today: Date, ahead: Date) -> Option<Due> {
    let soon = |day: &Date| *day > today && *day <= ahead;
    let (how, day) = match (rule.effective_from.filter(soon), rule.effective_to.filter(soon)) {
        (Some(from), _) => ("begins to hold", from),
        (None, Some(to)) => ("holds for the last time", to),
        (None, None) => return None,
    };
    let what = format!("{how} for {legal} cells: {}", rule.text);
    let due = item(pack.name(), &what, day, today, &pack.source(&rule.cite));
    let due = Due { verify: rule.needs_verifying(today), verify_with: pack.authority.clone(), ..due };
    rule.is_for(legal).then_some(due)
}
