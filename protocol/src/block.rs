//! Many samples in few bytes: voltage and current as differences, times implied.
//!
//! A block holds samples of one step at equal distances in time. Each sample is two variable-length zig-zag integers
//! (difference of voltage and of current against the sample before it; the first against zero), so that quiet
//! stretches cost two to four bytes a sample. A missing sample or a change of step closes the block; the next one
//! starts at its own time, so gaps show.

use crate::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius, Reading};
use heapless::Vec;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

/// Room for the packed samples of one block, in bytes.
pub const PACKED: usize = 320;
/// Most samples in one block.
pub const MOST_SAMPLES: u8 = 96;
/// Most bytes one packed sample can take: two 32-bit numbers of five bytes each.
const LARGEST_SAMPLE: usize = 10;

/// One sample as the fixture measured it, corrected by its calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sample {
    /// When it was taken, or the middle of the span it averages.
    pub at: Micros,
    /// Voltage at the sense leads.
    pub voltage: MicroVolts,
    /// Current, positive discharging.
    pub current: MicroAmps,
}

/// Samples of one step at equal distances in time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, MaxSize)]
pub struct Block {
    /// The step they belong to; 255 = taken outside a plan.
    pub step: u8,
    /// Time of the first sample.
    pub start: Micros,
    /// Distance between samples.
    pub period_us: u32,
    /// How many samples are packed.
    pub count: u8,
    /// Newest cell temperature when the block was closed.
    pub cell_temperature: Reading<MilliCelsius>,
    /// Newest air temperature when the block was closed.
    pub ambient_temperature: Reading<MilliCelsius>,
    /// Charge counted since the plan started, when the block was closed.
    pub charge: Reading<MicroCoulombs>,
    /// The packed samples.
    packed: Vec<u8, PACKED>,
}

impl Block {
    /// Returns an empty block; readings that ride along are missing until they are set.
    pub const fn new(step: u8, start: Micros, period_us: u32) -> Self {
        Self {
            step,
            start,
            period_us,
            count: 0,
            cell_temperature: Err(crate::units::NoData::NotYet),
            ambient_temperature: Err(crate::units::NoData::NotYet),
            charge: Err(crate::units::NoData::NotYet),
            packed: Vec::new(),
        }
    }

    /// Returns when the sample after the last one is due.
    pub const fn next_at(&self) -> Micros {
        self.start.saturating_add(Micros::new(self.count as u64 * self.period_us as u64))
    }

    /// Returns whether another sample is sure to fit.
    pub fn has_room(&self) -> bool {
        self.count < MOST_SAMPLES && self.packed.len() + LARGEST_SAMPLE <= PACKED
    }

    /// Returns how many bytes the samples take.
    pub fn packed_len(&self) -> usize {
        self.packed.len()
    }

    /// Unpacks the samples; ends early where the bytes are not samples.
    pub fn samples(&self) -> Samples<'_> {
        Samples { block: self, rest: &self.packed, index: 0, voltage: 0, current: 0 }
    }

    /// Returns whether exactly `count` samples are packed and nothing else.
    pub fn is_consistent(&self) -> bool {
        let mut samples = self.samples();
        let mut count = 0u32;
        while samples.next().is_some() {
            count += 1;
        }
        count == u32::from(self.count) && samples.rest.is_empty()
    }
}

/// Fills a block; keeps the sample before, which the next one is told against.
#[derive(Clone, Debug)]
pub struct BlockWriter {
    block: Block,
    voltage: i32,
    current: i32,
}

impl BlockWriter {
    /// Starts a block.
    pub const fn new(step: u8, start: Micros, period_us: u32) -> Self {
        Self { block: Block::new(step, start, period_us), voltage: 0, current: 0 }
    }

    /// Returns the block as filled so far.
    pub const fn block(&self) -> &Block {
        &self.block
    }

