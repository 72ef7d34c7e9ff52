//! Integer quantities of the wire and of the safety path, with checked arithmetic.
//!
//! **Sign rule, stated here once:** a positive current *discharges* the cell (flows out of its positive terminal
//! into the sink); charge counted with it is positive for charge taken out. Voltages are positive for a cell that
//! is connected the right way round. Integers have no NaN, so no comparison on the safety path can be undecided.

use core::fmt;
use postcard::experimental::max_size::MaxSize;
use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $repr:ty, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, MaxSize)]
        #[serde(transparent)]
        pub struct $name($repr);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0);
            /// Largest value that can be told.
            pub const MAX: Self = Self(<$repr>::MAX);

            /// Takes a number in the unit of the type's name.
            pub const fn new(value: $repr) -> Self {
                Self(value)
            }

            /// Returns the number in the unit of the type's name.
            pub const fn get(self) -> $repr {
                self.0
            }

            /// Adds, or returns `None` if the sum does not fit.
            pub const fn checked_add(self, other: Self) -> Option<Self> {
                match self.0.checked_add(other.0) {
                    Some(value) => Some(Self(value)),
                    None => None,
                }
            }

            /// Subtracts, or returns `None` if the difference does not fit.
            pub const fn checked_sub(self, other: Self) -> Option<Self> {
                match self.0.checked_sub(other.0) {
                    Some(value) => Some(Self(value)),
                    None => None,
                }
            }

            /// Adds and stays at the end of the range where the sum does not fit.
            pub const fn saturating_add(self, other: Self) -> Self {
                Self(self.0.saturating_add(other.0))
            }

            /// Subtracts and stays at the end of the range where the difference does not fit.
            pub const fn saturating_sub(self, other: Self) -> Self {
                Self(self.0.saturating_sub(other.0))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(out, concat!("{} ", $symbol), self.0)
            }
        }
    };
}

quantity!(
    /// Voltage in microvolts, positive for a cell connected the right way round.
    MicroVolts, i32, "uV"
);
quantity!(
    /// Current in microamperes, positive discharges the cell.
    MicroAmps, i32, "uA"
);
quantity!(
    /// Resistance in microohms.
    MicroOhms, i32, "uOhm"
);
quantity!(
    /// Temperature, or difference of temperatures, in thousandths of a degree Celsius.
    MilliCelsius, i32, "mdegC"
);
quantity!(
    /// Charge in microcoulombs, positive for charge taken out of the cell.
    MicroCoulombs, i64, "uC"
);
quantity!(
    /// Energy in microjoules, positive for energy turned into heat in the sink.
    MicroJoules, i64, "uJ"
);
quantity!(
    /// The fixture's own clock, or a span of it, in microseconds; 64 bits never wrap in practice.
    Micros, u64, "us"
);

impl Micros {
    /// Takes whole milliseconds.
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis.saturating_mul(1_000))
    }

    /// Takes whole seconds.
    pub const fn from_secs(secs: u64) -> Self {
        Self(secs.saturating_mul(1_000_000))
    }
}

impl Micros {
    /// Returns what so much a second comes to in this span, saturating and rounded towards zero. In whole seconds and the rest
    /// of one: a division of 128 bits takes a fiftieth of the fixture's flash.
    pub const fn of_rate(self, per_second: i64) -> i64 {
        const SECOND: u64 = 1_000_000;
        // A quotient of a u64 by a million fits i64, and so does a remainder.
        let (seconds, rest) = ((self.0 / SECOND) as i64, (self.0 % SECOND) as i64);
        let whole = per_second.saturating_mul(seconds);
        // The rate by its quotient and remainder too, so that no product is too large.
        let (quotient, remainder) = (per_second / SECOND as i64, per_second % SECOND as i64);
        whole.saturating_add(quotient * rest + remainder * rest / SECOND as i64)
    }
}

impl MicroVolts {
    /// Takes whole millivolts; stays at the end of the range where they do not fit.
    pub const fn from_millivolts(millivolts: i32) -> Self {
        Self(millivolts.saturating_mul(1_000))
    }
}

impl MicroAmps {
    /// Takes whole milliamperes; stays at the end of the range where they do not fit.
    pub const fn from_milliamps(milliamps: i32) -> Self {
        Self(milliamps.saturating_mul(1_000))
    }

    /// Returns the charge moved by this current in a span of time, saturating.
    pub const fn charge_in(self, span: Micros) -> MicroCoulombs {
        MicroCoulombs(span.of_rate(self.0 as i64))
    }

