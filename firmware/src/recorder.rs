//! Samples to blocks: averages, packs, and closes a block before it gets old.
//!
//! Takes every sample of a step, gives [`Block`]s. Means are rounded to the nearest unit and told with the time in
//! the middle of their span. A block is closed when it is full, when the next sample does not come where it is
//! expected, and before it would be older than [`REPORT_AT_LEAST`]; whoever changes the step or misses a sample calls
//! [`Recorder::flush`]. Samples left over there, too few for a whole mean, are told as a mean of their own.

use celltriage_protocol::block::{Block, BlockWriter, Sample};
use celltriage_protocol::limits::REPORT_AT_LEAST;
use celltriage_protocol::units::{
    MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius, NoData, Reading,
};

/// Readings that ride along with a block.
#[derive(Clone, Copy, Debug)]
pub struct Riders {
    /// Cell temperature.
    pub cell: Reading<MilliCelsius>,
    /// Air temperature.
    pub ambient: Reading<MilliCelsius>,
    /// Charge counted since the plan started.
    pub charge: Reading<MicroCoulombs>,
}

impl Default for Riders {
    fn default() -> Self {
        Self { cell: Err(NoData::NotYet), ambient: Err(NoData::NotYet), charge: Err(NoData::NotYet) }
    }
}

/// The samples of one mean.
#[derive(Clone, Copy, Debug, Default)]
struct Group {
    count: u16,
    first: Micros,
    last: Micros,
    voltage: i64,
    current: i64,
}

impl Group {
    fn add(&mut self, sample: Sample) {
        if self.count == 0 {
            self.first = sample.at;
        }
        self.last = sample.at;
        self.count = self.count.saturating_add(1);
        // At most 65,535 values of 32 bits: 48 bits.
        self.voltage = self.voltage.saturating_add(i64::from(sample.voltage.get()));
        self.current = self.current.saturating_add(i64::from(sample.current.get()));
    }

    fn mean(self) -> Option<Sample> {
        if self.count == 0 {
            return None;
        }
        let half_span = self.last.saturating_sub(self.first).get() / 2;
        Some(Sample {
            at: self.first.saturating_add(Micros::new(half_span)),
            voltage: MicroVolts::new(divided(self.voltage, self.count)),
            current: MicroAmps::new(divided(self.current, self.count)),
        })
    }
}

/// Fills blocks with the samples of one step after the other.
#[derive(Clone, Debug, Default)]
pub struct Recorder {
    step: u8,
    period_us: u32,
    report_every: u16,
    group: Group,
    writer: Option<BlockWriter>,
    /// Time of the first sample in the block or in the group before it has a block.
    opened: Option<Micros>,
}

impl Recorder {
    /// Begins a step; the one before must have been flushed.
    pub fn begin(&mut self, step: u8, period_us: u32, report_every: u16) {
        *self = Self { step, period_us, report_every, ..Self::default() };
    }

    /// Takes a sample; gives blocks that are closed by it to `out`, oldest first.
    pub fn push(&mut self, sample: Sample, riders: &Riders, out: &mut impl FnMut(Block)) {
        let expected = self.group.last.saturating_add(Micros::new(u64::from(self.period_us)));
        if self.group.count > 0 && sample.at != expected {
            self.flush(riders, out);
        }
        self.opened.get_or_insert(sample.at);
        self.group.add(sample);
        if self.group.count < self.report_every {
            return;
        }
        self.close_group(riders, out);
        let age = self.opened.map_or(Micros::ZERO, |opened| sample.at.saturating_sub(opened));
        if age.saturating_add(self.spacing()) >= REPORT_AT_LEAST {
            self.close_block(riders, out);
        }
    }

    /// Closes what is open and gives it to `out`.
    pub fn flush(&mut self, riders: &Riders, out: &mut impl FnMut(Block)) {
        self.close_group(riders, out);
        self.close_block(riders, out);
    }

    fn close_group(&mut self, riders: &Riders, out: &mut impl FnMut(Block)) {
        let group = core::mem::take(&mut self.group);
        let Some(mean) = group.mean() else { return };
        let in_place = self.writer.as_ref().is_some_and(|writer| {
            writer.block().next_at() == mean.at
                && writer.block().has_room()
                && group.count == self.report_every
        });
        if !in_place {
            self.close_block(riders, out);
            self.opened = Some(group.first);
        }
        let spacing = u32::try_from(self.spacing().get()).unwrap_or(u32::MAX);
        let writer = self.writer.get_or_insert_with(|| BlockWriter::new(self.step, mean.at, spacing));
        // A block with room takes it, and a new one has room.
        let _ = writer.push(mean.voltage, mean.current);
    }

