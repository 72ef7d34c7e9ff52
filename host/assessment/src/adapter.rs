//! Which adapter was between fixture and cell, as the fixture was told: for the record.

use celltriage_measure::observation::SensedAt;
use celltriage_protocol::fitted::Adapter;
use serde::{Deserialize, Serialize};

/// The adapter of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AdapterUsed {
    /// Its number; `None` where nobody has said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number: Option<u32>,
    /// Whether the fixture has read the number by itself; else a person has said it.
    pub identified: bool,
    /// Where the sense leads pick up the voltage, by the names of `sensed_at`.
    pub sensed_at: String,
    /// Largest current of a short pulse through it, in A: what the fixture held the plan to.
    pub largest_pulse_a: f64,
    /// Its resistance in the path of the current, outside of what sense sees, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub force_ohm: Option<f64>,
    /// Its resistance that sense sees in series with the cell, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seen_ohm: Option<f64>,
}

impl AdapterUsed {
    /// Returns what is to be recorded; `None` where there was no adapter.
    pub fn of(adapter: &Adapter) -> Option<Self> {
        (adapter.id != 0).then(|| Self {
            number: Some(adapter.id).filter(|id| *id != Adapter::NOT_NUMBERED),
            identified: adapter.identified,
            sensed_at: SensedAt::from(adapter.sense).key().to_owned(),
            largest_pulse_a: f64::from(adapter.largest_pulse().get()) / 1e6,
            force_ohm: adapter.force.ok().map(|force| force.get() as f64 / 1e6),
            seen_ohm: adapter.seen.ok().map(|seen| seen.get() as f64 / 1e6),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recorded::Recorded;
    use celltriage_protocol::fitted::SensePoint;
    use celltriage_protocol::frame::{MAX_ENCODED, encode_reply};
    use celltriage_protocol::reply::Reply;

    #[test]
    fn a_recording_says_which_adapter_it_was_and_one_with_clips_says_nothing() {
        let of = |adapter: Adapter| {
            let mut out = [0; MAX_ENCODED + 1];
            let frame = encode_reply(0, &Reply::Adapter(adapter), &mut out).expect("it fits");
            Recorded::read(frame, None).adapter()
        };
        let head = Adapter { id: 7, sense: SensePoint::Connector, ..Adapter::NONE };
        let json = serde_json::to_string(&of(head)).expect("plain data");
        assert_eq!(json, r#"{"number":7,"identified":false,"sensed_at":"connector","largest_pulse_a":3.0}"#);
        let unnumbered = of(Adapter { id: Adapter::NOT_NUMBERED, ..head }).expect("an adapter");
        assert_eq!(unnumbered.number, None);
        assert_eq!(of(Adapter::NONE), None);
        for (sense, said) in [
            (SensePoint::Tabs, SensedAt::Tabs),
            (SensePoint::CellPads, SensedAt::CellPads),
            (SensePoint::PackPads, SensedAt::PackPads),
            (SensePoint::Connector, SensedAt::Connector),
        ] {
            assert_eq!((SensedAt::from(sense), SensePoint::from(said)), (said, sense));
        }
    }
}
