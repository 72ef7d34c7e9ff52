//! What may be fitted between the fixture and the cell: an adapter, taps into a pack, a pack's own gauge.
//!
//! The fixture knows the adapter that it was told of ([`crate::request::Request::FitAdapter`]) until it restarts or is told of
//! another; while one is fitted no plan may ask for more current than it bears ([`Adapter::largest_pulse`]).
//!
//! **Taps and gauges are reserved: not sent by any board yet.** Their shapes are fixed so that boards and hosts that come later
//! agree on them; a fixture refuses every request about them with [`crate::reply::RejectCause::NotSupported`] and says in its
//! [`crate::description::Abilities`] what it can do.

use crate::limits;
use crate::units::{MicroAmps, MicroCoulombs, MicroOhms, MicroVolts, Micros, MilliCelsius, NoData, Reading};
use heapless::Vec;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Most cells in series that a pack has taps for. Our choice: packs of laptops have up to four, some tools eight.
pub const MOST_TAPS: usize = 8;

/// Where the sense leads pick up the voltage. Two of these are two conditions of a resistance: a figure taken at one says
/// nothing about one taken at another. Variants are only ever added at the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum SensePoint {
    /// At the cell's bare tabs.
    Tabs = 0,
    /// At the pads of the protection board that the cell is welded to: the protection is not in the path.
    CellPads = 1,
    /// At the pads of the protection board towards the device: the protection is in the path.
    PackPads = 2,
    /// At the connector: protection and lead are in the path.
    Connector = 3,
}

/// An adapter between the fixture's leads and the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Adapter {
    /// Number of this very adapter, as written on it or read from it; 0 = none, the leads themselves.
    pub id: u32,
    /// Whether the fixture has read the number by itself; else a person has said it.
    pub identified: bool,
    /// Where the sense leads pick up the voltage.
    pub sense: SensePoint,
    /// Resistance of the adapter in the path of the current, outside of what sense sees.
    pub force: Reading<MicroOhms>,
    /// Resistance of the adapter that sense sees in series with the cell, as measured last.
    pub seen: Reading<MicroOhms>,
}

impl Adapter {
    /// The number of an adapter whose own one nobody has said.
    pub const NOT_NUMBERED: u32 = u32::MAX;

    /// No adapter: the leads themselves, at the cell's bare tabs.
    pub const NONE: Self = Self {
        id: 0,
        identified: false,
        sense: SensePoint::Tabs,
        force: Err(NoData::NotYet),
        seen: Err(NoData::NotYet),
    };

    /// Returns the largest current of a short pulse through it; what is held for long is as without one.
    pub const fn largest_pulse(self) -> MicroAmps {
        if self.id == 0 { limits::LARGEST_PULSE } else { limits::LARGEST_ADAPTER_PULSE }
    }
}

impl Default for Adapter {
    fn default() -> Self {
        Self::NONE
    }
}

/// Voltages of the cells of a pack.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Taps {
    /// When.
    pub at: Micros,
    /// Voltage of each cell, from the one at the pack's negative pole on.
    pub cells: Vec<Reading<MicroVolts>, MOST_TAPS>,
}

/// What a pack's own gauge says. None of it is a measurement of ours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Gauge {
    /// When it was read.
    pub at: Micros,
    /// Voltage of the pack.
    pub voltage: Reading<MicroVolts>,
    /// Current, positive discharges the pack.
    pub current: Reading<MicroAmps>,
    /// Temperature of the pack.
    pub temperature: Reading<MilliCelsius>,
    /// Charge left.
    pub remaining: Reading<MicroCoulombs>,
    /// Charge of the full pack, as it believes.
    pub full: Reading<MicroCoulombs>,
    /// Charge that the pack was made for.
    pub design: Reading<MicroCoulombs>,
    /// Cycles.
    pub cycles: Reading<u16>,
    /// Flags of its status register, as they are.
    pub status: Reading<u32>,
}
