//! The table of cautions: for a cell as it lies there, a place and something one wants to do with it.
//!
//! Input: how the cell presents itself, an [`Action`], place and date; output: the cautions, first what answers the
//! question, for a cell that reacts what to do about that. No assessment is needed: this is for the moment before the hand goes out.

use crate::action::Action;
use crate::caution::{Blanks, Caution, in_order, where_rules_are_missing, with_rules};
use crate::kind::{Kind, Severity};
use crate::legal_state::LegalState;
use crate::library::Packs;
use crate::place::PlaceCode;
use crate::rule::Rule;
use celltriage_verdict::{CellState, Fate, Hazard};
use jiff::civil::Date;

/// How a cell presents itself, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Presents {
    /// Hot, hissing, smoking or smelling now.
    ActiveNow,
    /// Thicker than it was made.
    Swollen,
    /// Wet or sticky, and as cool as the air.
    Leaking,
    /// With a hole, cut or tear in its casing.
    Punctured,
    /// Warmer than the air around it, by itself.
    Warming,
    /// Losing charge although nothing is connected to it.
    InternalShort,
    /// Far below its end-of-discharge voltage.
    DeeplyDischarged,
    /// Above its charge limit.
    OverCharged,
    /// Not checked, or cannot be known.
    Unknown,
    /// Looked at all over, no sign found.
    Intact,
}

impl Presents {
    /// All ways, the worst first.
    pub const ALL: [Presents; 10] = [
        Presents::ActiveNow,
        Presents::Swollen,
        Presents::Leaking,
        Presents::Punctured,
        Presents::Warming,
        Presents::InternalShort,
        Presents::DeeplyDischarged,
        Presents::OverCharged,
        Presents::Unknown,
        Presents::Intact,
    ];

    /// Returns a few words for the page.
    pub const fn words(self) -> &'static str {
        match self {
            Presents::ActiveNow => "hot, hissing, smoking or smelling now",
            Presents::Swollen => "swollen",
            Presents::Leaking => "leaking",
            Presents::Punctured => "punctured or torn open",
            Presents::Warming => "warmer than the air around it",
            Presents::InternalShort => "losing charge by itself",
            Presents::DeeplyDischarged => "deeply discharged",
            Presents::OverCharged => "over-charged",
            Presents::Unknown => "unknown",
            Presents::Intact => "no sign of damage",
        }
    }

    /// Returns the danger that it shows.
    const fn hazard(self) -> Option<Hazard> {
        match self {
            Presents::ActiveNow => Some(Hazard::ActiveNow),
            Presents::Swollen => Some(Hazard::Swollen),
            Presents::Leaking => Some(Hazard::Leaking),
            Presents::Punctured => Some(Hazard::CasingOpen),
            Presents::Warming => Some(Hazard::Warming),
            Presents::InternalShort => Some(Hazard::InternalShort),
            Presents::DeeplyDischarged => Some(Hazard::DeeplyDischarged),
            Presents::OverCharged => Some(Hazard::OverCharged),
            Presents::Unknown | Presents::Intact => None,
        }
    }

    /// Returns the condition that the policy gives to such a cell.
    pub const fn condition(self) -> CellState {
        match self {
            Presents::ActiveNow => CellState::Critical,
            Presents::Punctured => CellState::CasingBreached,
            Presents::Swollen
            | Presents::Leaking
            | Presents::Warming
            | Presents::InternalShort
            | Presents::OverCharged => CellState::DamagedOrDefective,
            // What a deep discharge has done inside cannot be seen.
            Presents::DeeplyDischarged | Presents::Unknown => CellState::Unknown,
            Presents::Intact => CellState::Intact,
        }
    }

    /// Returns the fates that such a cell may meet.
    const fn fates(self) -> &'static [Fate] {
        match self {
            Presents::Intact => &[Fate::Reuse, Fate::Undecided, Fate::Recycle],
            Presents::DeeplyDischarged | Presents::Unknown => {
                &[Fate::Undecided, Fate::Recycle, Fate::Quarantine]
            }
            _ => &[Fate::Recycle, Fate::Quarantine],
        }
    }
}

/// Finds the cautions for doing something with a cell that presents itself in some way.
pub fn cautions_for(
    presents: Presents,
    action: Action,
    place: Option<&PlaceCode>,
    date: Date,
    packs: &Packs,
) -> Vec<Caution> {
    let rules = packs.layers(place).into_iter().flat_map(with_rules);
    let found = rules.filter(|(_, rule)| rule.holds_on(date) && applies(rule, presents, action)).collect();
    let blanks = Blanks {
        decision_date: "the day of the decision".to_owned(),
        one_year_after: "one year after it".to_owned(),
        charge_limit: "the limit on its label".to_owned(),
    };
    let mut cautions = in_order(found, date, &blanks);
    answer_first(&mut cautions);
    let about_law = matches!(action, Action::Store | Action::Ship);
    cautions.extend(where_rules_are_missing(place, packs).filter(|_| about_law));
    cautions
}

/// Puts what a person asked about first. What to do should a quiet cell begin to react follows behind all that is to be
/// heeded, before what is only about papers: above, it would read the same on every page and hide the answer.
fn answer_first(cautions: &mut Vec<Caution>) {
    let quiet = |caution: &Caution| caution.kind == Kind::Emergency && caution.severity < Severity::Danger;
    let (ifs, others): (Vec<_>, Vec<_>) = std::mem::take(cautions).into_iter().partition(quiet);
    let (heed, papers): (Vec<_>, Vec<_>) =
        others.into_iter().partition(|caution| caution.severity > Severity::Notice);
    *cautions = heed.into_iter().chain(ifs).chain(papers).collect();
}

fn applies(rule: &Rule, presents: Presents, action: Action) -> bool {
    let for_action = rule.kind == Kind::Emergency || rule.actions.contains(&action);
    let fits_fate = rule.fates.is_empty() || presents.fates().iter().any(|fate| rule.fates.contains(fate));
    let fits_condition = rule.conditions.is_empty() || rule.conditions.contains(&presents.condition());
    let states = presents.fates().iter().map(|fate| LegalState::of(*fate, presents.condition()));
    let fits_state = rule.states.is_empty() || states.into_iter().any(|state| state.is_among(&rule.states));
    let shows = |hazards: &[Hazard]| presents.hazard().is_some_and(|hazard| hazards.contains(&hazard));
    let fits_hazard = (rule.hazards.is_empty() || shows(&rule.hazards)) && !shows(&rule.except_hazards);
    for_action && fits_fate && fits_condition && fits_state && fits_hazard
}
