//! A workshop whose last entry is of Friday evening, and clocks that say something else.

use super::Shop;

/// When the last entry was written.
pub const FRIDAY: &str = "2026-11-27T17:40:00Z";
/// More than a day after; a day that a calendar shows.
pub const MONDAY: &str = "2026-11-30T08:02:00Z";
/// A clock set back by a year.
pub const YEAR_BACK: &str = "2025-11-28T08:00:00Z";

impl Shop {
    /// Two swollen cells, a container for them, and a check standard.
    ///
    /// # Panics
    /// If one of them is refused.
    pub fn on_friday() -> Self {
        let shop = Self::new();
        for typed in [
            "assess --id A --simulated sound --no-signs --sign swollen=yes",
            "assess --id B --simulated sound --no-signs --sign swollen=yes",
            "container open Q-1 --kind quarantine --place US --stands yard --by R.Lindqvist",
            "fixture check-standard define R1 --resistance-mohm 50 --limit-percent 0.1 --certificate c7 --by R.Lindqvist",
        ] {
            let done = shop.unstated(FRIDAY, typed, None);
            assert_eq!(done.code, 0, "{typed}: {}", done.err);
        }
        shop
    }
}
