//! What can be known against a cell, what each finding blocks, and what ends it: one table.
//!
//! The rows are the rule of the house; decisions, permits to charge, judgements and shipments all ask here. What a person may
//! withdraw as a mistake, by name and reason, is *struck* whatever its kind is; the last column is what else ends it. The names in
//! JSON are stored in books, so they never change.

use serde::{Deserialize, Serialize};

/// What was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum KnownKind {
    /// Reacting: heat, noise, smoke, smell, gas.
    Reacting,
    /// Leaked or vented.
    Leaked,
    /// The casing is open.
    CasingOpen,
    /// Swollen, by looks or by its thickness.
    Swollen,
    /// Dented or bent.
    Deformed,
    /// Discoloured or burnt.
    Discoloured,
    /// Dropped, wetted, heated, pried, charged wrongly.
    Misused,
    /// Its protection is damaged.
    Unprotected,
    /// Recalled, or named faulty by its maker.
    Recalled,
    /// Charged above its limit.
    OverCharged,
    /// Once so low that copper may have dissolved.
    DischargedTooFar,
    /// Loses charge inside.
    LosesCharge,
    /// Warm at rest.
    WarmAtRest,
    /// Too warm under a load.
    WarmUnderLoad,
    /// Something else that a measurement found.
    FailedOtherwise,
    /// A test that did not come to its end.
    UnfinishedTest,
    /// A short, heat or water while it was fitted: what that did to it is not known yet.
    Incident,
    /// An alarm of a watch: heat.
    HeatAlarm,
    /// An alarm of a watch: its voltage fell without a load.
    VoltageAlarm,
    /// A person judged it damaged, open or critical.
    Judged,
    /// Under watch.
    UnderWatch,
    /// A person found it critical.
    FoundCritical,
    /// Worse at a look under watch.
    Worse,
    /// Critical, and nobody has judged it since the entry that said so was struck.
    Unjudged,
    /// A decision that cannot be read.
    Unreadable,
    /// Of an older book that did not say which; it counts as the worst.
    #[default]
    Unsorted,
}

/// What a finding blocks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[allow(clippy::struct_excessive_bools, reason = "the columns of a table that people read")]
pub struct Barred {
    /// The pulses of a screen.
    pub load: bool,
    /// A charge.
    pub charge: bool,
    /// A discharge for its capacity.
    pub discharge: bool,
    /// Being fitted again.
    pub reuse: bool,
    /// A person's judgement that it is no waste.
    pub not_waste: bool,
    /// A person's judgement that it is intact waste, and a box for such: whatever says that it is damaged.
    pub intact_waste: bool,
    /// Leaving the shop, also as waste.
    pub leaving: bool,
}

/// What ends a finding, beside being struck as a mistake.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Release {
    /// Nothing.
    Striking,
    /// A test that comes to its end.
    FinishedTest,
    /// A finished test with every sign looked for and none found.
    Screening,
    /// A timed cooling: two looks at its temperature.
    Cooling,
    /// A measurement of the same kind without an alarm.
    NewMeasurement,
    /// The end of its watch.
    EndOfWatch,
    /// A person's judgement.
    Judgement,
}

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct KnownRow {
    /// What was found.
    pub found: KnownKind,
    /// In a few words.
    pub words: &'static str,
    /// What it blocks.
    pub bars: Barred,
    /// What ends it, beside being struck.
    pub release: Release,
    /// Why.
    pub because: &'static str,
}

