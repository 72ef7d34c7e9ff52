//! The seam through which containers and shipments ask for local rules.
//!
//! [`LocalRules`] is what they ask; [`PackRules`] answers from the rule packs (limits, waste codes, blocks; also those of
//! the workshop's own packs) and from the table of papers in [`transport`]. A place without a pack gets the pattern of
//! the UN Model Regulations with everything marked to be verified, and no counted limits.

use crate::custody::limits::CounterLimit;
use crate::custody::papers::{Consignment, Papers};
use crate::custody::transport;
use crate::custody::waste_code::WasteCode;
use crate::rules::{Blocked, LegalState, Packs, PlaceCode};
use jiff::civil::Date;

/// Rules of a place on a day, as far as this program knows them.
pub trait LocalRules {
    /// Returns what is counted for cells in a state, and up to where.
    fn limits(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<CounterLimit>;

    /// Returns the waste codes that may be used on a day; none where the place uses none or none is known.
    fn waste_codes(&self, place: &PlaceCode, date: Date) -> Vec<WasteCode>;

    /// Returns the rule that forbids one container for several chemistries of lithium-ion cells, if there is one.
    fn separates_chemistries(&self, place: &PlaceCode, date: Date) -> Option<String>;

    /// Returns why cells in this state are not sent at all from this place on a day, if that is so.
    fn forbids_sending(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String>;

    /// Returns what a consignment needs: words, packing, documents, people.
    fn papers(&self, consignment: &Consignment<'_>) -> Papers;
}

/// A part of the world with a table of papers of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Region {
    /// United States.
    UnitedStates,
    /// A member state of the European Union, or the whole.
    EuropeanUnion,
    /// Great Britain: ADR by national law.
    GreatBritain,
    /// Canada.
    Canada,
    /// Everywhere else.
    Elsewhere,
}

impl Region {
    /// All regions.
    pub const ALL: [Region; 5] = [
        Region::UnitedStates,
        Region::EuropeanUnion,
        Region::GreatBritain,
        Region::Canada,
        Region::Elsewhere,
    ];
}

/// The rules of the packs.
#[derive(Clone, Debug)]
pub struct PackRules {
    packs: Packs,
}

impl PackRules {
    /// Makes the rules from packs.
    pub fn new(packs: Packs) -> Self {
        Self { packs }
    }

    /// Returns the packs.
    pub fn packs(&self) -> &Packs {
        &self.packs
    }

    /// Returns the region of a place; the members of the European Union are those of the pack for it.
    pub fn region(&self, place: &PlaceCode) -> Region {
        let union = self
            .packs
            .all()
            .iter()
            .find(|pack| pack.place.as_ref().is_some_and(|held| held.as_str() == "EU"));
        let member =
            |country: &str| union.is_some_and(|pack| pack.members.iter().any(|one| one.as_str() == country));
        match place.country() {
            "US" => Region::UnitedStates,
            "EU" => Region::EuropeanUnion,
            "GB" => Region::GreatBritain,
            "CA" => Region::Canada,
            country if member(country) => Region::EuropeanUnion,
            _ => Region::Elsewhere,
        }
    }
}

impl LocalRules for PackRules {
    fn limits(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<CounterLimit> {
        self.packs.counters(Some(place), date, state).into_iter().filter_map(CounterLimit::of).collect()
    }

    fn waste_codes(&self, place: &PlaceCode, date: Date) -> Vec<WasteCode> {
        self.packs.waste_code(Some(place), date).into_iter().map(WasteCode::of).collect()
    }

    fn separates_chemistries(&self, _place: &PlaceCode, _date: Date) -> Option<String> {
        // No text was found that parts lithium-ion chemistries from each other; ADR SP 636 even allows mixing with
        // others. A container can be opened for one chemistry only, where its receiver asks for it.
        None
    }

    fn forbids_sending(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String> {
        // Cells in custody are sent as waste: what takes that status away takes these papers away too. A rule that
        // holds for intact waste as well is about a danger that the state does not tell, and is left to the page.
        let stops = |blocked| matches!(blocked, Blocked::Carriage | Blocked::UniversalWaste);
        self.packs
            .blocks(Some(place), date, state)
            .into_iter()
            .find(|told| stops(told.what) && !told.fact.applies_to.contains(&LegalState::IntactWaste))
            .map(|told| format!("{} [{}]", told.fact.text, told.fact.source))
    }

    fn papers(&self, consignment: &Consignment<'_>) -> Papers {
        transport::built_in(self.region(consignment.place), consignment)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_falls_into_its_region() {
        let rules = PackRules::new(Packs::built_in().unwrap());
        for (place, region) in [
            ("US-CA", Region::UnitedStates),
            ("DE", Region::EuropeanUnion),
            ("EU", Region::EuropeanUnion),
            ("GB", Region::GreatBritain),
            ("CA-ON", Region::Canada),
            ("JP", Region::Elsewhere),
        ] {
            assert_eq!(rules.region(&place.parse().unwrap()), region, "{place}");
        }
    }

    #[test]
    fn a_critical_cell_is_blocked_and_an_open_casing_only_where_a_rule_says_so() {
        let rules = PackRules::new(Packs::built_in().unwrap());
        let day = jiff::civil::date(2026, 11, 25);
        for (place, state, forbidden) in [
            ("US", LegalState::Critical, true),
            ("DE", LegalState::Critical, true),
            ("US", LegalState::CasingBreached, true),
            ("US-CA", LegalState::CasingBreached, true),
            ("DE", LegalState::CasingBreached, false),
            ("US", LegalState::DamagedOrDefective, false),
            ("US", LegalState::IntactWaste, false),
            ("DE", LegalState::IntactWaste, false),
        ] {
            let why = rules.forbids_sending(&place.parse().unwrap(), day, state);
            assert_eq!(why.is_some(), forbidden, "{place} {state}: {why:?}");
        }
    }
}
