//! What is counted for a container, a cell or the site, and up to where.
//!
//! Takes the counters of the rule packs; gives [`CounterLimit`]s in whole units, each with its source and whether it
//! must be verified. What custody cannot count (distances, records, state of charge, limits of whole batteries) is named
//! beside them and left to people.

use crate::units::{Milligrams, Millilitres, MilliwattHours};
use celltriage_rules::{Bound, Counter, FromRule, Unit};
use serde::Serialize;

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Counted {
    /// Time since the earliest decision to discard a cell that is in the container.
    TimeSinceDecision,
    /// Mass of all waste on the site.
    SiteMass,
    /// Mass of the cells on one vehicle or in one transport unit.
    TransportUnitMass,
    /// Gross mass of one package.
    PackageGross,
    /// Mass of the heaviest cell.
    CellMass,
    /// Nominal energy of the largest cell.
    CellEnergy,
    /// Volume of all containers on the site.
    StoredVolume,
    /// Volume of one container, as a group of its own.
    GroupVolume,
}

impl Counted {
    /// Returns what is counted, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Counted::TimeSinceDecision => "time since the earliest decision",
            Counted::SiteMass => "waste on the site, as far as this book knows it",
            Counted::TransportUnitMass => "cells for one vehicle",
            Counted::PackageGross => "gross mass of the package",
            Counted::CellMass => "heaviest cell",
            Counted::CellEnergy => "largest cell",
            Counted::StoredVolume => "volume of the containers on the site",
            Counted::GroupVolume => "volume of this container",
        }
    }

    /// Returns what custody counts for a counter of the packs; `None` if it cannot.
    const fn of(counted: celltriage_rules::Counted) -> Option<Self> {
        match counted {
            celltriage_rules::Counted::TimeSinceDecision => Some(Counted::TimeSinceDecision),
            celltriage_rules::Counted::UniversalWasteOnSite => Some(Counted::SiteMass),
            celltriage_rules::Counted::LithiumBatteriesInVehicle => Some(Counted::TransportUnitMass),
            celltriage_rules::Counted::PackageGrossMass => Some(Counted::PackageGross),
            celltriage_rules::Counted::CellMass => Some(Counted::CellMass),
            celltriage_rules::Counted::CellEnergy => Some(Counted::CellEnergy),
            celltriage_rules::Counted::StoredVolume => Some(Counted::StoredVolume),
            celltriage_rules::Counted::GroupVolume => Some(Counted::GroupVolume),
            _ => None,
        }
    }
}

/// A limit with its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "unit", content = "limit")]
pub enum Amount {
    /// Days.
    #[serde(rename = "day")]
    Days(u32),
    /// Years.
    #[serde(rename = "year")]
    Years(u32),
    /// A mass.
    #[serde(rename = "mg")]
    Mass(Milligrams),
    /// An energy.
    #[serde(rename = "mWh")]
    Energy(MilliwattHours),
    /// A volume.
    #[serde(rename = "ml")]
    Volume(Millilitres),
}

impl Amount {
    /// Returns it in words.
    pub fn words(self) -> String {
        match self {
            Amount::Days(1) => "1 day".to_owned(),
            Amount::Days(days) => format!("{days} days"),
            Amount::Years(1) => "1 year".to_owned(),
            Amount::Years(years) => format!("{years} years"),
            Amount::Mass(mass) => mass.to_string(),
            Amount::Energy(energy) => energy.to_string(),
            Amount::Volume(volume) => volume.to_string(),
        }
    }
}

/// One limit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CounterLimit {
    /// Name of the rule in its pack.
    pub id: String,
    /// What is counted.
    pub what: Counted,
    /// Up to where.
    #[serde(flatten)]
    pub limit: Amount,
    /// On which side to stay.
    pub bound: Bound,
    /// The rule in words.
    pub means: String,
    /// Where it comes from.
    pub citation: String,
    /// Whether it must be verified before it is relied on.
    pub verify: bool,
    /// Whom to verify it with.
    pub verify_with: String,
    /// What is doubtful about it.
    pub doubt: Option<String>,
    /// The relief that ends at this limit; the limit binds only where that relief is used.
    pub under: Option<String>,
}

/// What something has of what is counted; absent where it is not known.
#[derive(Clone, Copy, Debug, Default)]
pub struct Measured {
    /// Mass of the heaviest cell.
    pub cell: Option<Milligrams>,
    /// Energy of the largest cell.
    pub energy: Option<MilliwattHours>,
    /// Mass of all cells.
    pub net: Option<Milligrams>,
    /// Gross mass of the heaviest package.
    pub gross: Option<Milligrams>,
}

impl Measured {
    /// Holds it against a limit: the amount in words, and whether the limit is passed; `None` if it has nothing of
    /// what is counted.
    pub fn against(&self, limit: &CounterLimit) -> Option<(String, bool)> {
        let mass = |mass: Option<Milligrams>| match (mass, limit.limit) {
            (Some(mass), Amount::Mass(most)) => Some((mass.to_string(), limit.is_passed_by(&mass, &most))),
            _ => None,
        };
        match limit.what {
            Counted::CellMass => mass(self.cell),
            Counted::TransportUnitMass => mass(self.net),
            Counted::PackageGross => mass(self.gross),
            Counted::CellEnergy => match (self.energy, limit.limit) {
                (Some(energy), Amount::Energy(most)) => {
                    Some((energy.to_string(), limit.is_passed_by(&energy, &most)))
                }
                _ => None,
            },
            Counted::TimeSinceDecision | Counted::SiteMass | Counted::StoredVolume | Counted::GroupVolume => {
                None
            }
        }
    }
}

