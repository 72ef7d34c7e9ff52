//! The four chips together: set up and kept set up, read in turn, told the set point.
//!
//! Takes the bus, gives readings in units. What every sample needs (voltage, current) is read at every sample, the rest
//! takes `turns`.

mod turns;

use crate::convert;
use crate::drivers::power_monitor::{self, Conversion, Settings};
use crate::drivers::set_point;
use crate::drivers::thermometer::Thermometer;
use crate::log::warning;
use crate::readings::Readings;
use crate::sequencer::IDLE_PERIOD;
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, NoData, Reading};
use embedded_hal::i2c::I2c;

/// The chips in the order in which they are set up; the numbers are told with a trip of cause `SetUp`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Chip {
    /// Set-point converter of the sink.
    SetPoint = 0,
    /// Power monitor.
    PowerMonitor = 1,
    /// Thermometer on the cell.
    CellThermometer = 2,
    /// Thermometer in the air.
    AmbientThermometer = 3,
}

const CHIPS: [Chip; 4] =
    [Chip::SetPoint, Chip::PowerMonitor, Chip::CellThermometer, Chip::AmbientThermometer];

/// Time that a chip gets for its first result after a set-up: a thermometer needs 125 ms and is read every 400 ms.
const FIRST_RESULT: Micros = Micros::from_millis(800);

/// Voltage and current of one sample, or why they are not there.
#[derive(Clone, Copy, Debug)]
pub struct Taken {
    /// Voltage at the sense leads.
    pub voltage: Reading<MicroVolts>,
    /// Current through the shunt, positive discharging.
    pub current: Reading<MicroAmps>,
}

/// The chips' state as far as the fixture knows it.
#[derive(Clone, Debug)]
pub struct Instruments {
    /// By the chip's number.
    ready: [bool; CHIPS.len()],
    /// By the chip's number: until when a chip that was set up has time for its first result.
    trusted_until: [Micros; CHIPS.len()],
    settings: Settings,
    period: Micros,
    /// The set point that the converter was told last; `None` if it may have another.
    set_point: Option<MicroAmps>,
    turn: turns::Turn,
    /// When the charge counter was cleared, if it has counted without a break since then.
    counting_since: Option<Micros>,
}

impl Default for Instruments {
    fn default() -> Self {
        Self {
            ready: [false; CHIPS.len()],
            trusted_until: [Micros::ZERO; CHIPS.len()],
            settings: settings_for(IDLE_PERIOD),
            period: IDLE_PERIOD,
            set_point: None,
            turn: turns::Turn::default(),
            counting_since: None,
        }
    }
}

impl Instruments {
    /// Returns the first chip that is not set up.
    pub fn not_set_up(&self) -> Option<Chip> {
        CHIPS.into_iter().find(|chip| !self.is_ready(*chip))
    }

    /// Sets up every chip that is not; what fails is tried again at the next call.
    pub fn set_up(&mut self, bus: &mut impl I2c, now: Micros) {
        for chip in CHIPS {
            if self.is_ready(chip) {
                continue;
            }
            let done = match chip {
                Chip::SetPoint => self.write_set_point(bus, MicroAmps::ZERO),
                Chip::PowerMonitor => {
                    self.counting_since = None;
                    power_monitor::set_up(bus, self.settings)
                }
                Chip::CellThermometer => Thermometer::Cell.set_up(bus),
                Chip::AmbientThermometer => Thermometer::Ambient.set_up(bus),
            };
            self.set_ready(chip, done.is_ok());
            if let Some(place) = self.trusted_until.get_mut(usize::from(chip as u8)) {
                *place = now.saturating_add(FIRST_RESULT);
            }
        }
    }

    /// Marks chips whose readings fail as not set up: they may have been without power. One that was just set up is
    /// left alone for a while: each set-up begins its conversion again, so it would never come to a result.
    pub fn doubt_failed(&mut self, readings: &Readings, now: Micros) {
        for (failure, chip) in [
            (readings.voltage.failure(), Chip::PowerMonitor),
            (readings.current.failure(), Chip::PowerMonitor),
            (readings.cell.failure(), Chip::CellThermometer),
            (readings.ambient.failure(), Chip::AmbientThermometer),
        ] {
            let trusted_until = self.trusted_until.get(usize::from(chip as u8)).copied().unwrap_or_default();
            if failure.is_some() && now >= trusted_until {
                self.set_ready(chip, false);
            }
        }
    }

