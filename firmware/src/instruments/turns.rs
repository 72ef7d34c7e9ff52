//! What is read in turn, besides voltage and current: two temperatures, the charge, the monitor's settings.
//!
//! Takes the bus, gives readings. So a sample a millisecond leaves time on a bus of 400 kHz: three transfers for the
//! sample and at most two for a turn are about 0.65 ms.

use super::Instruments;
use crate::convert;
use crate::drivers::power_monitor;
use crate::drivers::thermometer::Thermometer;
use crate::readings::Readings;
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::Sensor;
use celltriage_protocol::units::{Micros, NoData};
use embedded_hal::i2c::I2c;

/// What is read in turn.
#[derive(Clone, Copy, Debug, Default)]
pub(super) enum Turn {
    #[default]
    Cell,
    Ambient,
    Charge,
    Settings,
}

const TURNS: u64 = 4;
/// All turns are taken within this time, where the sample period is shorter.
const ROUND: Micros = Micros::from_millis(400);

impl Turn {
    const fn next(self) -> Self {
        match self {
            Self::Cell => Self::Ambient,
            Self::Ambient => Self::Charge,
            Self::Charge => Self::Settings,
            Self::Settings => Self::Cell,
        }
    }
}

impl Instruments {
    /// Reads what is next in turn, as many turns as the sample period needs; tells `missing` what begins to fail.
    pub fn take_turns(
        &mut self,
        bus: &mut impl I2c,
        now: Micros,
        calibration: &Calibration,
        readings: &mut Readings,
        missing: &mut impl FnMut(Sensor, NoData),
    ) {
        let turns = (self.period.get() * TURNS).div_ceil(ROUND.get()).clamp(1, TURNS);
        for _ in 0..turns {
            let before = *readings;
            match self.turn {
                Turn::Cell => readings.cell.take(
                    now,
                    Thermometer::Cell
                        .read(bus)
                        .map(|code| convert::temperature(code, calibration.cell_temperature)),
                ),
                Turn::Ambient => readings.ambient.take(
                    now,
                    Thermometer::Ambient
                        .read(bus)
                        .map(|code| convert::temperature(code, calibration.ambient_temperature)),
                ),
                Turn::Charge => readings.charge.take(now, self.charge(bus, now, calibration)),
                Turn::Settings => match power_monitor::check_settings(bus, self.settings) {
                    Ok(()) => {}
                    Err(NoData::Implausible) => self.lose_monitor(),
                    Err(cause) => readings.charge.take(now, Err(cause)),
                },
            }
            self.turn = self.turn.next();
            for (sensor, earlier, later) in [
                (Sensor::CellTemperature, before.cell.failure(), readings.cell.failure()),
                (Sensor::AmbientTemperature, before.ambient.failure(), readings.ambient.failure()),
                (Sensor::Charge, before.charge.failure(), readings.charge.failure()),
            ] {
                if let (None, Some(cause)) = (earlier, later) {
                    missing(sensor, cause);
                }
            }
        }
    }
}
