//! How fast the cell warms: the lowest temperature of the last 30 s against the newest.
//!
//! Takes temperatures with their times, gives a rate in thousandths of a degree per minute. A span that is not full
//! yet needs no special case: what the cell has warmed since its beginning is at most what it would have warmed.

use celltriage_protocol::limits::WARMING_SPAN;
use celltriage_protocol::units::{Micros, MilliCelsius};
use heapless::Deque;

/// Each slot keeps the lowest temperature of one second.
const SLOT: Micros = Micros::from_secs(1);
const SLOTS: usize = (WARMING_SPAN.get() / SLOT.get()) as usize + 2;
/// What turns warming within the span into warming per minute.
const SPANS_PER_MINUTE: i32 = (60_000_000 / WARMING_SPAN.get()) as i32;

/// The recent past of the cell's temperature.
#[derive(Clone, Debug, Default)]
pub struct Warming {
    slots: Deque<(Micros, MilliCelsius), SLOTS>,
    newest: Option<(MilliCelsius, Micros)>,
    per_minute: MilliCelsius,
}

impl Warming {
    /// Forgets everything.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// Takes the newest temperature and when it was measured; the same one again changes nothing.
    pub fn take(&mut self, reading: Option<(MilliCelsius, Micros)>) {
        let Some((temperature, at)) = reading else { return };
        if self.newest == reading {
            return;
        }
        self.newest = reading;
        while self.slots.front().is_some_and(|(start, _)| at.saturating_sub(*start) > WARMING_SPAN) {
            self.slots.pop_front();
        }
        match self.slots.back_mut() {
            Some((start, lowest)) if at.saturating_sub(*start) < SLOT => *lowest = temperature.min(*lowest),
            _ => {
                if self.slots.is_full() {
                    self.slots.pop_front();
                }
                // There is room: a slot was just made free where there was none.
                let _ = self.slots.push_back((at, temperature));
            }
        }
        let lowest = self.slots.iter().map(|(_, lowest)| *lowest).min().unwrap_or(temperature);
        let within_span = temperature.saturating_sub(lowest).get();
        self.per_minute = MilliCelsius::new(within_span.saturating_mul(SPANS_PER_MINUTE));
    }

    /// Returns the warming per minute over the last span, never negative.
    pub const fn per_minute(&self) -> MilliCelsius {
        self.per_minute
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(seconds: u64, millidegrees_a_second: i32) -> MilliCelsius {
        let mut warming = Warming::default();
        for second in 0..=seconds {
            let temperature = MilliCelsius::new(20_000 + millidegrees_a_second * second as i32);
            warming.take(Some((temperature, Micros::from_secs(second))));
        }
        warming.per_minute()
    }

    #[test]
    fn a_steady_warming_is_told_per_minute_however_long_it_lasts() {
        // 20 mK a second are 1.2 K a minute; a slot more or less is 1/30 of that.
        assert_eq!(after(30, 20).get(), 1_200);
        assert_eq!(after(600, 20).get(), 1_200);
        // A reading a whole second after the beginning of a slot begins the next one: none is forgotten too early.
        assert_eq!(after(31, 20).get(), 1_200);
    }

    #[test]
    fn a_short_past_is_not_stretched_and_cooling_is_no_warming() {
        assert_eq!(after(3, 20).get(), 120);
        assert_eq!(after(100, -20).get(), 0);
    }

    #[test]
    fn many_readings_a_second_do_not_shorten_the_past() {
        let mut warming = Warming::default();
        for tick in 0..=300_000u64 {
            let temperature = MilliCelsius::new(20_000 + (tick / 5_000) as i32 * 100);
            warming.take(Some((temperature, Micros::from_millis(tick))));
        }
        // 100 mK every 5 s: 600 mK in 30 s.
        assert_eq!(warming.per_minute().get(), 1_200);
    }
}
