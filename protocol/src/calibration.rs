//! Corrections of one fixture's measuring channels, in integers.
//!
//! A corrected value is `raw + raw x gain_ppm / 1e6 + offset`, in the unit of the channel.

use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Largest gain correction that is believed: 3 %. A channel further off is broken, not uncalibrated
/// (common practice: a 1 % shunt, a 0.5 % divider and a margin of two).
pub const MAX_GAIN_PPM: i32 = 30_000;

/// Gain and offset of one channel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Channel {
    /// Correction of the gain in millionths of the reading.
    pub gain_ppm: i32,
    /// Added after the gain, in the channel's unit (uV, uA or mdegC).
    pub offset: i32,
}

impl Channel {
    /// Applies the correction, saturating at the ends of the range.
    pub const fn apply(self, raw: i32) -> i32 {
        let corrected = raw as i64 + raw as i64 * self.gain_ppm as i64 / 1_000_000 + self.offset as i64;
        if corrected > i32::MAX as i64 {
            i32::MAX
        } else if corrected < i32::MIN as i64 {
            i32::MIN
        } else {
            corrected as i32
        }
    }
}

/// All corrections of a fixture. The default corrects nothing and says so by its number 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Calibration {
    /// Counts up with each calibration of this fixture; 0 = never calibrated.
    pub number: u32,
    /// Voltage at the sense leads, offset in microvolts.
    pub voltage: Channel,
    /// Current through the shunt, offset in microamperes.
    pub current: Channel,
    /// Thermometer on the cell, offset in thousandths of a degree.
    pub cell_temperature: Channel,
    /// Thermometer in the room's air, offset in thousandths of a degree.
    pub ambient_temperature: Channel,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_channel_corrects_gain_then_offset() {
        let channel = Channel { gain_ppm: -5_000, offset: 120 };
        assert_eq!(channel.apply(4_000_000), 4_000_000 - 20_000 + 120);
    }

    #[test]
    fn a_correction_past_the_range_stays_at_its_end() {
        assert_eq!(Channel { gain_ppm: 30_000, offset: 0 }.apply(i32::MAX), i32::MAX);
        assert_eq!(Channel { gain_ppm: 30_000, offset: 0 }.apply(i32::MIN), i32::MIN);
    }
}
