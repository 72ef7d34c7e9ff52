//! Which refusals are rules: what they refuse may have happened in spite of them.

use crate::refusal::Refusal;
use crate::refusal_on_leaving::RefusalOnLeaving;

impl Refusal {
    /// Returns whether a rule refuses what may have happened in spite of it; anything else is a typing mistake, or impossible.
    pub const fn is_a_rule(&self) -> bool {
        matches!(
            self,
            Self::ContainerDrafted { .. }
                | Self::ElsewhereAlready { .. }
                | Self::ForReuse(_)
                | Self::WrongMix { .. }
                | Self::Critical(_)
                | Self::UnderWatch { .. }
                | Self::NoInnerPacking(_)
                | Self::InnerPackingTaken { .. }
                | Self::OtherChemistry { .. }
                | Self::ContainerFull { .. }
                | Self::QuarantineIsNotSent(_)
                | Self::NotJudged(_)
                | Self::NotLeaving { .. }
                | Self::Forbidden { .. }
                | Self::NotAgreed(_)
                | Self::DraftOutdated { .. }
                | Self::WasteCode { .. }
                | Self::IsFitted { .. }
                | Self::NotToBeFitted { .. }
                | Self::NotProven { .. }
                | Self::NoConsent { .. }
                | Self::LotOfDamaged { .. }
                | Self::OnLeaving(
                    RefusalOnLeaving::NotThisWay { .. }
                        | RefusalOnLeaving::NotTold { .. }
                        | RefusalOnLeaving::OnlyWithPapers { .. }
                )
        )
    }
}
