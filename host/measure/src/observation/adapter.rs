//! The adapter between the fixture's leads and the cell, as a person has said it: for the fixture and for the plan.

use super::{Observations, SensedAt};
use celltriage_protocol::fitted::{Adapter, SensePoint};

impl Observations {
    /// Returns the adapter that is on; `None` where the clips hold the cell themselves. An adapter whose number nobody has
    /// said still counts as one.
    pub fn fitted(&self) -> Option<Adapter> {
        let place = self.sensed_at.unwrap_or(SensedAt::Tabs);
        if self.adapter.is_none() && !place.needs_sprung_pins() {
            return None;
        }
        let (id, sense) = (self.adapter.unwrap_or(Adapter::NOT_NUMBERED), place.into());
        Some(Adapter { id, sense, ..Adapter::NONE })
    }
}

impl From<SensedAt> for SensePoint {
    fn from(place: SensedAt) -> Self {
        match place {
            SensedAt::Tabs => Self::Tabs,
            SensedAt::CellPads => Self::CellPads,
            SensedAt::PackPads => Self::PackPads,
            SensedAt::Connector => Self::Connector,
        }
    }
}

impl From<SensePoint> for SensedAt {
    fn from(place: SensePoint) -> Self {
        match place {
            SensePoint::Tabs => Self::Tabs,
            SensePoint::CellPads => Self::CellPads,
            SensePoint::PackPads => Self::PackPads,
            SensePoint::Connector => Self::Connector,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_says_pins_or_a_number_has_an_adapter() {
        let fitted =
            |sensed_at, adapter| Observations { sensed_at, adapter, ..Observations::default() }.fitted();
        assert_eq!(fitted(None, None), None);
        assert_eq!(fitted(Some(SensedAt::Tabs), None), None);
        let head = fitted(Some(SensedAt::Connector), Some(7)).unwrap();
        assert_eq!((head.id, head.identified, head.sense), (7, false, SensePoint::Connector));
        for place in [SensedAt::CellPads, SensedAt::PackPads, SensedAt::Connector] {
            assert_eq!(fitted(Some(place), None).unwrap().id, Adapter::NOT_NUMBERED);
        }
        assert_eq!(fitted(None, Some(3)).unwrap().sense, SensePoint::Tabs);
    }
}