    fn close_block(&mut self, riders: &Riders, out: &mut impl FnMut(Block)) {
        self.opened = None;
        if let Some(writer) = self.writer.take() {
            out(writer.finish(riders.cell, riders.ambient, riders.charge));
        }
    }

    /// Distance between the means.
    fn spacing(&self) -> Micros {
        Micros::new(u64::from(self.period_us).saturating_mul(u64::from(self.report_every)))
    }
}

/// Divides and rounds to the nearest; a mean of 32-bit values fits 32 bits.
fn divided(sum: i64, count: u16) -> i32 {
    let count = i64::from(count.max(1));
    let mean = sum.saturating_add(count / 2).div_euclid(count);
    i32::try_from(mean).unwrap_or(if mean < 0 { i32::MIN } else { i32::MAX })
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    fn sample(at: u64, voltage: i32) -> Sample {
        Sample { at: Micros::new(at), voltage: MicroVolts::new(voltage), current: MicroAmps::new(-voltage) }
    }

    fn recorded(period: u32, every: u16, samples: impl IntoIterator<Item = Sample>) -> Vec<Block> {
        let mut blocks = Vec::new();
        let mut recorder = Recorder::default();
        recorder.begin(4, period, every);
        for sample in samples {
            recorder.push(sample, &Riders::default(), &mut |block| blocks.push(block));
        }
        recorder.flush(&Riders::default(), &mut |block| blocks.push(block));
        blocks
    }

    #[test]
    fn a_gap_closes_the_block_and_the_next_starts_at_its_own_time() {
        let blocks = recorded(1_000, 1, [1_000, 2_000, 4_000, 5_000, 5_300].map(|at| sample(at, at as i32)));
        let shape: Vec<_> = blocks.iter().map(|block| (block.start.get(), block.count)).collect();
        assert_eq!(shape, [(1_000, 2), (4_000, 2), (5_300, 1)]);
        assert!(blocks.iter().all(|block| block.step == 4 && block.period_us == 1_000));
    }

    #[test]
    fn means_stand_in_the_middle_of_their_span_and_left_over_samples_are_told() {
        let blocks = recorded(1_000, 3, (1..=8).map(|k| sample(k * 1_000, k as i32 * 10)));
        let means: Vec<_> =
            blocks.iter().flat_map(|block| block.samples().map(|s| (s.at.get(), s.voltage.get()))).collect();
        assert_eq!(means, [(2_000, 20), (5_000, 50), (7_500, 75)]);
        assert_eq!(blocks.len(), 2, "the left-over mean has a block of its own");
    }

    #[test]
    fn means_are_rounded_to_the_nearest_on_both_sides_of_zero() {
        for (sum, count, mean) in
            [(7, 2, 4), (-7, 2, -3), (-8, 3, -3), (8, 3, 3), (i64::from(i32::MIN), 1, i32::MIN)]
        {
            assert_eq!(divided(sum, count), mean);
        }
    }

    proptest! {
        #[test]
        fn nothing_is_lost_and_no_block_gets_old(
            period in 1_000..200_000u32,
            every in 1..20u16,
            count in 1..400u64,
            gap in 0..400u64,
        ) {
            prop_assume!(u64::from(period) * u64::from(every) <= REPORT_AT_LEAST.get());
            let at = |k: u64| (k + u64::from(k >= gap)) * u64::from(period);
            let mut told = Vec::new();
            let mut recorder = Recorder::default();
            recorder.begin(0, period, every);
            let mut last_told = Micros::new(at(0));
            for k in 0..count {
                let mut closed = Vec::new();
                recorder.push(sample(at(k), 7), &Riders::default(), &mut |block| closed.push(block));
                if !closed.is_empty() {
                    last_told = Micros::new(at(k));
                }
                told.extend(closed);
                prop_assert!(at(k) - last_told.get() <= REPORT_AT_LEAST.get() + u64::from(period));
            }
            recorder.flush(&Riders::default(), &mut |block| told.push(block));
            let before_gap = gap.min(count);
            let means = before_gap.div_ceil(u64::from(every)) + (count - before_gap).div_ceil(u64::from(every));
            prop_assert_eq!(told.iter().map(|block| u64::from(block.count)).sum::<u64>(), means);
            prop_assert!(told.iter().all(Block::is_consistent));
            prop_assert!(told.iter().flat_map(Block::samples).all(|s| s.voltage.get() == 7));
        }
    }
}
