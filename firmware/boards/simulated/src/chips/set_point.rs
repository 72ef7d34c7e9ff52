//! A 12-bit converter of the MCP4725 kind, which gives the sink its set point.
//!
//! Takes and gives bus bytes; gives the output as a fraction of full scale. Commands are those of the MCP4725 data
//! sheet, from memory. A chip fresh from the maker powers up at half scale: a program that enables the sink without
//! writing a set point first would draw half the full current, and this model lets it.

use super::fill;

/// Codes of full scale.
const CODES: f64 = 4_096.0;
/// Half scale, as the maker stores it (data sheet, from memory).
const AS_MADE: u16 = 0x800;

/// The chip.
#[derive(Clone, Copy, Debug)]
pub struct SetPoint {
    code: u16,
    power_down: u8,
    stored_code: u16,
    stored_power_down: u8,
}

impl Default for SetPoint {
    fn default() -> Self {
        Self { code: AS_MADE, power_down: 0, stored_code: AS_MADE, stored_power_down: 0 }
    }
}

impl SetPoint {
    /// Loads what is stored.
    pub const fn power_up(&mut self) {
        self.code = self.stored_code;
        self.power_down = self.stored_power_down;
    }

    /// Returns the output as a fraction of full scale; powered down it is pulled to zero.
    pub fn output(&self) -> f64 {
        if self.power_down == 0 { f64::from(self.code) / CODES } else { 0.0 }
    }

    /// Takes the bytes of a write.
    pub fn write(&mut self, bytes: &[u8]) {
        let [command, ..] = bytes else { return };
        match command >> 5 {
            // Fast write, command bits 00x: two bytes each, as often as wanted; the last counts.
            0 | 1 => {
                for pair in bytes.chunks_exact(2) {
                    if let &[high, low] = pair {
                        self.power_down = high >> 4 & 3;
                        self.code = u16::from_be_bytes([high & 0x0F, low]);
                    }
                }
            }
            // Write (010), write and store (011): command, upper eight bits, lower four.
            kind @ (2 | 3) => {
                let &[command, high, low, ..] = bytes else { return };
                self.power_down = command >> 1 & 3;
                self.code = u16::from_be_bytes([high, low]) >> 4;
                if kind == 3 {
                    self.stored_code = self.code;
                    self.stored_power_down = self.power_down;
                }
            }
            _ => {} // reserved
        }
    }

    /// Answers a read: status and output register, then what is stored. Storing takes no time here.
    pub fn read(&self, into: &mut [u8]) {
        let [high, low] = (self.code << 4).to_be_bytes();
        let [stored_high, stored_low] = self.stored_code.to_be_bytes();
        // Ready, powered up, power-down bits.
        let status = 0xC0 | self.power_down << 1;
        fill(into, &[status, high, low, self.stored_power_down << 5 | stored_high, stored_low]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_chip_is_at_half_scale() {
        assert_eq!(SetPoint::default().output(), 0.5);
    }

    #[test]
    fn a_fast_write_sets_the_output_and_power_down_pulls_it_to_zero() {
        let mut chip = SetPoint::default();
        chip.write(&[0x0F, 0xFF]);
        assert_eq!(chip.output(), 4_095.0 / 4_096.0);
        chip.write(&[0x01, 0x00, 0x02, 0x34]);
        assert_eq!(chip.output(), f64::from(0x234) / 4_096.0);
        chip.write(&[0x10 | 0x02, 0x34]);
        assert_eq!(chip.output(), 0.0);
    }

    #[test]
    fn only_a_stored_value_comes_back_after_power_up() {
        let mut chip = SetPoint::default();
        chip.write(&[0x40, 0x12, 0x30]);
        let mut bytes = [0; 5];
        chip.read(&mut bytes);
        assert_eq!(bytes, [0xC0, 0x12, 0x30, 0x08, 0x00]);
        chip.power_up();
        assert_eq!(chip.output(), 0.5);
        chip.write(&[0x60, 0x00, 0x00]);
        chip.power_up();
        assert_eq!(chip.output(), 0.0);
    }
}