    /// Returns the energy given off at a voltage in a span of time; exact for spans below 290,000 years, then saturating.
    pub const fn energy_in(self, voltage: MicroVolts, span: Micros) -> MicroJoules {
        const MILLION: i64 = 1_000_000;
        // |i32 x i32| < 2^62: picowatts. Whole microwatts and the rest apart, as in [`Micros::of_rate`].
        let picowatts = self.0 as i64 * voltage.0 as i64;
        let (microwatts, rest) = (picowatts / MILLION, picowatts % MILLION);
        // What whole microwatts leave in the last second, and what the rest gives, in millionths of a microjoule.
        let left = (microwatts * (span.0 % MILLION as u64) as i64) % MILLION;
        let more = span.of_rate(rest).saturating_add(left) / MILLION;
        MicroJoules(span.of_rate(microwatts).saturating_add(more))
    }
}

/// Why a reading is not there. A missing reading is never zero and never good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, MaxSize)]
#[repr(u8)]
pub enum NoData {
    /// Not read yet since power-up or since the last change of settings.
    NotYet = 0,
    /// The chip did not acknowledge on the bus.
    NoAnswer = 1,
    /// The chip answered with a value that it cannot mean.
    Implausible = 2,
    /// The value is at the end of the chip's range.
    OutOfRange = 3,
    /// The last good reading is too old to be trusted.
    Stale = 4,
    /// Version 2. A line of the bus is held low and could not be freed.
    BusLocked = 5,
    /// Version 2. The bus had to be freed, and the transfer failed again.
    BusRecovered = 6,
}

/// A reading, or the reason why there is none.
pub type Reading<T> = Result<T, NoData>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_ampere_for_one_second_is_one_coulomb() {
        let charge = MicroAmps::from_milliamps(1_000).charge_in(Micros::from_secs(1));
        assert_eq!(charge, MicroCoulombs::new(1_000_000));
    }

    #[test]
    fn a_rate_over_a_span_is_what_a_wider_division_gives() {
        let rates =
            [0, 1, -1, 7, -999_999, 1_000_001, i64::from(i32::MAX), i64::from(i32::MIN), i64::MAX, i64::MIN];
        let spans = [
            0,
            1,
            999_999,
            1_000_000,
            1_000_001,
            18_000_123_457,
            u64::from(u32::MAX),
            u64::MAX - 1,
            u64::MAX,
        ];
        for rate in rates {
            for span in spans {
                let wide = i128::from(rate) * i128::from(span) / 1_000_000;
                let clamped = wide.clamp(i64::MIN.into(), i64::MAX.into());
                assert_eq!(i128::from(Micros::new(span).of_rate(rate)), clamped, "{rate} {span}");
            }
        }
    }

    #[test]
    fn an_energy_is_what_a_wider_division_gives() {
        let values = [0, 1, -1, 15_000, 999_999, 4_350_001, -5_500_000, i32::MAX, i32::MIN];
        let spans = [0, 1, 999, 1_000, 100_001, 999_999, 1_000_001, 18_000_123_457, 1_000_000_000_000_007];
        for current in values {
            for voltage in values {
                for span in spans {
                    let wide =
                        i128::from(current) * i128::from(voltage) * i128::from(span) / 1_000_000_000_000;
                    let clamped = wide.clamp(i64::MIN.into(), i64::MAX.into());
                    let energy =
                        MicroAmps::new(current).energy_in(MicroVolts::new(voltage), Micros::new(span));
                    assert_eq!(i128::from(energy.get()), clamped, "{current} {voltage} {span}");
                }
            }
        }
    }

    #[test]
    fn one_ampere_at_four_volts_for_one_second_is_four_joules() {
        let energy =
            MicroAmps::new(1_000_000).energy_in(MicroVolts::from_millivolts(4_000), Micros::from_secs(1));
        assert_eq!(energy, MicroJoules::new(4_000_000));
    }

    #[test]
    fn extremes_saturate_and_do_not_wrap() {
        assert_eq!(MicroAmps::MAX.energy_in(MicroVolts::MAX, Micros::MAX), MicroJoules::MAX);
        assert_eq!(MicroAmps::new(i32::MIN).charge_in(Micros::MAX), MicroCoulombs::new(i64::MIN));
        assert_eq!(MicroVolts::MAX.checked_add(MicroVolts::new(1)), None);
        assert_eq!(MicroVolts::new(i32::MIN).checked_sub(MicroVolts::new(1)), None);
    }
}
