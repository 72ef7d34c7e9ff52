//! Scatter of the voltage's samples, told by second differences, which are blind to slow change.

use super::measurement::{MEDIAN_SIZE, Measurement};
use super::median::median;
use crate::segment::Segment;
use crate::si::Volts;
use std::ops::Range;

/// Standard deviation of the second difference of independent samples, in standard deviations of one.
pub(super) const SECOND_DIFFERENCE: f64 = 2.449_5;
/// About so many places, spread over the trace, give the noise: to 4 %.
const NOISE_PLACES: usize = 1000;
/// About so many places give the noise of one stretch, to 20 %.
const LOCAL_PLACES: usize = 32;
/// Neighbouring rows whose distances differ by less than this share give the noise.
const EVEN_SHARE: f64 = 0.01;
/// Rows on either side of a few that tell whether it is noisier there than usual: by this factor (judged).
const ROWS_AROUND: usize = 16;
const NOISIER: f64 = 3.0;

impl Measurement<'_> {
    /// Returns the scatter of one voltage sample.
    pub(super) fn noise(&self) -> Volts {
        // Odd, so that no hum or pulse pattern of the rows keeps step with it.
        let every = (self.trace.points.len() / NOISE_PLACES) | 1;
        let mut sizes = Vec::with_capacity(2 * NOISE_PLACES);
        for segment in &self.segments {
            self.second_differences(segment.first + 1..segment.last, every, &mut sizes);
        }
        deviation_of(sizes)
    }

    /// Returns the scatter of one voltage sample of a range.
    pub(super) fn noise_of(&self, range: Range<usize>) -> Volts {
        let mut sizes = Vec::with_capacity(2 * LOCAL_PLACES);
        self.second_differences(range.clone(), (range.len() / LOCAL_PLACES) | 1, &mut sizes);
        deviation_of(sizes)
    }

    /// Gathers the sizes of second differences, which are blind to slow change, at every so many rows of a range.
    fn second_differences(&self, range: Range<usize>, every: usize, sizes: &mut Vec<f64>) {
        let mut rows = self.trace.slice(range);
        while let [a, b, c, ..] = rows {
            let (early, late) = ((b.time - a.time).0, (c.time - b.time).0);
            if early > 0.0 && (late - early).abs() < EVEN_SHARE * early {
                sizes.push((a.voltage - b.voltage * 2.0 + c.voltage).0.abs());
            }
            rows = rows.get(every..).unwrap_or(&[]);
        }
    }

    /// Returns the noise of the voltage in the rows around a few, where they are much noisier than usual.
    pub(super) fn noise_around(&self, few: &Range<usize>) -> Volts {
        let holds = |segment: &&Segment| (segment.first..=segment.last).contains(&few.start);
        let Some(segment) = self.segments.iter().find(holds) else { return self.voltage_noise };
        let first = few.start.saturating_sub(ROWS_AROUND).max(segment.first);
        let mut sizes = Vec::new();
        self.second_differences(first..(few.end + ROWS_AROUND).min(segment.last + 1), 1, &mut sizes);
        let around = deviation_of(sizes);
        if around.0 > NOISIER * self.voltage_noise.0 { around } else { self.voltage_noise }
    }
}

/// Returns the standard deviation of one sample from the sizes of second differences.
fn deviation_of(second_differences: Vec<f64>) -> Volts {
    Volts(median(second_differences) / MEDIAN_SIZE / SECOND_DIFFERENCE)
}
