//! How often the journal may be written, so that no host and no fault can wear the flash out.
//!
//! A burst of [`BURST`] entries, and one more each [`EACH`]. With an entry a minute for ever, each of the two sectors is
//! erased about 4,400 times in a year; flash of the class bears 100,000 (typical of the class: Winbond W25Q data sheets, "min.
//! 100K program-erase cycles per sector", from memory), which is 22 years of nothing but trips.

use celltriage_protocol::units::Micros;

/// Entries at once.
pub const BURST: u32 = 16;
/// Time in which one more is earned.
pub const EACH: Micros = Micros::from_secs(60);

/// What is left of it.
#[derive(Clone, Copy, Debug)]
pub struct Allowance {
    left: u32,
    /// Up to when what was earned is counted.
    counted: Micros,
}

impl Default for Allowance {
    fn default() -> Self {
        Self { left: BURST, counted: Micros::ZERO }
    }
}

impl Allowance {
    /// Takes one, if there is one.
    pub fn take(&mut self, now: Micros) -> bool {
        let earned = now.saturating_sub(self.counted).get() / EACH.get();
        if earned > 0 {
            self.left = self.left.saturating_add(u32::try_from(earned).unwrap_or(u32::MAX)).min(BURST);
            self.counted = self.counted.saturating_add(Micros::new(earned.saturating_mul(EACH.get())));
        }
        let Some(left) = self.left.checked_sub(1) else { return false };
        self.left = left;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_taken_and_then_one_a_minute() {
        let mut allowance = Allowance::default();
        let taken = (0..24 * 3_600).filter(|second| allowance.take(Micros::from_secs(*second))).count();
        // The burst, and one for each minute of the day.
        assert!((1_440..=1_440 + BURST as usize).contains(&taken), "{taken}");
        let mut allowance = Allowance::default();
        let at_once = (0..100).filter(|_| allowance.take(Micros::ZERO)).count();
        assert_eq!(at_once, BURST as usize);
        assert!(!allowance.take(Micros::from_secs(59)) && allowance.take(Micros::from_secs(60)));
        // Rest earns no more than a burst.
        let much_later = (0..100).filter(|_| allowance.take(Micros::from_secs(1_000_000))).count();
        assert_eq!(much_later, BURST as usize);
    }
}
