//! When the power monitor converts what, and what it sees while it does.
//!
//! Takes the settings register and spans of constant mean voltage and current; gives the mean of each cycle. One
//! cycle converts shunt, bus and die temperature in turn, as often as it averages. Without averaging shunt and bus are
//! looked at one after the other, so a step of the current can fall between them; with averaging both are looked at
//! over the whole cycle in small slices, which is taken as the mean of the cycle.
//!
//! Results that nobody reads are not worked out: [`Conversion::next_stop`] skips to the last cycle before the time of
//! interest. The charge is counted anyway.

/// Conversion times by code, in nanoseconds. PX4's header has 4.17 ms for the last one; the data sheets of the INA228 and of
/// the INA238 have 4.12 ms, each in two places.
const TIMES_NS: [u64; 8] = [50_000, 84_000, 150_000, 280_000, 540_000, 1_052_000, 2_074_000, 4_120_000];
/// Averages by code.
const AVERAGES: [u64; 8] = [1, 4, 16, 64, 128, 256, 512, 1_024];

/// Settings register: where the codes of the channels' times stand, and the bits that turn them on.
const BUS_AT: (u16, u16) = (12, 9);
const SHUNT_AT: (u16, u16) = (13, 6);
const TEMPERATURE_AT: (u16, u16) = (14, 3);
const CONTINUOUS: u16 = 1 << 15;

/// What the settings register says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Time of one shunt conversion; 0 = not converted.
    pub shunt_ns: u64,
    /// Time of one bus conversion; 0 = not converted.
    pub bus_ns: u64,
    /// Time of one die temperature conversion; 0 = not converted.
    pub temperature_ns: u64,
    /// Conversions averaged into a result.
    pub averages: u64,
    /// Whether the next cycle follows at once.
    pub continuous: bool,
}

impl Settings {
    /// Reads the settings register (ADC_CONFIG).
    pub fn from_register(register: u16) -> Self {
        let field = |shift: u16| usize::from(register >> shift & 7);
        let time = |(bit, shift): (u16, u16)| match register >> bit & 1 {
            0 => 0,
            _ => TIMES_NS.get(field(shift)).copied().unwrap_or(0),
        };
        Self {
            bus_ns: time(BUS_AT),
            shunt_ns: time(SHUNT_AT),
            temperature_ns: time(TEMPERATURE_AT),
            averages: AVERAGES.get(field(0)).copied().unwrap_or(1),
            continuous: register & CONTINUOUS != 0,
        }
    }

    /// Returns how long a cycle takes; 0 = nothing is converted.
    pub const fn cycle_ns(&self) -> u64 {
        (self.shunt_ns + self.bus_ns + self.temperature_ns) * self.averages
    }
}

/// A mean that is being formed.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    total: f64,
    seconds: f64,
}

impl Sum {
    fn add(&mut self, value: f64, seconds: f64) {
        self.total += value * seconds;
        self.seconds += seconds;
    }

    fn mean(&self) -> Option<f64> {
        (self.seconds > 0.0).then(|| self.total / self.seconds)
    }
}

/// What the end of one or more cycles brings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finished {
    /// Mean voltage at the bus pin in volts, if it was converted.
    pub bus_v: Option<f64>,
    /// Mean current through the shunt in amperes, if it was converted.
    pub shunt_a: Option<f64>,
    /// Charge through the shunt since the last end of a cycle, in coulombs.
    pub charge_c: f64,
    /// Cycles that have ended; the means are those of the last one, and missing where more than one was skipped.
    pub cycles: u64,
}

/// The cycle under way.
#[derive(Clone, Copy, Debug)]
pub struct Conversion {
    settings: Settings,
    start_ns: u64,
    running: bool,
    bus: Sum,
    shunt: Sum,
    charge_c: f64,
}

impl Conversion {
    /// Starts converting.
    pub fn start(settings: Settings, now_ns: u64) -> Self {
        let running = settings.cycle_ns() > 0;
        Self {
            settings,
            start_ns: now_ns,
            running,
            bus: Sum::default(),
            shunt: Sum::default(),
            charge_c: 0.0,
        }
    }

    /// Returns the settings in force.
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Returns when the cycle under way ends, or the end of time where none is.
    pub const fn next_result(&self) -> u64 {
        if self.running { self.start_ns + self.settings.cycle_ns() } else { u64::MAX }
    }

    /// Returns the next instant after `now` at which a span must end, if time is about to pass until `until`.
    pub fn next_stop(&self, now_ns: u64, until_ns: u64) -> u64 {
        if !self.running {
            return u64::MAX;
        }
        let cycle = self.settings.cycle_ns();
        let full = until_ns.saturating_sub(self.start_ns) / cycle;
        if self.settings.continuous && full >= 2 {
            return self.start_ns + (full - 1) * cycle;
        }
        let (shunt_end, bus_end) = self.turns();
        [shunt_end, bus_end].into_iter().find(|&stop| stop > now_ns).unwrap_or(self.start_ns + cycle)
    }

