//! How far the figures of one cell can lie apart from one visit to the next; beyond that they are asked about.
//!
//! Each bound is the doubt of both figures (two standard uncertainties of their difference) and what a cell does by itself. Figures of
//! ageing are common practice, the margins our choice, set so that the cells of the simulated bench never ask about themselves
//! (`tests/same_cell.rs`): a question too many costs a look at a tag, one too few a wrong story of two cells.

use super::{Facts, Figure, Told};
use celltriage_verdict::{Contradicted, figure_with_doubt};
use jiff::civil::Date;

/// A cell breathes by 1 to 3 % of its thickness from empty to full (from memory): the most it can lose by that.
const BREATHING: f64 = 0.03;
/// What two readings of the thickest point may differ by, in mm: two standard uncertainties of calliper (0.03 mm) and of where it is
/// put on (0.04 mm), twice (as `estimate/thickness.rs` has them).
const READINGS_MM: f64 = 0.14;
/// Resistance at another state of charge: published profiles of phone packs have a bump of 1.2 to 1.4 times at 65 %.
const OTHER_CHARGE: f64 = 0.35;
/// At the same state of charge: what contacts, rest and the first cycle after storage change (our choice).
const SAME_CHARGE: f64 = 0.15;
/// States of charge this close count as the same.
const SAME_CHARGE_WITHIN: f64 = 0.05;
/// Below this state of charge the resistance rises steeply (the same profiles: 1.3 to 1.5 times): not compared with others.
const NEARLY_EMPTY: f64 = 0.15;
/// Growth of resistance in use and storage, a day: doubled in a year is the worst that is common.
const GROWTH_A_DAY: f64 = 0.003;
/// Capacity that another temperature, charger or rest brings back, as a share (a test at 20 degC beside one at 30 degC).
const CAPACITY_BACK: f64 = 0.08;
/// Capacity that the same takes, and what fades besides in a day: a third in a year is the worst that is common.
const CAPACITY_AWAY: f64 = 0.10;
const FADE_A_DAY: f64 = 0.001;
/// Rest voltages rise by themselves for hours after a load, in V; a cell that lies in a container is not charged there.
const RISES_BY_ITSELF_V: f64 = 0.05;

/// Days from one visit to the next; a clock that was set back makes none.
pub(super) fn days_between(before: Date, now: Date) -> f64 {
    f64::from(before.until(now).map_or(0, |span| span.get_days()).max(0))
}

/// Thinner than before by more than breathing and reading: a swollen cell does not shrink. Fewer points than before may have missed
/// the thickest.
pub(super) fn thickness(before: &Facts, now: &Facts) -> Option<Told> {
    let thickest =
        |facts: &Facts| facts.thickness_mm.iter().copied().filter(|one| *one > 0.0).fold(0.0, f64::max);
    let (was, is) = (thickest(before), thickest(now));
    let compared = was > 0.0 && is > 0.0 && now.thickness_mm.len() >= before.thickness_mm.len();
    (compared && is < was * (1.0 - BREATHING) - READINGS_MM).then(|| {
        let words = |thickness: f64| format!("{thickness:.2} mm");
        let because = "a cell does not become thinner".to_owned();
        (Contradicted::Thickness, format!("thickness {}", words(was)), words(is), because)
    })
}

/// Lower than before, or much higher after a short time.
pub(super) fn resistance(before: &Facts, now: &Facts, days: f64) -> Option<Told> {
    let (was, is) = (before.resistance?, now.resistance?);
    let place = |facts: &Facts| (facts.sensed_at, facts.adapter, facts.two_level);
    let share = match (before.charge, now.charge) {
        (Some(was), Some(is)) if (was - is).abs() <= SAME_CHARGE_WITHIN => SAME_CHARGE,
        (Some(was), Some(is)) if was.min(is) >= NEARLY_EMPTY => OTHER_CHARGE,
        _ => return None,
    };
    if place(before) != place(now) {
        return None;
    }
    let because = beyond(was, is, [1.0 - share, 1.0 / (1.0 - share) + GROWTH_A_DAY * days])?;
    let because = match because {
        Beyond::Below => "resistance does not fall that far".to_owned(),
        Beyond::Above => format!("resistance does not rise that far in {days:.0} days"),
    };
    Some(told(Contradicted::Resistance, "resistance at 25 °C", (was, is), "ohm", because))
}

/// More than before, or much less after a short time.
pub(super) fn capacity(before: &Facts, now: &Facts, days: f64) -> Option<Told> {
    let (was, is) = (before.capacity?, now.capacity?);
    let because = match beyond(was, is, [1.0 - CAPACITY_AWAY - FADE_A_DAY * days, 1.0 + CAPACITY_BACK])? {
        Beyond::Above => "capacity does not come back".to_owned(),
        Beyond::Below => format!("capacity does not fade that far in {days:.0} days"),
    };
    Some(told(Contradicted::Capacity, "capacity", (was, is), "Ah", because))
}

/// Higher than before without a charge. A person may charge a cell without the book, so it counts only where the book has it lying in
/// a container all the while.
pub(super) fn rest_voltage(before: &Facts, now: &Facts) -> Option<Told> {
    let (was, is) = (before.rest_v?, now.rest_v?);
    let most = RISES_BY_ITSELF_V + 2.0 * was.doubt.hypot(is.doubt);
    let because = "it lay in a container all the while, where nobody charges it".to_owned();
    (is.value > was.value + most)
        .then(|| told(Contradicted::RestVoltage, "rest voltage", (was, is), "V", because))
}

enum Beyond {
    Below,
    Above,
}

/// Whether a figure lies outside of what the earlier one allows, both with their doubt.
fn beyond(was: Figure, is: Figure, [least, most]: [f64; 2]) -> Option<Beyond> {
    let apart = |bound: f64| 2.0 * is.doubt.hypot(was.doubt * bound);
    let least = least.max(0.0);
    if is.value < was.value * least - apart(least) {
        Some(Beyond::Below)
    } else if is.value > was.value * most + apart(most) {
        Some(Beyond::Above)
    } else {
        None
    }
}

fn told(what: Contradicted, name: &str, (was, is): (Figure, Figure), unit: &str, because: String) -> Told {
    let words = |figure: Figure| figure_with_doubt(figure.value, figure.doubt, unit);
    (what, format!("{name} {}", words(was)), words(is), because)
}
