//! Facts that cannot stand side by side in one place: two that speak on one subject, and one that forbids what another
//! asks for.
//!
//! Input: the packs that hold in a place; output: [`Conflict`]s. What must be unique is said in [`Subject`] alone, what
//! excludes what in [`excludes`]. Two facts on one subject are a conflict also where they say the same: a reader who meets
//! both cannot know which of them the law of the place goes by. The nearer one names the other in `instead_of`. Different
//! limits to one amount are none, as that of a lease beside that of the fire code: both hold, the narrower one binds.

use crate::caution::{nearest, with_rules};
use crate::counter::{Bound, Counted, Counter};
use crate::figure::{Blocked, Carriage, MarkOn, Purpose, Section};
use crate::kind::Kind;
use crate::legal_state::LegalState;
use crate::library::Packs;
use crate::pack::Pack;
use crate::place::PlaceCode;
use crate::rule::Rule;
use celltriage_verdict::{CellState, Fate, Hazard};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::collections::BTreeSet;

/// On what one place says one thing only, for one cell on one day and by one means of carriage. A limit, and words that
/// belong to a relief, are apart from those of another relief and from those that hold without any.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Subject<'r> {
    /// How much there may be of something.
    Counted(Counted, Option<&'r str>),
    /// Which words stand on the cell, its container or the package.
    Words {
        on: MarkOn,
        language: Option<&'r str>,
        purpose: Option<Purpose>,
        number: bool,
        relief: Option<&'r str>,
    },
    /// By which codes waste goes.
    WasteCodes,
    /// Under which number and name something is carried.
    Substance,
}

impl<'r> Subject<'r> {
    fn of(rule: &'r Rule) -> Option<Self> {
        let relief = rule.under.as_deref();
        match (&rule.count, &rule.label) {
            (Some(count), _) => Some(Subject::Counted(count.of, relief)),
            (_, Some(label)) => Some(Subject::Words {
                on: label.on,
                language: label.language.as_deref(),
                purpose: label.purpose,
                number: label.is_number(),
                relief,
            }),
            _ if rule.kind == Kind::WasteCode => Some(Subject::WasteCodes),
            _ if rule.in_papers == Some(Section::Substance) => Some(Subject::Substance),
            _ => None,
        }
    }

    fn words(&self) -> String {
        match self {
            Subject::Counted(of, _) => of.words().to_owned(),
            Subject::Words { on: MarkOn::CellOrContainer, .. } => {
                "the words on a cell or its container".to_owned()
            }
            Subject::Words { number: true, .. } => "the number on a package".to_owned(),
            Subject::Words { .. } => "the words on a package".to_owned(),
            Subject::WasteCodes => "the waste codes".to_owned(),
            Subject::Substance => Section::Substance.words().to_owned(),
        }
    }
}

/// Returns whether a prohibition takes away what another fact asks for.
fn excludes(blocked: Blocked, rule: &Rule) -> bool {
    let on = rule.label.as_ref().map(|label| label.on);
    match blocked {
        Blocked::UniversalWaste => on == Some(MarkOn::CellOrContainer),
        Blocked::Carriage => {
            // What only carriage needs; papers of waste law are another matter.
            let needed = [Section::Provision, Section::Packing, Section::HazardLabel];
            let packed = rule.in_papers.is_some_and(|section| needed.contains(&section));
            on == Some(MarkOn::Package) || rule.kind == Kind::Document && packed
        }
        Blocked::Air => rule.by == [Carriage::Air] && rule.blocks.is_none() && rule.kind != Kind::Defer,
        Blocked::EasyRule => rule.under.is_some(),
        Blocked::Bin | Blocked::MixedChemistries => false,
    }
}

/// Two facts that cannot stand side by side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The one of the wider place, or the earlier one in a pack.
    pub first: String,
    /// The other one.
    pub second: String,
    /// What is wrong and what to do.
    pub what: String,
}

/// For what cell a fact is looked up: as the page of a decision does, or as custody does by the state alone.
#[derive(Clone, Copy)]
enum Asked {
    Cell(Fate, CellState, Option<Hazard>),
    State(LegalState),
}

impl Asked {
    fn all(rules: &[(&Pack, &Rule)]) -> Vec<Asked> {
        let named = rules.iter().flat_map(|(_, rule)| rule.hazards.iter().chain(&rule.except_hazards));
        let mut hazards: Vec<Option<Hazard>> = vec![None];
        for hazard in named {
            if !hazards.contains(&Some(*hazard)) {
                hazards.push(Some(*hazard));
            }
        }
        let cells = Fate::ALL.into_iter().flat_map(|fate| {
            let hazards = &hazards;
            CellState::ALL.into_iter().flat_map(move |condition| {
                hazards.iter().map(move |hazard| Asked::Cell(fate, condition, *hazard))
            })
        });
        cells.chain(LegalState::ALL.into_iter().map(Asked::State)).collect()
    }

