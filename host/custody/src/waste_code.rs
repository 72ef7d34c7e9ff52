//! A waste code as a draft of papers stores it.
//!
//! Takes a code of the rule packs; gives a [`WasteCode`]. Which codes hold on a day is told by the packs: in Europe they
//! change on 9 December 2026 (Delegated Decision (EU) 2025/934, its date corrected by OJ L, 2025/90657).

use celltriage_rules::FromRule;
use serde::{Deserialize, Serialize};

/// A code of a list of waste.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct WasteCode {
    /// The code as it is written; a star marks hazardous waste.
    pub code: String,
    /// What it is for.
    pub meaning: String,
    /// Whether the list calls it hazardous waste, with the papers that go with that.
    pub hazardous: bool,
    /// Where it comes from.
    pub citation: String,
    /// Whether it must be verified before it is relied on.
    pub verify: bool,
    /// Whom to verify it with.
    #[serde(default)]
    pub verify_with: String,
    /// What is doubtful about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<String>,
}

impl WasteCode {
    /// Makes it from a code of the packs.
    pub fn of(told: FromRule<celltriage_rules::WasteCode>) -> Self {
        let FromRule { fact, what } = told;
        Self {
            code: what.code,
            meaning: what.use_for,
            hazardous: what.hazardous,
            citation: fact.source,
            verify: fact.verify || fact.doubt.is_some(),
            verify_with: fact.verify_with,
            doubt: fact.doubt,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::local_rules::{LocalRules, PackRules};
    use celltriage_rules::Packs;
    use jiff::civil::{Date, date};

    fn codes(place: &str, day: Date) -> Vec<String> {
        let rules = PackRules::new(Packs::built_in().unwrap());
        rules.waste_codes(&place.parse().unwrap(), day).into_iter().map(|row| row.code).collect()
    }

    #[test]
    fn europe_changes_between_8_and_9_december_2026() {
        assert_eq!(codes("FR", date(2026, 12, 8)), ["16 06 05", "20 01 34", "20 01 33*"]);
        assert_eq!(codes("FR", date(2026, 12, 9)), ["16 06 07*", "20 01 43*"]);
        // The first printed date, before the corrigendum, changes nothing.
        assert_eq!(codes("FR", date(2026, 11, 9)), codes("FR", date(2026, 12, 8)));
        assert_eq!(codes("DE", date(2026, 12, 9)), ["16 06 07*", "20 01 43*"]);
        // Germany classes lithium as hazardous before that day already: none of the Union's milder codes is offered.
        assert_eq!(codes("DE", date(2026, 12, 8)), ["16 02 15*", "16 01 21*", "16 06 05*"]);
    }

    #[test]
    fn great_britain_keeps_its_code_and_the_united_states_use_none() {
        assert_eq!(codes("GB", date(2026, 12, 8)), codes("GB", date(2026, 12, 9)));
        assert_eq!(codes("US", date(2026, 12, 9)), Vec::<String>::new());
    }
}