    /// Adds a sample.
    ///
    /// # Errors
    /// Gives the sample's values back where the block is full; nothing is changed then.
    pub fn push(&mut self, voltage: MicroVolts, current: MicroAmps) -> Result<(), (MicroVolts, MicroAmps)> {
        if !self.block.has_room() {
            return Err((voltage, current));
        }
        let step = (voltage.get().wrapping_sub(self.voltage), current.get().wrapping_sub(self.current));
        let mut bytes = [0u8; LARGEST_SAMPLE];
        match postcard::to_slice(&step, &mut bytes) {
            Ok(packed) if self.block.packed.extend_from_slice(packed).is_ok() => {}
            _ => return Err((voltage, current)),
        }
        self.voltage = voltage.get();
        self.current = current.get();
        self.block.count += 1;
        Ok(())
    }

    /// Ends the block with the readings that ride along.
    pub fn finish(
        mut self,
        cell: Reading<MilliCelsius>,
        ambient: Reading<MilliCelsius>,
        charge: Reading<MicroCoulombs>,
    ) -> Block {
        self.block.cell_temperature = cell;
        self.block.ambient_temperature = ambient;
        self.block.charge = charge;
        self.block
    }
}

/// Unpacks the samples of a block.
#[derive(Clone, Debug)]
pub struct Samples<'a> {
    block: &'a Block,
    rest: &'a [u8],
    index: u8,
    voltage: i32,
    current: i32,
}

impl Iterator for Samples<'_> {
    type Item = Sample;

    fn next(&mut self) -> Option<Sample> {
        if self.index >= self.block.count {
            return None;
        }
        let ((voltage, current), rest) = postcard::take_from_bytes::<(i32, i32)>(self.rest).ok()?;
        self.rest = rest;
        self.voltage = self.voltage.wrapping_add(voltage);
        self.current = self.current.wrapping_add(current);
        let offset = u64::from(self.index) * u64::from(self.block.period_us);
        self.index += 1;
        Some(Sample {
            at: self.block.start.saturating_add(Micros::new(offset)),
            voltage: MicroVolts::new(self.voltage),
            current: MicroAmps::new(self.current),
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_goes_in_comes_out(values in proptest::collection::vec((any::<i32>(), any::<i32>()), 0..120)) {
            let mut writer = BlockWriter::new(3, Micros::new(7), 1_000);
            let mut kept = std::vec::Vec::new();
            for (voltage, current) in values {
                if writer.push(MicroVolts::new(voltage), MicroAmps::new(current)).is_ok() {
                    kept.push((voltage, current));
                }
            }
            let block = writer.finish(Ok(MilliCelsius::new(1)), Ok(MilliCelsius::new(2)), Ok(MicroCoulombs::new(3)));
            prop_assert!(block.is_consistent());
            let out: std::vec::Vec<_> = block.samples().map(|s| (s.voltage.get(), s.current.get())).collect();
            prop_assert_eq!(out, kept);
        }
    }

    #[test]
    fn times_follow_from_start_and_period() {
        let mut writer = BlockWriter::new(0, Micros::new(500), 250);
        for _ in 0..3 {
            writer.push(MicroVolts::ZERO, MicroAmps::ZERO).unwrap();
        }
        let times: std::vec::Vec<_> = writer.block().samples().map(|s| s.at.get()).collect();
        assert_eq!(times, [500, 750, 1000]);
        assert_eq!(writer.block().next_at(), Micros::new(1250));
    }

    #[test]
    fn a_full_block_takes_no_more_and_keeps_what_it_has() {
        let mut writer = BlockWriter::new(0, Micros::ZERO, 1);
        for _ in 0..MOST_SAMPLES {
            writer.push(MicroVolts::ZERO, MicroAmps::ZERO).unwrap();
        }
        assert!(writer.push(MicroVolts::ZERO, MicroAmps::ZERO).is_err());
        assert_eq!(writer.block().count, MOST_SAMPLES);
        assert!(writer.block().is_consistent());
    }
}
