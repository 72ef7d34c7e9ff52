//! The fixture's four chips as machines of registers: bytes in, bytes out, as on the bus.
//!
//! Register maps and figures are those of the chips' data sheets, from memory. What a data sheet leaves open is said
//! where it is decided.

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

impl Chip {
    /// All chips.
    pub const ALL: [Self; 4] =
        [Self::PowerMonitor, Self::CellThermometer, Self::AmbientThermometer, Self::SetPoint];

    /// Returns the chip's 7-bit address on the bus.
    pub const fn address(self) -> u8 {
        match self {
            Self::PowerMonitor => 0x40,
            Self::CellThermometer => 0x48,
            Self::AmbientThermometer => 0x49,
            Self::SetPoint => 0x60,
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
    into.fill_with(|| bytes.next().copied().unwrap_or(0xFF));
}
