//! What is counted for a container, a cell or the site, and up to where.
//!
//! Takes the counters of the rule packs; gives [`CounterLimit`]s in whole units, each with its source and whether it
//! must be verified. What custody cannot count (volumes, distances, records, state of charge) is left to the page of the
//! rules.

use crate::custody::units::{Milligrams, MilliwattHours};
use crate::rules::{Bound, Counter, Told, Unit};
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
        }
    }

    /// Returns what custody counts for a counter of the packs; nothing where it cannot.
    const fn of(counted: crate::rules::Counted) -> Option<Self> {
        match counted {
            crate::rules::Counted::TimeSinceDecision => Some(Counted::TimeSinceDecision),
            crate::rules::Counted::UniversalWasteOnSite => Some(Counted::SiteMass),
            crate::rules::Counted::LithiumBatteriesInVehicle => Some(Counted::TransportUnitMass),
            crate::rules::Counted::PackageGrossMass => Some(Counted::PackageGross),
            crate::rules::Counted::CellMass => Some(Counted::CellMass),
            crate::rules::Counted::CellEnergy => Some(Counted::CellEnergy),
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
}

/// Mass that is counted for a cell whose mass is not known: the largest that a label may state here (see
/// [`crate::nameplate::BOUNDS`]), the worst case. Weighing the cell ends it.
pub const UNKNOWN_MASS: Milligrams = Milligrams::grams(2_000);

impl CounterLimit {
    /// Makes a limit from a counter of the packs; nothing where custody cannot count it.
    pub fn of(told: Told<Counter>) -> Option<Self> {
        let Told { fact, what: counter } = told;
        Some(Self {
            what: Counted::of(counter.of)?,
            limit: amount(&counter)?,
            bound: counter.bound,
            id: fact.rule,
            means: fact.text,
            citation: fact.source,
            verify: fact.verify,
        })
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
        Unit::CubicMetre | Unit::Millimetre | Unit::Percent => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::custody::local_rules::{LocalRules, PackRules};
    use crate::rules::{LegalState, Packs};
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
        let (_, _, most, _) = crate::nameplate::BOUNDS.into_iter().find(|row| row.0 == "mass_g").unwrap();
        assert_eq!(Milligrams::from_grams(most), Some(UNKNOWN_MASS));
    }

    #[test]
    fn a_limit_is_rounded_down_and_absurd_ones_are_left_out() {
        let of = |limit, unit| {
            amount(&Counter { of: crate::rules::Counted::CellMass, limit, unit, bound: Bound::AtMost })
        };
        assert_eq!(of(0.0305, Unit::Gram), Some(Amount::Mass(Milligrams(30))));
        assert_eq!(of(30.0, Unit::Kilogram), Some(Amount::Mass(Milligrams(30_000_000))));
        assert_eq!(of(14.0, Unit::Day), Some(Amount::Days(14)));
        for wrong in [f64::NAN, f64::INFINITY, 0.0, -1.0, 1e30] {
            assert_eq!(of(wrong, Unit::Kilogram), None, "{wrong}");
        }
        assert_eq!(of(0.4, Unit::CubicMetre), None);
    }
}