/// Everything in the shop; it may leave as damaged.
const STAYS_DAMAGED: Barred = Barred {
    load: true,
    charge: true,
    discharge: true,
    reuse: true,
    not_waste: true,
    intact_waste: true,
    leaving: false,
};
/// Everything.
const ALL: Barred = Barred { leaving: true, ..STAYS_DAMAGED };
/// It never serves again; it may leave as intact waste.
const WORN: Barred = Barred { intact_waste: false, ..STAYS_DAMAGED };
/// It may be tested, and leave as damaged.
const DAMAGED_UNTIL_TESTED: Barred = Barred { load: false, discharge: false, ..STAYS_DAMAGED };
/// It may be tested, and leave as waste.
const UNTIL_TESTED: Barred = Barred { intact_waste: false, ..DAMAGED_UNTIL_TESTED };
/// Everything but the judgement that ends it.
const UNTIL_JUDGED: Barred = Barred { intact_waste: false, ..ALL };

const DAMAGE: &str = "damage does not mend";
const INSIDE: &str = "what happened inside cannot be seen from outside";
const HEAT: &str =
    "a cell that warms without a load has a source of heat inside, unless it took the heat from outside";

const fn row(
    found: KnownKind,
    words: &'static str,
    bars: Barred,
    release: Release,
    because: &'static str,
) -> KnownRow {
    KnownRow { found, words, bars, release, because }
}