    fn fits(self, rule: &Rule) -> bool {
        match self {
            // A rule about a danger is about something that the state does not tell.
            Asked::State(state) => rule.hazards.is_empty() && rule.is_for(state),
            Asked::Cell(fate, condition, hazard) => {
                let shows = |hazards: &[Hazard]| hazard.is_some_and(|hazard| hazards.contains(&hazard));
                (rule.fates.is_empty() || rule.fates.contains(&fate))
                    && (rule.conditions.is_empty() || rule.conditions.contains(&condition))
                    && (rule.states.is_empty() || LegalState::of(fate, condition).is_among(&rule.states))
                    && (rule.hazards.is_empty() || shows(&rule.hazards))
                    && !shows(&rule.except_hazards)
            }
        }
    }
}

const ALL_CARRIAGES: [Carriage; 5] =
    [Carriage::Road, Carriage::Rail, Carriage::Sea, Carriage::Air, Carriage::Post];

impl Packs {
    /// Returns the facts of a place that cannot stand side by side, on whatever day, each pair once.
    pub fn conflicts(&self, place: Option<&PlaceCode>) -> Vec<Conflict> {
        let rules = self.layers(place).into_iter().flat_map(with_rules);
        let rules: Vec<_> = rules.filter(|(_, rule)| has_a_say(rule)).collect();
        let mut found: Vec<Conflict> = Vec::new();
        for day in days(&rules) {
            let of_day: Vec<_> = rules.iter().filter(|(_, rule)| rule.holds_on(day)).copied().collect();
            for asked in Asked::all(&of_day) {
                let of_cell: Vec<_> = of_day.iter().filter(|(_, rule)| asked.fits(rule)).copied().collect();
                for carriage in ALL_CARRIAGES {
                    let holds = |rule: &Rule| rule.by.is_empty() || rule.by.contains(&carriage);
                    let holding = of_cell.iter().filter(|(_, rule)| holds(rule)).copied().collect();
                    add_pairs(&nearest(holding), &mut found);
                }
            }
        }
        found
    }
}

/// Returns whether a rule can be in a conflict, or end one.
fn has_a_say(rule: &Rule) -> bool {
    let asks = rule.under.is_some() || rule.in_papers.is_some() || rule.by == [Carriage::Air];
    Subject::of(rule).is_some() || rule.blocks.is_some() || asks || !rule.instead_of.is_empty()
}

/// One day before anything begins, and each day on which something begins or has just ended.
fn days(rules: &[(&Pack, &Rule)]) -> BTreeSet<Date> {
    let turns = rules.iter().flat_map(|(_, rule)| {
        let ended = rule.effective_to.map(|day| day.saturating_add(1.day()));
        rule.effective_from.into_iter().chain(ended)
    });
    let turns: BTreeSet<Date> = turns.collect();
    let first = turns.first().map_or(date(2026, 1, 1), |day| day.saturating_sub(1.day()));
    std::iter::once(first).chain(turns).collect()
}

fn add_pairs(rules: &[(&Pack, &Rule)], found: &mut Vec<Conflict>) {
    for (index, (_, first)) in rules.iter().enumerate() {
        for (_, second) in rules.iter().skip(index + 1) {
            let known = |one: &Conflict| one.first == first.id && one.second == second.id;
            if let Some(what) = between(first, second)
                && !found.iter().any(known)
            {
                found.push(Conflict { first: first.id.clone(), second: second.id.clone(), what });
            }
        }
    }
}

/// Returns whether two facts set different limits to one amount that can be kept together.
fn both_hold(first: &Rule, second: &Rule) -> bool {
    let (Some(one), Some(other)) = (first.count, second.count) else { return false };
    // How long and how often is said once, whatever the figure: nobody keeps records for two times.
    let said_once = matches!(one.of, Counted::RecordKeeping | Counted::TrainingInterval);
    let least = |count: &Counter| count.bound == Bound::AtLeast;
    let apart = one.unit == other.unit
        && (least(&one) && !least(&other) && one.limit > other.limit
            || least(&other) && !least(&one) && other.limit > one.limit);
    !said_once && one != other && !apart
}

/// Returns whether two facts are for different forms of carriage.
fn are_apart(first: &Rule, second: &Rule) -> bool {
    let (one, other) = (first.for_goods(), second.for_goods());
    !one.is_empty() && !other.is_empty() && one.iter().all(|goods| !other.contains(goods))
}

fn between(first: &Rule, second: &Rule) -> Option<String> {
    if are_apart(first, second) {
        return None;
    }
    if let (Some(one), Some(other)) = (Subject::of(first), Subject::of(second))
        && one == other
        && !both_hold(first, second)
    {
        return Some(format!(
            "\"{}\" and \"{}\" both say what holds of {}, for the same cells: write instead_of = [\"{0}\"] into the nearer \
             one, or keep them apart by their states, days, carriage or goods",
            first.id,
            second.id,
            one.words(),
        ));
    }
    [(first, second), (second, first)].into_iter().find_map(|(forbids, asks)| {
        let blocked = forbids.blocks.filter(|blocked| excludes(*blocked, asks))?;
        Some(format!(
            "\"{}\" forbids {}, and \"{}\" asks for it, for the same cells: keep them apart by their states, \
             conditions or dangers",
            forbids.id,
            blocked.words(),
            asks.id,
        ))
    })
}
