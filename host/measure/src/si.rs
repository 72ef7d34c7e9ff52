//! Quantities in SI units as `f64`, with the operators that mean something and no others.
//!
//! The wire speaks integers (`celltriage_protocol::units`), estimates speak these; the only way between them is the
//! `From` at the end of this file. **Sign: a positive current discharges the cell**, positive charge was taken out.
//! A temperature ([`Celsius`]) and a difference of temperatures ([`Kelvins`]) are two types, so that adding two
//! temperatures does not compile.

use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// Seconds in an hour.
pub const SECONDS_PER_HOUR: f64 = 3600.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// Returns the amount without its sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// Returns whether this is a number at all.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, out)?;
                write!(out, concat!(" ", $symbol))
            }
        }
    };
}

/// Quantities that add up: everything here but a temperature.
macro_rules! additive {
    ($($name:ident),+) => {$(
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    )+};
}

quantity!(
    /// Voltage.
    Volts, "V"
);
quantity!(
    /// Current, positive discharging.
    Amps, "A"
);
quantity!(
    /// Resistance.
    Ohms, "ohm"
);
quantity!(
    /// Temperature; two of them do not add up.
    Celsius, "degC"
);
quantity!(
    /// Difference of temperatures.
    Kelvins, "K"
);
quantity!(
    /// Time, or a span of it.
    Seconds, "s"
);
quantity!(
    /// Charge, positive taken out of the cell.
    AmpHours, "Ah"
);
additive!(Volts, Amps, Ohms, Kelvins, Seconds, AmpHours);

impl Div<Amps> for Volts {
    type Output = Ohms;
    fn div(self, current: Amps) -> Ohms {
        Ohms(self.0 / current.0)
    }
}

impl Mul<Ohms> for Amps {
    type Output = Volts;
    fn mul(self, resistance: Ohms) -> Volts {
        Volts(self.0 * resistance.0)
    }
}

impl Mul<Seconds> for Amps {
    type Output = AmpHours;
    fn mul(self, span: Seconds) -> AmpHours {
        AmpHours(self.0 * span.0 / SECONDS_PER_HOUR)
    }
}

impl Sub for Celsius {
    type Output = Kelvins;
    fn sub(self, other: Self) -> Kelvins {
        Kelvins(self.0 - other.0)
    }
}

impl Add<Kelvins> for Celsius {
    type Output = Self;
    fn add(self, difference: Kelvins) -> Self {
        Self(self.0 + difference.0)
    }
}

// The one seam to the wire's integers.

impl From<MicroVolts> for Volts {
    fn from(wire: MicroVolts) -> Self {
        Self(f64::from(wire.get()) * 1e-6)
    }
}

impl From<MicroAmps> for Amps {
    fn from(wire: MicroAmps) -> Self {
        Self(f64::from(wire.get()) * 1e-6)
    }
}

impl From<MilliCelsius> for Celsius {
    fn from(wire: MilliCelsius) -> Self {
        Self(f64::from(wire.get()) * 1e-3)
    }
}

impl From<Micros> for Seconds {
    fn from(wire: Micros) -> Self {
        // 2^53 us are 285 years: no run is long enough to lose a microsecond here.
        Self(wire.get() as f64 * 1e-6)
    }
}

impl From<MicroCoulombs> for AmpHours {
    fn from(wire: MicroCoulombs) -> Self {
        Self(wire.get() as f64 * 1e-6 / SECONDS_PER_HOUR)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn ohms_law_holds_both_ways() {
        assert_eq!(Volts(0.1) / Amps(2.0), Ohms(0.05));
        assert_eq!(Amps(2.0) * Ohms(0.05), Volts(0.1));
    }

    #[test]
    fn one_ampere_for_an_hour_is_one_ampere_hour() {
        assert_eq!(Amps(1.0) * Seconds(3600.0), AmpHours(1.0));
        assert_relative_eq!(AmpHours::from(MicroCoulombs::new(3_600_000_000)).0, 1.0, max_relative = 1e-12);
    }

    #[test]
    fn temperatures_differ_in_kelvins() {
        assert_eq!(Celsius(27.5) - Celsius(25.0), Kelvins(2.5));
        assert_eq!(Celsius(25.0) + Kelvins(2.5), Celsius(27.5));
    }

    #[test]
    fn the_wire_keeps_its_sign_through_the_seam() {
        assert_relative_eq!(Amps::from(MicroAmps::new(-1_500_000)).0, -1.5);
        assert_relative_eq!(Volts::from(MicroVolts::new(3_700_123)).0, 3.700_123);
        assert_relative_eq!(Celsius::from(MilliCelsius::new(-7_812)).0, -7.812);
        assert_relative_eq!(Seconds::from(Micros::from_millis(1_500)).0, 1.5);
    }

    #[test]
    fn a_width_and_precision_apply_to_the_number() {
        assert_eq!(format!("{:.2}", Volts(3.712_3)), "3.71 V");
    }
}
