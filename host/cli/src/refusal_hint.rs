//! What to do about each refusal of custody.

use celltriage_custody::Refusal;
use celltriage_custody::refusal_of_irregular::RefusalOfIrregular;
use celltriage_custody::refusal_on_container::RefusalOnContainer;
use celltriage_custody::refusal_on_leaving::RefusalOnLeaving;

/// Returns what to do about a refusal.
pub fn hint(refusal: &Refusal) -> &'static str {
    match refusal {
        Refusal::UnknownCell(_) => {
            "assess it first, with what can be seen of it, or receive it unmeasured: `celltriage receive`; `celltriage book list` shows all cells"
        }
        Refusal::BadCellName(_) => "`celltriage book list` shows the names there are",
        Refusal::UnknownContainer(_) => "`celltriage container list` shows them; `container open` makes one",
        Refusal::UnknownShipment(_) => "`celltriage shipment list` shows them",
        Refusal::LooksLikeContainer { .. } => "choose a name that nobody takes for that one",
        Refusal::NameTaken { .. } => "choose another name; a name is never used twice",
        Refusal::BadText(_) => "write one line",
        Refusal::BadNumber(_) => "check figure and unit",
        Refusal::BadDay { .. } => "write the day on which it happened, as 2026-11-25",
        Refusal::CellGone { .. } => {
            "if it came back: `celltriage return CELL`; a remark can be added: `celltriage container correct ENTRY --because TEXT`"
        }
        Refusal::ContainerGone { .. } => {
            "if it came back: `celltriage return --container NAME`; else open another container under another name"
        }
        Refusal::OnLeaving(refusal) => on_leaving(refusal),
        Refusal::OfIrregular(refusal) => of_irregular(refusal),
        Refusal::OnContainer(refusal) => on_container(refusal),
        Refusal::ContainerDrafted { .. } => "withdraw the draft first: `celltriage shipment withdraw`",
        Refusal::ElsewhereAlready { .. } => "take it out first: `celltriage container take-out`",
        Refusal::NotInContainer(_) => "`celltriage book find` shows where it went",
        Refusal::ForReuse(_) => {
            "if it is given up after all, a person judges it as waste: `celltriage judge`; if it gives cause for worry, \
                 put it under watch (`celltriage container hold`), then into a quarantine container"
        }
        Refusal::WrongMix { .. } => {
            "use a container of the other kind; if the state is wrong, a person judges the cell: `celltriage judge`"
        }
        Refusal::Critical(_) => {
            "leave it, keep people away, ask the fire service and the competent authority; put it under watch where \
                 it lies: `celltriage container hold`; only a new judgement ends this"
        }
        Refusal::UnderWatch { .. } => {
            "use a quarantine container, or end the watch: `celltriage container release`"
        }
        Refusal::NotUnderWatch(_) => "begin a watch: `celltriage container hold`",
        Refusal::NoInnerPacking(_) => "name it: `container place --inner NAME`",
        Refusal::InnerPackingTaken { .. } => "use another inner packing",
        Refusal::OtherChemistry { .. } => "use another container",
        Refusal::ContainerFull { .. } => "use another container",
        Refusal::Milder { .. } => "`celltriage judge --because TEXT`, or judge as proposed",
        Refusal::BadJudgement(_) => {
            "look again, and answer what was seen: `celltriage judge CELL --as-recorded --answer QUESTION=no ...`; `celltriage judge \
                 CELL` alone lists the questions"
        }
        Refusal::KnownBefore { .. } => {
            "where that entry is wrong, a person strikes it: `celltriage container correct ENTRY --strike --because \
                 TEXT --by NAME`"
        }
        Refusal::CountsAsDamaged { .. } => {
            "judge it as damaged; where that entry is wrong, a person strikes it first: `celltriage finding strike ENTRY --because TEXT \
                 --by NAME`"
        }
        Refusal::StillCritical { .. } => {
            "leave it and keep it under watch where it lies (`celltriage container hold`, `container inspect`); where \
                 that entry is wrong, a person strikes it: `celltriage container correct ENTRY --strike`"
        }
        Refusal::NotLeaving { .. } => {
            "`celltriage finding of CELL` says what ends it; where the entry is wrong, strike it: `celltriage finding strike ENTRY`"
        }
        Refusal::NotEnded { .. } => {
            "`celltriage finding table` has what ends which finding; where the entry is wrong, strike it: `celltriage finding \
                 strike ENTRY`"
        }
        Refusal::MixedWithSimulated { .. } => {
            "use another container; to try things out, take a book of its own"
        }
        Refusal::Simulated { .. } => "withdraw the draft: `celltriage shipment withdraw`",
        Refusal::NotReleasable { .. } => {
            "look at it and write that down: `celltriage container inspect`; for another end of the watch begin a new \
                 one with its reason"
        }
        Refusal::Air(_) => {
            "choose `shipment draft --mode` road, rail or sea; for anything else ask the authorities"
        }
        Refusal::Empty(_) => "put cells into it first: `celltriage container place`",
        Refusal::QuarantineIsNotSent(_) => {
            "release the cells, have them judged, and put them into a container for damaged or for intact cells"
        }
        Refusal::NotJudged(_) => "have a trained person judge it: `celltriage judge`",
        Refusal::Forbidden { .. } => "take it out of the container and ask the authority",
        Refusal::WrongStage { .. } => "`celltriage shipment list` shows how far each is",
        Refusal::NotAgreed(_) => "ask the receiver, then: `celltriage shipment agree`",
        Refusal::DraftOutdated { .. } => "withdraw it (`shipment withdraw`) and draft again",
        Refusal::WasteCode { .. } => "use a code of that day; ask the waste authority which one",
        Refusal::NoUsedRecord { .. } => "without a record it is likely to be taken for waste at a border",
        Refusal::EmptyRecord(_) => "say what is known of it: `celltriage origin --help`",
        Refusal::IsFitted { .. } => "take it out first: `celltriage trial out`; then it is screened again",
        Refusal::NotFitted(_) => {
            "`celltriage trial list` shows the cells in devices; `celltriage book find` where it is"
        }
        Refusal::NotToBeFitted { .. } => {
            "take another cell; where an entry is wrong, a person strikes it (`celltriage container correct ENTRY --strike`), or \
                 judges the cell (`celltriage judge`)"
        }
        Refusal::NotProven { .. } => {
            "fit it for trial (leave out `trial fit --stays`), or assess it in full and have it judged first"
        }
        Refusal::BadReceipt { .. } => {
            "`celltriage receive --help` has what can be said; a later call adds to it or corrects it"
        }
        Refusal::NoConsent { .. } => {
            "ask whose it is and write the answer down: `celltriage receive CELL --consent yes --by NAME`; kept apart it may be meanwhile, in a \
             container for damaged cells or under watch"
        }
        Refusal::LotOfDamaged { .. } => {
            "sort it: receive the damaged ones singly and the rest as a lot of its own, then `celltriage leave LOT --how taken-apart`"
        }
        Refusal::NoSuchEntry(_) => {
            "`celltriage book list` shows each entry with its number; `celltriage book show CELL` those of one cell"
        }
        Refusal::NotCorrectable { .. } => "leave out `container correct --strike` to add a remark only",
    }
}

