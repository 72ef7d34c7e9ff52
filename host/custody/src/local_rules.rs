//! The seam through which containers and shipments ask for local rules.
//!
//! [`LocalRules`] is what they ask; [`PackRules`] answers from the rule packs and from nothing else, those of the
//! workshop included. A place without a pack gets the pattern of the UN Model Regulations with everything to be
//! verified, and no counted limits.

use crate::limits::CounterLimit;
use crate::mode::Mode;
use crate::papers::{self, Consignment, Mark, Papers};
use crate::waste_code::WasteCode;
use celltriage_rules::{Blocked, Fact, LegalState, MarkOn, Packs, PlaceCode};
use jiff::civil::Date;

/// Rules of a place on a day, as far as this program knows them.
pub trait LocalRules {
    /// Returns what is counted for cells in a state, and up to where.
    fn limits(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<CounterLimit>;

    /// Returns the waste codes that may be used on a day; none where the place uses none or none is known.
    fn waste_codes(&self, place: &PlaceCode, date: Date) -> Vec<WasteCode>;

    /// Returns the rule that forbids one container for several chemistries of lithium-ion cells, if there is one.
    fn separates_chemistries(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String>;

    /// Returns why cells in this state are not sent at all from this place on a day, if that is so.
    fn forbids_sending(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String>;

    /// Returns what forbids to send cells in this state by some means, if anything does.
    fn forbids_by(&self, place: &PlaceCode, date: Date, state: LegalState, mode: Mode) -> Option<String>;

    /// Returns the words to be written on each cell or on its container.
    fn words_on_container(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<Mark>;

    /// Returns what a consignment needs: words, packing, documents, people.
    fn papers(&self, consignment: &Consignment<'_>) -> Papers;
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

    /// Returns the nearest place's rule that forbids something.
    fn nearest(&self, place: &PlaceCode, date: Date, state: LegalState, blocked: Blocked) -> Option<Fact> {
        let told = self.packs.blocks(Some(place), date, state).into_iter();
        told.filter(|told| told.what == blocked).map(|told| told.fact).next_back()
    }
}

fn in_words(fact: &Fact) -> String {
    let verify = if fact.verify { format!("; verify with {}", fact.verify_with) } else { String::new() };
    format!("{} [{}{verify}]", fact.text, fact.source)
}

impl LocalRules for PackRules {
    fn limits(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<CounterLimit> {
        self.packs.counters(Some(place), date, state).into_iter().filter_map(CounterLimit::of).collect()
    }

    fn waste_codes(&self, place: &PlaceCode, date: Date) -> Vec<WasteCode> {
        self.packs.waste_code(Some(place), date).into_iter().map(WasteCode::of).collect()
    }

    fn separates_chemistries(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String> {
        // No built-in pack has such a rule: no text was found that parts lithium-ion chemistries from each other, and
        // ADR SP 636 even allows mixing with others. A workshop's own pack may have one, and a container can be opened
        // for one chemistry only.
        self.nearest(place, date, state, Blocked::MixedChemistries).map(|fact| in_words(&fact))
    }

    fn forbids_sending(&self, place: &PlaceCode, date: Date, state: LegalState) -> Option<String> {
        // Cells in custody are sent as waste: what takes that status away takes these papers away too. A rule that
        // holds for intact waste as well is about a danger that the state does not tell, and is left to the page.
        let stops = |blocked| matches!(blocked, Blocked::Carriage | Blocked::UniversalWaste);
        self.packs
            .blocks(Some(place), date, state)
            .into_iter()
            .find(|told| stops(told.what) && !told.fact.applies_to.contains(&LegalState::IntactWaste))
            .map(|told| in_words(&told.fact))
    }

    fn forbids_by(&self, place: &PlaceCode, date: Date, state: LegalState, mode: Mode) -> Option<String> {
        match mode {
            Mode::Air => self.nearest(place, date, state, Blocked::Air).map(|fact| in_words(&fact)),
            Mode::Road | Mode::Rail | Mode::Sea => None,
        }
    }

    fn words_on_container(&self, place: &PlaceCode, date: Date, state: LegalState) -> Vec<Mark> {
        let told = self.packs.labels(Some(place), date, state).into_iter();
        told.filter(|told| told.what.on == MarkOn::CellOrContainer)
            .filter_map(|told| Mark::of(told, None))
            .collect()
    }

    fn papers(&self, consignment: &Consignment<'_>) -> Papers {
        papers::papers(&self.packs, consignment)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    const DAY: Date = date(2026, 11, 25);

    fn place(code: &str) -> PlaceCode {
        code.parse().unwrap()
    }

    #[test]
    fn a_critical_cell_is_blocked_and_an_open_casing_only_where_a_rule_says_so() {
        let rules = PackRules::new(Packs::built_in().unwrap());
        for (code, state, forbidden) in [
            ("US", LegalState::Critical, true),
            ("DE", LegalState::Critical, true),
            ("JP", LegalState::Critical, true),
            ("ZZ", LegalState::Critical, true),
            ("US", LegalState::CasingBreached, true),
            ("US-CA", LegalState::CasingBreached, true),
            ("DE", LegalState::CasingBreached, false),
            ("US", LegalState::DamagedOrDefective, false),
            ("US", LegalState::IntactWaste, false),
            ("DE", LegalState::IntactWaste, false),
        ] {
            let why = rules.forbids_sending(&place(code), DAY, state);
            assert_eq!(why.is_some(), forbidden, "{code} {state}: {why:?}");
        }
    }

    #[test]
    fn the_air_is_closed_with_the_words_of_the_nearest_law() {
        let rules = PackRules::new(Packs::built_in().unwrap());
        for (code, state, source) in [
            ("US", LegalState::DamagedOrDefective, "49 CFR 173.185(f)"),
            ("DE", LegalState::DamagedOrDefective, "A154"),
            ("DE", LegalState::IntactWaste, "A183"),
            ("ZZ", LegalState::IntactWaste, "A183"),
        ] {
            let why = rules.forbids_by(&place(code), DAY, state, Mode::Air).unwrap();
            assert!(why.contains(source), "{code} {state}: {why}");
            assert_eq!(rules.forbids_by(&place(code), DAY, state, Mode::Road), None);
        }
    }

    #[test]
    fn chemistries_are_parted_only_where_a_pack_says_so() {
        let mut packs = Packs::built_in().unwrap();
        for code in ["US", "DE", "ZZ"] {
            let rules = PackRules::new(packs.clone());
            assert_eq!(rules.separates_chemistries(&place(code), DAY, LegalState::IntactWaste), None);
        }
        let own = "schema = \"celltriage.rules/1\"\nplace = \"NZ\"\ntitle = \"mine\"\nversion = \"1\"\n\
                   checked_on = \"2026-01-01\"\nreview_by = \"2027-01-01\"\nauthority = \"my receiver\"\n\
                   [[rule]]\nid = \"nz.chemistries\"\nkind = \"block\"\nblocks = \"mixed_chemistries\"\n\
                   states = [\"intact_waste\"]\ntext = \"One chemistry to a box.\"\ncite = \"contract 7\"\nseen = \"official\"\n";
        packs.add_own("nz.toml", own).unwrap();
        let rules = PackRules::new(packs);
        let why = rules.separates_chemistries(&place("NZ"), DAY, LegalState::IntactWaste);
        assert_eq!(why.as_deref(), Some("One chemistry to a box. [contract 7; own pack nz.toml]"));
        assert_eq!(rules.separates_chemistries(&place("NZ"), DAY, LegalState::DamagedOrDefective), None);
    }
}