    /// Reads voltage and current, if a conversion has ended since the last call.
    pub fn sample(
        &mut self,
        bus: &mut impl I2c,
        now: Micros,
        calibration: &Calibration,
        readings: &mut Readings,
    ) -> Taken {
        let taken = match power_monitor::conversion(bus) {
            Ok(Conversion::Fresh) => Taken {
                voltage: power_monitor::voltage(bus).map(|code| convert::voltage(code, calibration)),
                current: power_monitor::shunt(bus).map(|code| convert::current(code, calibration)),
            },
            Ok(Conversion::Seen) => Taken { voltage: Err(NoData::NotYet), current: Err(NoData::NotYet) },
            Ok(Conversion::SettingsLost) => {
                self.lose_monitor();
                Taken { voltage: Err(NoData::Implausible), current: Err(NoData::Implausible) }
            }
            Err(cause) => Taken { voltage: Err(cause), current: Err(cause) },
        };
        readings.voltage.take(now, taken.voltage);
        readings.current.take(now, taken.current);
        taken
    }

    /// Reads the charge counted since it was cleared.
    ///
    /// # Errors
    /// As the driver; [`NoData::NotYet`] where no plan has cleared it, or where it was lost since.
    pub fn charge(
        &self,
        bus: &mut impl I2c,
        now: Micros,
        calibration: &Calibration,
    ) -> Reading<MicroCoulombs> {
        let since = self.counting_since.ok_or(NoData::NotYet)?;
        let code = power_monitor::charge(bus)?;
        Ok(convert::charge(code, now.saturating_sub(since), calibration))
    }

    /// Clears the charge counter.
    pub fn clear_charge(&mut self, bus: &mut impl I2c, now: Micros, readings: &mut Readings) {
        let done = power_monitor::clear_charge(bus);
        self.counting_since = done.ok().map(|()| now);
        readings.charge.take(now, done.map(|()| MicroCoulombs::ZERO));
        self.note(Chip::PowerMonitor, done);
    }

    /// Sets the averaging for another sample period; where it stays the same nothing is written.
    ///
    /// A conversion under way is given up then, and its charge is not counted: less than one sample's worth.
    pub fn set_period(&mut self, bus: &mut impl I2c, period: Micros) {
        self.period = period;
        let settings = settings_for(period);
        if settings == self.settings {
            return;
        }
        self.settings = settings;
        let done = power_monitor::write_settings(bus, settings);
        self.note(Chip::PowerMonitor, done);
    }

    /// Tells the set-point converter, unless it was told the same before; returns whether it has it.
    ///
    /// Where a zero could not be written, [`Instruments::set_up`] tries again: the pin is off meanwhile.
    pub fn set_set_point(&mut self, bus: &mut impl I2c, current: MicroAmps) -> bool {
        if self.set_point == Some(current) {
            return true;
        }
        if self.set_point.is_none() && current == MicroAmps::ZERO {
            return false;
        }
        let done = self.write_set_point(bus, current);
        self.note(Chip::SetPoint, done);
        done.is_ok()
    }

    fn write_set_point(&mut self, bus: &mut impl I2c, current: MicroAmps) -> Reading<()> {
        let done = set_point::write(bus, current);
        self.set_point = done.ok().map(|()| current);
        done
    }

    fn is_ready(&self, chip: Chip) -> bool {
        self.ready.get(usize::from(chip as u8)).copied().unwrap_or(false)
    }

    fn set_ready(&mut self, chip: Chip, ready: bool) {
        if let Some(place) = self.ready.get_mut(usize::from(chip as u8)) {
            *place = ready;
        }
    }

    /// The monitor has other settings than ours: it was without power, and its counter is lost.
    fn lose_monitor(&mut self) {
        self.counting_since = None;
        self.note(Chip::PowerMonitor, Err(NoData::Implausible));
    }

    /// A chip that refuses something is not set up any more; one that takes something may still be another chip than it
    /// should be, so only [`Instruments::set_up`] makes it ready.
    fn note(&mut self, chip: Chip, done: Reading<()>) {
        if let Err(cause) = done {
            if self.is_ready(chip) {
                warning!("chip {} lost: cause {}", chip as u8, cause as u8);
            }
            self.set_ready(chip, false);
        }
    }
}

fn settings_for(period: Micros) -> Settings {
    Settings::for_period(u32::try_from(period.get()).unwrap_or(u32::MAX))
}
