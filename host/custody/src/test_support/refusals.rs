//! One refusal of each kind, for tests of words and hints.

use super::TODAY;
use crate::refusal::Refusal;
use crate::refusal_of_irregular::RefusalOfIrregular;
use crate::refusal_on_container::RefusalOnContainer;
use crate::refusal_on_leaving::RefusalOnLeaving;
use celltriage_rules::LegalState;

/// One refusal of each kind.
pub fn refusals() -> Vec<Refusal> {
    let text = || "PE-1".to_owned();
    let mut all = vec![
        Refusal::UnknownCell(text()),
        Refusal::BadCellName(crate::cell_name::NotAName::BlankAtEnds),
        Refusal::UnknownContainer(text()),
        Refusal::UnknownShipment(text()),
        Refusal::LooksLikeContainer { name: text(), known: text() },
        Refusal::NameTaken { name: text(), what: "cell" },
        Refusal::BadText("reason"),
        Refusal::BadReceipt { cell: text(), why: "nobody has said what it is".to_owned() },
        Refusal::NoConsent { cell: text(), why: "it is somebody else's".to_owned() },
        Refusal::LotOfDamaged { lot: text(), cells: 45 },
        Refusal::BadNumber("3 kg is too much".to_owned()),
        Refusal::BadDay { day: TODAY, what: "later than today".to_owned() },
        Refusal::CellGone { cell: text(), shipment: text(), on: TODAY },
        Refusal::ContainerGone { container: text(), shipment: text() },
        Refusal::ContainerDrafted { container: text(), shipment: text() },
        Refusal::ElsewhereAlready { cell: text(), container: text() },
        Refusal::NotInContainer(text()),
        Refusal::ForReuse(text()),
        Refusal::WrongMix {
            cell: text(),
            state: LegalState::DamagedOrDefective.to_string(),
            container: text(),
            takes: "intact waste cells",
        },
        Refusal::Critical(text()),
        Refusal::UnderWatch { cell: text(), since: TODAY, because: text() },
        Refusal::NotUnderWatch(text()),
        Refusal::NoInnerPacking(text()),
        Refusal::InnerPackingTaken { inner: text(), container: text(), holds: text() },
        Refusal::OtherChemistry { cell: text(), has: text(), container: text(), holds: text(), why: text() },
        Refusal::ContainerFull { container: text(), would: text(), limit: text() },
        Refusal::BadJudgement("it does not fit".to_owned()),
        Refusal::KnownBefore { cell: text(), found: text() },
        Refusal::CountsAsDamaged { cell: text(), found: text(), ends: "only striking it as a mistake" },
        Refusal::StillCritical { cell: text(), found: text(), why: text() },
        Refusal::MixedWithSimulated { cell: text(), is: "real", container: text(), holds: text() },
        Refusal::Simulated { cell: text(), shipment: text() },
        Refusal::NotReleasable { cell: text(), why: text() },
        Refusal::Air(text()),
        Refusal::Empty(text()),
        Refusal::QuarantineIsNotSent(text()),
        Refusal::NotJudged(text()),
        Refusal::NotLeaving { cell: text(), found: text() },
        Refusal::NotEnded { cell: text(), entry: 1, why: text() },
        Refusal::Forbidden { cell: text(), why: text() },
        Refusal::WrongStage { shipment: text(), is: text() },
        Refusal::NotAgreed(text()),
        Refusal::DraftOutdated { shipment: text(), what: text() },
        Refusal::WasteCode { given: text(), on: TODAY, valid: text() },
        Refusal::NoUsedRecord { cell: text(), why: text() },
        Refusal::Milder { state: LegalState::IntactWaste, proposed: LegalState::DamagedOrDefective },
        Refusal::EmptyRecord(text()),
        Refusal::IsFitted { cell: text(), device: text(), since: TODAY },
        Refusal::NotFitted(text()),
        Refusal::NotToBeFitted { cell: text(), why: text() },
        Refusal::NotProven { cell: text(), why: text() },
        Refusal::NoSuchEntry(99),
        Refusal::NotCorrectable { entry: 1, why: text() },
    ];
    all.extend(of_irregular().into_iter().map(Refusal::OfIrregular));
    all.extend(on_container().into_iter().map(Refusal::OnContainer));
    all.extend(on_leaving().into_iter().map(Refusal::OnLeaving));
    all
}

fn of_irregular() -> Vec<RefusalOfIrregular> {
    let text = || "PE-1".to_owned();
    vec![
        RefusalOfIrregular::Regular,
        RefusalOfIrregular::NotSo("judgement"),
        RefusalOfIrregular::Simulated(text()),
        RefusalOfIrregular::OtherCells { shipment: text(), container: text() },
        RefusalOfIrregular::Outdated(text()),
        RefusalOfIrregular::NoIrregularity(4),
        RefusalOfIrregular::PutRight { entry: 4, by: 9 },
    ]
}

fn on_container() -> Vec<RefusalOnContainer> {
    let text = || "IN-1".to_owned();
    vec![
        RefusalOnContainer::StandsThere(text()),
        RefusalOnContainer::ItIsTheSame(text()),
        RefusalOnContainer::NotInside { cell: text(), container: text() },
        RefusalOnContainer::Outdated(text()),
        RefusalOnContainer::NotTogether { first: text(), second: text(), why: text() },
    ]
}

fn on_leaving() -> Vec<RefusalOnLeaving> {
    let text = || "PE-1".to_owned();
    vec![
        RefusalOnLeaving::CellLeft { cell: text(), how: text() },
        RefusalOnLeaving::ContainerLeft { container: text(), how: text(), on: TODAY },
        RefusalOnLeaving::NothingThere(text()),
        RefusalOnLeaving::NotThisWay { cell: text(), way: "sold", why: text() },
        RefusalOnLeaving::NotTold { cell: text(), way: "handed back to its owner", against: text() },
        RefusalOnLeaving::OnlyWithPapers { cell: text(), state: text() },
        RefusalOnLeaving::IsHere(text()),
        RefusalOnLeaving::Destroyed { name: text(), how: "burnt in the shop" },
        RefusalOnLeaving::Outdated(text()),
        RefusalOnLeaving::NotHandedOver(text()),
        RefusalOnLeaving::NotAtReceiver { cell: text(), shipment: text() },
        RefusalOnLeaving::NothingRefused(text()),
    ]
}