    /// Returns when shunt and bus have had their turn in the cycle under way.
    fn turns(&self) -> (u64, u64) {
        if self.settings.averages > 1 {
            return (self.start_ns, self.start_ns);
        }
        let shunt_end = self.start_ns + self.settings.shunt_ns;
        (shunt_end, shunt_end + self.settings.bus_ns)
    }

    /// Takes a span that does not cross a stop; says something where a cycle ends with it.
    pub fn take(&mut self, from_ns: u64, to_ns: u64, bus_v: f64, shunt_a: f64) -> Option<Finished> {
        if !self.running {
            return None;
        }
        let seconds = (to_ns - from_ns) as f64 * 1e-9;
        let (shunt_end, bus_end) = self.turns();
        let all = self.settings.averages > 1;
        if self.settings.shunt_ns > 0 {
            self.charge_c += shunt_a * seconds;
            if all || to_ns <= shunt_end {
                self.shunt.add(shunt_a, seconds);
            }
        }
        if self.settings.bus_ns > 0 && (all || (from_ns >= shunt_end && to_ns <= bus_end)) {
            self.bus.add(bus_v, seconds);
        }
        let cycle = self.settings.cycle_ns();
        let cycles = (to_ns - self.start_ns) / cycle;
        if cycles == 0 {
            return None;
        }
        let known = cycles == 1;
        let finished = Finished {
            bus_v: self.bus.mean().filter(|_| known),
            shunt_a: self.shunt.mean().filter(|_| known),
            charge_c: core::mem::take(&mut self.charge_c),
            cycles,
        };
        self.start_ns += cycles * cycle;
        self.running = self.settings.continuous;
        self.bus = Sum::default();
        self.shunt = Sum::default();
        Some(finished)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Plays a signal into a conversion in spans of at most `most_ns`; returns all that finished.
    fn play(
        conversion: &mut Conversion,
        until_ns: u64,
        most_ns: u64,
        signal: impl Fn(u64) -> (f64, f64),
    ) -> Vec<Finished> {
        let (mut now, mut all) = (0, Vec::new());
        while now < until_ns {
            let to = conversion.next_stop(now, until_ns).min(until_ns).min(now.saturating_add(most_ns));
            let (bus_v, shunt_a) = signal(now);
            all.extend(conversion.take(now, to, bus_v, shunt_a));
            now = to;
        }
        all
    }

    #[test]
    fn settings_are_read_from_their_bits() {
        // Power-on value: everything, 1052 us each, no averaging.
        let settings = Settings::from_register(0xFB68);
        assert_eq!(settings.cycle_ns(), 3 * 1_052_000);
        assert!(settings.continuous);
        // Triggered, bus only, 150 us, 16 averages.
        let settings = Settings::from_register(0x1402);
        assert_eq!((settings.bus_ns, settings.shunt_ns, settings.averages), (150_000, 0, 16));
        assert!(!settings.continuous);
        assert_eq!(Settings::from_register(0x8B68).cycle_ns(), 0);
    }

    #[test]
    fn a_step_between_the_turns_is_seen_by_the_bus_and_not_by_the_shunt() {
        // Continuous shunt and bus, 280 us each; the step comes at 300 us, just after the shunt's turn.
        let mut conversion = Conversion::start(Settings::from_register(0xB6D8), 0);
        let step = |now| if now < 300_000 { (4.0, 0.0) } else { (3.9, 1.0) };
        let finished = play(&mut conversion, 560_000, 20_000, step);
        assert_eq!(finished.len(), 1);
        assert_eq!(finished[0].shunt_a, Some(0.0));
        let bus_v = finished[0].bus_v.unwrap();
        assert!((bus_v - (4.0 * 20.0 + 3.9 * 260.0) / 280.0).abs() < 1e-12, "{bus_v}");
    }

    #[test]
    fn skipped_cycles_lose_no_charge_and_the_last_one_is_there() {
        let mut conversion = Conversion::start(Settings::from_register(0xB6D8), 0);
        let finished = play(&mut conversion, 10_000_000, u64::MAX, |_| (4.0, 2.0));
        let charge: f64 = finished.iter().map(|finished| finished.charge_c).sum();
        let cycles: u64 = finished.iter().map(|finished| finished.cycles).sum();
        assert_eq!(cycles, 10_000_000 / 560_000);
        assert!((charge - 2.0 * cycles as f64 * 560e-6).abs() < 1e-12);
        assert_eq!(finished.last().and_then(|finished| finished.shunt_a), Some(2.0));
    }

    #[test]
    fn a_triggered_cycle_is_one_cycle() {
        let mut conversion = Conversion::start(Settings::from_register(0x36D8), 0);
        assert_eq!(play(&mut conversion, 5_000_000, 100_000, |_| (4.0, 0.0)).len(), 1);
        assert_eq!(conversion.next_result(), u64::MAX);
    }
}