const fn on_container(refusal: &RefusalOnContainer) -> &'static str {
    match refusal {
        RefusalOnContainer::StandsThere(_) => "say another place: `celltriage container move --stands TEXT`",
        RefusalOnContainer::ItIsTheSame(_) => {
            "name another container; `celltriage container list` shows them"
        }
        RefusalOnContainer::NotInside { .. } => "`celltriage container show NAME` has its cells",
        RefusalOnContainer::Outdated(_) => "look at it with `celltriage container show`, and try again",
        RefusalOnContainer::NotTogether { .. } => "draft a shipment for each: `celltriage shipment draft`",
    }
}

const fn of_irregular(refusal: &RefusalOfIrregular) -> &'static str {
    match refusal {
        RefusalOfIrregular::Regular => "write it down as usual: leave out what says that it is irregular",
        RefusalOfIrregular::NotSo(_) => "note it in words: `celltriage irregularity note`",
        RefusalOfIrregular::Simulated(_) => "simulated cells stay in a book of their own",
        RefusalOfIrregular::OtherCells { .. } => {
            "write down that the container left: `celltriage leave --container NAME --how recycler --irregular TEXT`; then give the draft up"
        }
        RefusalOfIrregular::Outdated(_) => "look at it with `celltriage book show`, and try again",
        RefusalOfIrregular::NoIrregularity(_) | RefusalOfIrregular::PutRight { .. } => {
            "`celltriage irregularity list --all` shows them with their entries"
        }
    }
}

const fn on_leaving(refusal: &RefusalOnLeaving) -> &'static str {
    match refusal {
        RefusalOnLeaving::CellLeft { .. } => "if it came back: `celltriage return CELL`",
        RefusalOnLeaving::ContainerLeft { .. } => "if it came back: `celltriage return --container NAME`",
        RefusalOnLeaving::NothingThere(_) => "simulated cells stay in a book of their own",
        RefusalOnLeaving::NotThisWay { .. } => {
            "judge it as waste (`celltriage judge`) and send it to a recycler; where an entry is wrong, a person strikes it: \
             `celltriage finding strike ENTRY`"
        }
        RefusalOnLeaving::NotTold { .. } => {
            "tell them, and write down what was said: `celltriage leave --told TEXT`"
        }
        RefusalOnLeaving::OnlyWithPapers { .. } => {
            "have it judged, put it into a container and draft its papers: `celltriage shipment draft`"
        }
        RefusalOnLeaving::IsHere(_) => "`celltriage book find` shows where it is",
        RefusalOnLeaving::Destroyed { .. } => {
            "if the entry is wrong, remark on it: `celltriage container correct ENTRY --because TEXT`"
        }
        RefusalOnLeaving::Outdated(_) => "look at it with `celltriage book show`, and try again",
        RefusalOnLeaving::NotHandedOver(_) => "`celltriage shipment list` shows how far each is",
        RefusalOnLeaving::NotAtReceiver { .. } => "`celltriage shipment show` has its cells",
        RefusalOnLeaving::NothingRefused(_) => "`celltriage shipment show` has what followed it",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Error;
    use celltriage_custody::test_support::refusals;
    use celltriage_rules::promise_in;

    #[test]
    fn every_refusal_tells_what_and_what_to_do() {
        for refusal in refusals() {
            let error = Error::from(refusal.clone());
            let told = error.to_string();
            assert!(told.contains("nothing was written") && told.contains("\nhint: "), "{told}");
            assert!(hint(&refusal).len() > 10, "{told}");
            assert_eq!(promise_in(&told), None, "{told}");
            assert_eq!(error.exit_code(), 2);
        }
    }
}
