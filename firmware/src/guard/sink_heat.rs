//! The heat that the sink holds: what comes in as current times voltage, less what it loses steadily.
//!
//! Takes time and the newest power, gives microjoules. The loss and the store are design values, see
//! [`limits::SINK_LOSS_UW`] and [`limits::SINK_STORE`].

use celltriage_protocol::limits;
use celltriage_protocol::units::{MicroAmps, MicroJoules, MicroVolts, Micros};

/// Shorter spans are put together: rounding whole microjoules down would lose up to 1 W in spans of 1 us.
const SHORTEST: Micros = Micros::from_millis(1);

/// Heat held by the sink above what it can keep for good.
#[derive(Clone, Copy, Debug, Default)]
pub struct SinkHeat {
    held: MicroJoules,
    at: Micros,
}

impl SinkHeat {
    /// Lets time pass with the newest voltage and current; a current that charges the cell heats no sink.
    pub fn pass(&mut self, now: Micros, voltage: Option<MicroVolts>, current: Option<MicroAmps>) {
        let span = now.saturating_sub(self.at);
        if span < SHORTEST {
            return;
        }
        self.at = now;
        let gained = match (voltage, current) {
            (Some(voltage), Some(current)) if current > MicroAmps::ZERO => current.energy_in(voltage, span),
            _ => MicroJoules::ZERO,
        };
        let lost = MicroJoules::new(span.of_rate(limits::SINK_LOSS_UW));
        self.held = self.held.saturating_add(gained).saturating_sub(lost).max(MicroJoules::ZERO);
    }

    /// Returns the heat held.
    pub const fn held(&self) -> MicroJoules {
        self.held
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn load(heat: &mut SinkHeat, milliamps: i32, from: u64, seconds: u64) {
        for millisecond in 1..=seconds * 1_000 {
            let now = Micros::from_millis(from * 1_000 + millisecond);
            heat.pass(now, Some(MicroVolts::new(4_000_000)), Some(MicroAmps::from_milliamps(milliamps)));
        }
    }

    #[test]
    fn twenty_watts_less_eight_fill_the_store_in_five_seconds() {
        let mut heat = SinkHeat::default();
        load(&mut heat, 5_000, 0, 5);
        assert_eq!(heat.held(), limits::SINK_STORE);
        load(&mut heat, 0, 5, 4);
        assert_eq!(heat.held().get(), 60_000_000 - 32_000_000);
        load(&mut heat, 0, 9, 4);
        assert_eq!(heat.held(), MicroJoules::ZERO);
    }

    #[test]
    fn a_current_that_charges_the_cell_takes_no_heat_out_of_the_sink() {
        let mut heat = SinkHeat::default();
        load(&mut heat, 5_000, 0, 5);
        // Only what the sink loses by itself, 8 W for 2 s.
        load(&mut heat, -5_000, 5, 2);
        assert_eq!(heat.held().get(), 60_000_000 - 16_000_000);
    }

    #[test]
    fn the_shortest_span_counts_at_once() {
        let mut heat = SinkHeat::default();
        let (voltage, current) = (MicroVolts::from_millivolts(4_000), MicroAmps::from_milliamps(5_000));
        heat.pass(SHORTEST, Some(voltage), Some(current));
        // 20 W less 8 W for a millisecond.
        assert_eq!(heat.held().get(), 12_000);
    }

    #[test]
    fn passes_however_frequent_lose_no_heat() {
        let mut heat = SinkHeat::default();
        for microsecond in 1..=1_000_000 {
            let (voltage, current) = (MicroVolts::new(3_999_999), MicroAmps::new(4_999_999));
            heat.pass(Micros::new(microsecond), Some(voltage), Some(current));
        }
        // 20 W less 8 W for a second, less at most 1 uJ in each of 1,000 spans and what the odd figures lack.
        assert!((11_998_900..=12_000_000).contains(&heat.held().get()), "{}", heat.held());
    }

    #[test]
    fn the_largest_steady_current_never_fills_it() {
        let mut heat = SinkHeat::default();
        let current = limits::LARGEST_STEADY;
        let voltage = limits::HIGHEST_CHARGE_LIMIT;
        for hour in 1..20 {
            heat.pass(Micros::from_secs(3_600 * hour), Some(voltage), Some(current));
        }
        assert_eq!(heat.held(), MicroJoules::ZERO);
    }
}
