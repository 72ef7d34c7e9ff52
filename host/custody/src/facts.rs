//! What an assessment tells custody about a cell: fate, proposed state, energy, mass, chemistry.
//!
//! Takes an entry of the book that holds an assessment; gives [`Facts`]. What cannot be read is the worst case: the cell
//! is then unknown, and its mass and energy are counted at the most that a label may state.

use crate::units::{Milligrams, MilliwattHours};
use crate::{known, simulated};
use celltriage_assessment::{Assessment, record};
use celltriage_book::Entry;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::{BOUNDS, Chemistry, Nameplate};
use celltriage_rules::LegalState;
use celltriage_verdict::{Fate, Finding, KnownFinding, Reason, UNDER_LOAD};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What the latest assessment of a cell told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// Number of its entry.
    pub assessment: u32,
    /// Its day.
    pub on: Date,
    /// Its fate.
    pub fate: Fate,
    /// The legal state that follows from it, for a person to judge.
    pub proposed: LegalState,
    /// Nominal energy.
    pub energy: MilliwattHours,
    /// Mass on the label.
    pub label_mass: Option<Milligrams>,
    /// Chemistry; `None` if it is not known.
    pub chemistry: Option<Chemistry>,
    /// Whether it is of the simulated bench; `None` if that cannot be told.
    pub simulated: Option<bool>,
    /// What it found against the cell.
    pub found: Vec<KnownFinding>,
    /// Whether its test put the cell under load and came to its end.
    pub finished: bool,
    /// Whether every sign was looked for and none found.
    pub looked_whole: bool,
    /// Whether it asks for a second visit: a rest voltage some time later.
    pub second_visit: bool,
    /// Whether it was made from a file, whose trace may be of any day.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub from_file: bool,
    /// Whether another bench has written it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub from_another_bench: bool,
}

impl Facts {
    /// Reads an assessment's entry.
    pub fn of(entry: &Entry) -> Self {
        match record::assessment_of(entry) {
            Ok(assessment) => {
                let verdict = &assessment.verdict;
                let label = &assessment.cell.nameplate;
                Self {
                    assessment: entry.number,
                    on: assessment.conditions.date,
                    fate: verdict.fate,
                    proposed: LegalState::of(verdict.fate, verdict.condition),
                    energy: nominal_energy(label),
                    label_mass: label.mass_g.and_then(Milligrams::from_grams),
                    chemistry: Some(label.chemistry),
                    simulated: simulated::of_entry(entry),
                    found: known::of_read(entry, &assessment),
                    finished: assessment.conditions.run.is_finished() && was_loaded(&assessment),
                    looked_whole: assessment.cell.observations.all_answered_no(),
                    second_visit: second_visit(&assessment),
                    from_file: assessment.conditions.is_from_file(),
                    from_another_bench: entry.from.is_some(),
                }
            }
            Err(_) => Self {
                assessment: entry.number,
                // The day in the book's own time scale: better than none, and no clock starts from it.
                on: entry.at.to_zoned_datetime(jiff::tz::TimeZone::UTC).date(),
                fate: Fate::default(),
                proposed: LegalState::default(),
                energy: largest_energy(),
                label_mass: None,
                chemistry: None,
                simulated: simulated::of_entry(entry),
                found: known::of_assessment(entry),
                finished: false,
                looked_whole: false,
                second_visit: false,
                from_file: false,
                from_another_bench: entry.from.is_some(),
            },
        }
    }
}

impl Facts {
    /// Returns whether it ends by itself what stood before: a test that was not finished, an incident.
    pub fn ends(&self, found: &KnownFinding) -> bool {
        // A file may be older than what it would have to end.
        found.kind.row().release.is_met_by_test(self.finished && !self.from_file, self.looked_whole)
    }

    /// Returns what is left once the entry was struck: the label as it was given, and no word on the cell.
    #[must_use]
    pub fn struck(self) -> Self {
        // A decision that does not count says neither that the cell may serve nor that it may not.
        Self {
            fate: Fate::Undecided,
            proposed: LegalState::Unknown,
            found: Vec::new(),
            finished: false,
            ..self
        }
    }
}

fn was_loaded(assessment: &Assessment) -> bool {
    UNDER_LOAD.into_iter().any(|quantity| assessment.estimates.contains_key(&quantity))
}

/// Returns whether an undecided cell waits for a rest voltage of a later day: its self-discharge is open or not measured.
fn second_visit(assessment: &Assessment) -> bool {
    let about = [Quantity::SelfDischarge, Quantity::SelfDischargePerMonth];
    let open = |reason: &Reason| match reason.finding {
        Finding::Inconclusive => true,
        Finding::Missing => reason.mandatory,
        Finding::Pass | Finding::Fail => false,
    };
    let mut reasons = assessment.verdict.reasons.iter();
    assessment.verdict.fate == Fate::Undecided
        && reasons.any(|one| one.quantity.is_some_and(|of| about.contains(&of)) && open(one))
}

/// Returns rated capacity times nominal voltage; without a nominal voltage times the charge limit, which is more.
pub fn nominal_energy(label: &Nameplate) -> MilliwattHours {
    let volts = label.nominal_v.unwrap_or(label.charge_limit_v);
    MilliwattHours::from_watt_hours(label.rated_capacity_ah * volts).unwrap_or_else(largest_energy)
}

/// Returns the largest energy that a label may state.
pub(crate) fn largest_energy() -> MilliwattHours {
    let most = |key: &str| BOUNDS.iter().find(|row| row.0 == key).map_or(f64::NAN, |row| row.2);
    MilliwattHours::from_watt_hours(most("rated_capacity_ah") * most("charge_limit_v"))
        .unwrap_or(MilliwattHours::watt_hours(1_000))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::entry as new_entry;
    use celltriage_assessment::test_support::example;
    use celltriage_book::Book;
    use serde_json::{Value, json};

    fn entry(result: Value) -> Entry {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        book.append(new_entry(record::ASSESSMENT, "PE-1", result)).unwrap()
    }

    #[test]
    fn energy_is_capacity_times_nominal_voltage() {
        let assessment = example(|subject| subject.nameplate.mass_g = Some(45.0));
        let facts = Facts::of(&entry(serde_json::to_value(&assessment).unwrap()));
        assert_eq!(facts.energy, MilliwattHours(11_400), "3.0 Ah times 3.8 V");
        assert_eq!(facts.label_mass, Some(Milligrams::grams(45)));
        assert_eq!((facts.fate, facts.proposed), (Fate::Reuse, LegalState::NotWaste));
    }

    #[test]
    fn without_a_nominal_voltage_the_larger_charge_limit_counts() {
        let mut label = example(|_| {}).cell.nameplate;
        label.nominal_v = None;
        assert_eq!(nominal_energy(&label), MilliwattHours(13_050), "3.0 Ah times 4.35 V");
    }

    #[test]
    fn an_assessment_that_cannot_be_read_is_the_worst_case() {
        let facts = Facts::of(&entry(json!({"verdict": "gone"})));
        assert_eq!((facts.fate, facts.proposed), (Fate::Quarantine, LegalState::Unknown));
        assert_eq!(facts.energy, MilliwattHours(227_500), "50 Ah times 4.55 V");
        assert_eq!((facts.label_mass, facts.chemistry), (None, None));
    }
}