/// The table. That damage bars use and that a critical cell is not moved follow UN/ADR special provision 376; what ends a finding is
/// our choice, the careful one where nothing is published.
pub const KNOWN_TABLE: [KnownRow; 26] = [
    row(
        KnownKind::Reacting,
        "reacting",
        ALL,
        Release::Striking,
        "cells flare up again after days (ERG 2024, guide 147)",
    ),
    row(KnownKind::Leaked, "leaked or vented", STAYS_DAMAGED, Release::Striking, DAMAGE),
    row(KnownKind::CasingOpen, "casing open", STAYS_DAMAGED, Release::Striking, DAMAGE),
    row(KnownKind::Swollen, "swollen", STAYS_DAMAGED, Release::Striking, "gas inside does not go back"),
    row(KnownKind::Deformed, "dented or bent", STAYS_DAMAGED, Release::Striking, DAMAGE),
    row(KnownKind::Discoloured, "discoloured or burnt", STAYS_DAMAGED, Release::Striking, DAMAGE),
    row(KnownKind::Misused, "misused", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(KnownKind::Unprotected, "protection damaged", STAYS_DAMAGED, Release::Striking, DAMAGE),
    row(
        KnownKind::Recalled,
        "recalled",
        STAYS_DAMAGED,
        Release::Striking,
        "its maker's word, not this shop's",
    ),
    row(KnownKind::OverCharged, "over-charged", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(KnownKind::DischargedTooFar, "discharged too far", WORN, Release::Striking, INSIDE),
    row(KnownKind::LosesCharge, "loses charge inside", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(KnownKind::WarmAtRest, "warm at rest", ALL, Release::Cooling, HEAT),
    row(KnownKind::WarmUnderLoad, "too warm under load", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(KnownKind::FailedOtherwise, "failed a test", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(
        KnownKind::UnfinishedTest,
        "test not finished",
        UNTIL_TESTED,
        Release::FinishedTest,
        "what it would have found is not known",
    ),
    row(
        KnownKind::Incident,
        "incident while fitted",
        DAMAGED_UNTIL_TESTED,
        Release::Screening,
        "what that did to it is not known yet",
    ),
    row(KnownKind::HeatAlarm, "heat alarm under watch", ALL, Release::NewMeasurement, HEAT),
    row(
        KnownKind::VoltageAlarm,
        "voltage alarm under watch",
        STAYS_DAMAGED,
        Release::NewMeasurement,
        "its voltage fell without a load",
    ),
    row(
        KnownKind::Judged,
        "judged damaged",
        STAYS_DAMAGED,
        Release::Striking,
        "a milder word says that it was a mistake: then it is struck",
    ),
    row(KnownKind::UnderWatch, "under watch", ALL, Release::EndOfWatch, "a person suspects it"),
    row(
        KnownKind::FoundCritical,
        "found critical",
        ALL,
        Release::Striking,
        "cells flare up again after days (ERG 2024, guide 147)",
    ),
    row(KnownKind::Worse, "worse under watch", STAYS_DAMAGED, Release::Striking, INSIDE),
    row(
        KnownKind::Unjudged,
        "critical, not judged since",
        UNTIL_JUDGED,
        Release::Judgement,
        "a person's word is missing",
    ),
    row(
        KnownKind::Unreadable,
        "a decision that cannot be read",
        STAYS_DAMAGED,
        Release::Striking,
        "missing data is the worst case",
    ),
    row(
        KnownKind::Unsorted,
        "found by an older version",
        ALL,
        Release::Striking,
        "missing data is the worst case",
    ),
];

impl KnownKind {
    /// Returns its row of the table.
    pub fn row(self) -> KnownRow {
        let found = KNOWN_TABLE.iter().copied().find(|row| row.found == self);
        // A test shows that each has one.
        found.unwrap_or(row(self, "unknown", ALL, Release::Striking, "missing data is the worst case"))
    }

    /// Returns what it blocks.
    pub fn bars(self) -> Barred {
        self.row().bars
    }
}

impl Barred {
    /// Returns each thing with whether it is barred, in the order of the table.
    pub const fn columns(self) -> [(&'static str, bool); 7] {
        [
            ("load", self.load),
            ("charge", self.charge),
            ("discharge", self.discharge),
            ("reuse", self.reuse),
            ("not waste", self.not_waste),
            ("intact waste", self.intact_waste),
            ("leaving", self.leaving),
        ]
    }
}

impl Release {
    /// Returns whether a test ends such a finding by itself: one under load that came to its end, and at which every sign was looked
    /// for and none found.
    pub const fn is_met_by_test(self, finished: bool, looked_whole: bool) -> bool {
        match self {
            Self::FinishedTest => finished,
            Self::Screening => finished && looked_whole,
            Self::Striking | Self::Cooling | Self::NewMeasurement | Self::EndOfWatch | Self::Judgement => {
                false
            }
        }
    }

    /// Returns what it takes, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Striking => "only striking it as a mistake",
            Self::FinishedTest => "a test under load that comes to its end",
            Self::Screening => "such a test with every sign looked for and none found",
            Self::Cooling => "a timed cooling: two looks at its temperature",
            Self::NewMeasurement => "a new watch on the fixture without an alarm",
            Self::EndOfWatch => "the end of its watch",
            Self::Judgement => "a person's judgement",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_one_row_under_its_name_in_json() {
        for row in KNOWN_TABLE {
            assert_eq!(row.found.row(), row);
            assert_eq!(KNOWN_TABLE.iter().filter(|other| other.found == row.found).count(), 1, "{row:?}");
            let name = serde_json::to_value(row.found).unwrap();
            assert_eq!(serde_json::from_value::<KnownKind>(name).unwrap(), row.found);
        }
        // The last of the enum, so that the table is as long as it.
        assert_eq!(KnownKind::Unsorted as usize + 1, KNOWN_TABLE.len());
    }

    #[test]
    fn what_is_not_said_bars_everything_and_nothing_found_lets_a_cell_be_fitted() {
        assert_eq!(KnownKind::default().bars(), ALL);
        for row in KNOWN_TABLE {
            let bars = row.bars;
            assert!(bars.reuse && bars.not_waste && bars.charge, "{row:?}");
            assert_eq!(bars.load, bars.discharge, "both load the cell: {row:?}");
        }
    }

    /// What a cell shows stays, whatever is measured later.
    #[test]
    fn swelling_leakage_an_open_casing_deformation_and_a_recall_end_by_striking_only() {
        use KnownKind::{CasingOpen, Deformed, Leaked, Recalled, Swollen};
        for kind in [Swollen, Leaked, CasingOpen, Deformed, Recalled] {
            assert_eq!((kind.row().release, kind.bars()), (Release::Striking, STAYS_DAMAGED));
        }
    }
}
