//! A bus for this crate's tests: four register maps and a cell that is one voltage and one resistance.
//!
//! Registers are written down from the data sheets independently of the drivers. The converter has as little noise as
//! one can have that works: its last digit is now one less, now not.

extern crate std;

use crate::bus::{Freeable, Lines, MOST_PULSES};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};
use std::vec::Vec;

/// Which bus operations are not acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// None.
    No,
    /// Only the one with this number, counted from 0.
    Once(u64),
    /// That one and the one after it.
    Twice(u64),
    /// From this one on.
    From(u64),
}

/// The chips and the cell behind them.
#[derive(Clone, Debug)]
pub struct TestBus {
    /// Transfers so far.
    pub operations: u64,
    /// Writes of a value so far.
    pub writes: u64,
    /// What goes wrong.
    pub fault: Fault,
    /// Whether somebody holds a line of the bus low, and after how many clock pulses at once he lets go.
    pub held: Option<u8>,
    /// A chip address that does not answer.
    pub silent: Option<u8>,
    /// A chip address at which another chip answers, which takes whatever is written.
    pub stranger: Option<u8>,
    /// Open-circuit voltage in microvolts.
    pub open_voltage_uv: i64,
    /// Resistance in microohms.
    pub resistance_uohm: i64,
    /// Current that flows whatever the sink does, in microamperes.
    pub stray_ua: i64,
    /// Fraction of the set point that flows, in percent.
    pub conducts_percent: i64,
    /// Temperatures of cell and air in thousandths of a degree.
    pub temperatures: [i64; 2],
    /// Whether voltage and current have no noise at all, as of a converter that stands still.
    pub still: [bool; 2],
    /// Whether conversions end.
    pub converts: bool,
    /// Code of the charge counter.
    pub charge_code: i64,
    /// Code of the set-point converter; as made it is not zero.
    pub set_point_code: u16,
    /// Level of the load-enable pin.
    pub enabled: bool,
    adc_config: u16,
    alert_settings: u16,
    shunt_cal: u16,
    /// Results that were read, voltages and currents.
    results: [i64; 2],
    thermometer_configs: [u16; 2],
}

impl Default for TestBus {
    fn default() -> Self {
        Self {
            operations: 0,
            writes: 0,
            fault: Fault::No,
            held: None,
            silent: None,
            stranger: None,
            open_voltage_uv: 3_900_000,
            resistance_uohm: 60_000,
            stray_ua: 0,
            conducts_percent: 100,
            temperatures: [23_000, 22_500],
            still: [false; 2],
            converts: true,
            charge_code: 0,
            set_point_code: 0x800,
            enabled: true,
            adc_config: 0xFB68,
            alert_settings: 0,
            results: [0; 2],
            shunt_cal: 0x1000,
            thermometer_configs: [0x0220; 2],
        }
    }
}

impl TestBus {
    /// True current in microamperes.
    pub fn current_ua(&self) -> i64 {
        let wanted = if self.enabled { i64::from(self.set_point_code) * 6_000_000 / 4_096 } else { 0 };
        wanted * self.conducts_percent / 100 + self.stray_ua
    }

    /// Lets the thermometers lose their supply for a moment.
    pub fn brown_out_thermometers(&mut self) {
        self.thermometer_configs = [0x0220; 2];
    }

    /// Lets the monitor lose its supply for a moment.
    pub fn brown_out_monitor(&mut self) {
        (self.adc_config, self.alert_settings, self.charge_code) = (0xFB68, 0, 0);
    }

    fn register(&self, address: u8, register: u8) -> Option<Vec<u8>> {
        let word = |word: u16| word.to_be_bytes().to_vec();
        let twenty = |code: i64| ((code as i32) << 12).to_be_bytes()[..3].to_vec();
        if self.stranger == Some(address) && matches!(register, 0x0F | 0x3F) {
            return Some(word(0x1234));
        }
        Some(match (address, register) {
            (0x40, 0x01) => word(self.adc_config),
            (0x40, 0x02) => word(self.shunt_cal),
            (0x40, 0x04) => twenty(self.current_ua() * 4 / 125 - self.results[1] % 2),
            (0x40, 0x05) => {
                let voltage = self.open_voltage_uv - self.current_ua() * self.resistance_uohm / 1_000_000;
                twenty((voltage * 16 / 3_125 - self.results[0] % 2).max(0))
            }
            (0x40, 0x0A) => (self.charge_code << 24).to_be_bytes()[..5].to_vec(),
            // Without the latch the ready flag is gone before it can be read.
            (0x40, 0x0B) => {
                let ready = self.converts && self.alert_settings & 0x8000 != 0;
                word(self.alert_settings | 0x0001 | u16::from(ready) << 1)
            }
            (0x40, 0x3E) => word(0x5449),
            (0x40, 0x3F) => word(0x2281),
            (0x48 | 0x49, 0x00) => {
                word((self.temperatures[usize::from(address - 0x48)] * 16 / 125) as i16 as u16)
            }
            (0x48 | 0x49, 0x01) => {
                word(self.thermometer_configs[usize::from(address - 0x48)] | u16::from(self.converts) << 13)
            }
            (0x48 | 0x49, 0x0F) => word(0x0117),
            _ => return None,
        })
    }

    fn set_register(&mut self, address: u8, bytes: &[u8]) -> Option<()> {
        match (address, bytes) {
            (0x40, [0x00, high, _]) if high & 0x40 != 0 => self.charge_code = 0,
            (0x40, [0x01, high, low]) => self.adc_config = u16::from_be_bytes([*high, *low]),
            (0x40, [0x0B, high, _]) => self.alert_settings = u16::from(high & 0xF0) << 8,
            (0x40, [0x02, high, low]) => self.shunt_cal = u16::from_be_bytes([*high, *low]),
            (0x48 | 0x49, [0x01, high, low]) => {
                self.thermometer_configs[usize::from(address - 0x48)] = u16::from_be_bytes([*high, *low]);
            }
            (0x60, [high, low]) if high >> 4 == 0 => self.set_point_code = u16::from_be_bytes([*high, *low]),
            _ => return None,
        }
        Some(())
    }
}

impl Freeable for TestBus {
    fn free(&mut self) -> Lines {
        match self.held {
            Some(pulses) if pulses > MOST_PULSES => Lines::Held,
            pulses => {
                self.held = None;
                Lines::Free { pulses: pulses.unwrap_or(0) }
            }
        }
    }
}

impl ErrorType for TestBus {
    type Error = ErrorKind;
}

impl I2c for TestBus {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        let number = self.operations;
        self.operations += 1;
        let fails = match self.fault {
            Fault::No => false,
            Fault::Once(at) => number == at,
            Fault::Twice(at) => number == at || number == at + 1,
            Fault::From(from) => number >= from,
        };
        if self.held.is_some() {
            return Err(ErrorKind::Bus);
        }
        let silent = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
        if fails || self.silent == Some(address) {
            return Err(silent);
        }
        match operations {
            [Operation::Write(bytes)] => {
                self.writes += 1;
                self.set_register(address, bytes).ok_or(silent)
            }
            [Operation::Write([register]), Operation::Read(into)] => {
                let answer = self.register(address, *register).ok_or(silent)?;
                assert_eq!(answer.len(), into.len(), "register {register:#x} of {address:#x}");
                into.copy_from_slice(&answer);
                match (address, *register) {
                    (0x40, 0x05) if !self.still[0] => self.results[0] += 1,
                    (0x40, 0x04) if !self.still[1] => self.results[1] += 1,
                    _ => {}
                }
                Ok(())
            }
            _ => Err(silent),
        }
    }
}