/// Mass that is counted for a cell whose mass is not known: the largest that a label may state here (see
/// [`celltriage_measure::nameplate::BOUNDS`]), the worst case. Weighing the cell ends it.
pub const UNKNOWN_MASS: Milligrams = Milligrams::grams(2_000);

impl CounterLimit {
    /// Makes a limit from a counter of the packs; `None` if custody cannot count it.
    pub fn of(told: FromRule<Counter>) -> Option<Self> {
        let FromRule { fact, what: counter } = told;
        Some(Self {
            what: Counted::of(counter.of)?,
            limit: amount(&counter)?,
            bound: counter.bound,
            id: fact.rule,
            means: fact.text,
            citation: fact.source,
            verify: fact.verify,
            verify_with: fact.verify_with,
            doubt: fact.doubt,
            under: fact.under,
        })
    }

    /// Returns whether an amount is on the wrong side of a limit.
    pub fn is_passed_by<T: PartialOrd>(&self, amount: &T, limit: &T) -> bool {
        match self.bound {
            Bound::AtMost => amount > limit,
            Bound::Below => amount >= limit,
            Bound::AtLeast => amount < limit,
        }
    }
}

/// Returns the limit in whole units, rounded down: a limit must not come out too large.
fn amount(counter: &Counter) -> Option<Amount> {
    let whole = |scale: f64| {
        let scaled = (counter.limit * scale + 1e-6).floor();
        // Above any sensible limit the figure is a slip of the pen in an own pack, and not a number is neither.
        (scaled > 0.0 && scaled < 1e15).then_some(scaled as u64)
    };
    match counter.unit {
        Unit::Day => u32::try_from(whole(1.0)?).ok().map(Amount::Days),
        Unit::Year => u32::try_from(whole(1.0)?).ok().map(Amount::Years),
        Unit::Gram => whole(1e3).map(|mass| Amount::Mass(Milligrams(mass))),
        Unit::Kilogram => whole(1e6).map(|mass| Amount::Mass(Milligrams(mass))),
        Unit::WattHour => whole(1e3).map(|energy| Amount::Energy(MilliwattHours(energy))),
        Unit::CubicMetre => whole(1e6).map(|volume| Amount::Volume(Millilitres(volume))),
        Unit::Millimetre | Unit::Percent | Unit::Piece => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::local_rules::{LocalRules, PackRules};
    use celltriage_rules::{LegalState, Packs};
    use jiff::civil::date;

    #[test]
    fn each_figure_is_that_of_its_source() {
        let rules = PackRules::new(Packs::built_in().unwrap());
        let of = |place: &str, cite: &str, what: Counted| {
            let limits = rules.limits(&place.parse().unwrap(), date(2026, 11, 25), LegalState::IntactWaste);
            let found: Vec<_> =
                limits.into_iter().filter(|row| row.what == what && row.citation.contains(cite)).collect();
            assert_eq!(found.len(), 1, "{place} {cite}: {found:?}");
            (found[0].limit, found[0].bound)
        };
        // 40 CFR 273 and 49 CFR 173.185; ADR 2025 SP 636.
        assert_eq!(of("US", "40 CFR 273.15", Counted::TimeSinceDecision), (Amount::Years(1), Bound::AtMost));
        assert_eq!(
            of("US", "40 CFR 273.9", Counted::SiteMass),
            (Amount::Mass(Milligrams(5_000_000_000)), Bound::Below)
        );
        let small = (Amount::Energy(MilliwattHours(20_000)), Bound::AtMost);
        assert_eq!(of("US", "173.185(c)(1)(i)", Counted::CellEnergy).1, Bound::AtMost);
        for place in ["DE", "GB"] {
            assert_eq!(
                of(place, "SP 636", Counted::CellMass),
                (Amount::Mass(Milligrams(500_000)), Bound::AtMost)
            );
            assert_eq!(of(place, "SP 636", Counted::CellEnergy), small);
            assert_eq!(
                of(place, "SP 636", Counted::TransportUnitMass).0,
                Amount::Mass(Milligrams(333_000_000))
            );
        }
    }

    #[test]
    fn an_unknown_mass_is_the_largest_that_a_label_may_state() {
        let (_, _, most, _) =
            celltriage_measure::nameplate::BOUNDS.into_iter().find(|row| row.0 == "mass_g").unwrap();
        assert_eq!(Milligrams::from_grams(most), Some(UNKNOWN_MASS));
    }

    #[test]
    fn a_limit_is_rounded_down_and_absurd_ones_are_left_out() {
        let of = |limit, unit| {
            amount(&Counter { of: celltriage_rules::Counted::CellMass, limit, unit, bound: Bound::AtMost })
        };
        assert_eq!(of(0.0305, Unit::Gram), Some(Amount::Mass(Milligrams(30))));
        assert_eq!(of(30.0, Unit::Kilogram), Some(Amount::Mass(Milligrams(30_000_000))));
        assert_eq!(of(14.0, Unit::Day), Some(Amount::Days(14)));
        for wrong in [f64::NAN, f64::INFINITY, 0.0, -1.0, 1e30] {
            assert_eq!(of(wrong, Unit::Kilogram), None, "{wrong}");
        }
        assert_eq!(of(0.42, Unit::CubicMetre), Some(Amount::Volume(Millilitres(420_000))));
        assert_eq!(of(30.0, Unit::Percent), None);
    }
}
