//! The fixture's four chips as machines of registers: bytes in, bytes out, as on the bus.
//!
//! The drivers are written from the chips' data sheets; the machines here from other drivers, models and manuals, as far as
//! there is one that says a fact, so that the two do not share an unchecked belief. Each file says from which;
//! `hardware-notes/chip_facts.toml` has both sources beside each fact. What all of them leave open is said where it is decided.

pub mod alerts;
pub mod channel;
pub mod conversion;
pub mod noise;
pub mod power_monitor;
pub mod set_point;
pub mod thermometer;

/// One of the chips on the bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Chip {
    /// Voltage, current and charge (INA228 kind).
    PowerMonitor,
    /// The thermometer on the cell (TMP117 kind).
    CellThermometer,
    /// The thermometer in the air (TMP117 kind).
    AmbientThermometer,
    /// The converter that gives the sink its set point (MCP4725 kind).
    SetPoint,
}

/// Addresses on the bus, in the order of [`Chip::ALL`]; the pins of the first three choose them (wiring.toml).
const ADDRESSES: [u8; 4] = [0x40, 0x48, 0x49, 0x60];
/// What a bus reads as that nobody pulls low.
const IDLE: u8 = 0xFF;

impl Chip {
    /// All chips.
    pub const ALL: [Self; 4] =
        [Self::PowerMonitor, Self::CellThermometer, Self::AmbientThermometer, Self::SetPoint];

    /// Returns the chip's 7-bit address on the bus.
    pub const fn address(self) -> u8 {
        let [monitor, cell, ambient, set_point] = ADDRESSES;
        match self {
            Self::PowerMonitor => monitor,
            Self::CellThermometer => cell,
            Self::AmbientThermometer => ambient,
            Self::SetPoint => set_point,
        }
    }

    /// Returns the chip at an address.
    pub fn at(address: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|chip| chip.address() == address)
    }
}

/// Fills a read with a register, most significant byte first; bytes beyond the register read as ones, as a bus does
/// that nobody pulls low.
fn fill(into: &mut [u8], register: &[u8]) {
    let mut bytes = register.iter();
    into.fill_with(|| bytes.next().copied().unwrap_or(IDLE));
}
