//! The bus: the chip's own controller with waits that end, and its two lines by hand where one is held low.
//!
//! Registers and their order: RP2350 data sheet, chapter on I2C (a DesignWare controller): what is pushed into DATA_CMD is
//! done one after the other; a refusal raises TX_ABRT, empties the queue and ends with a stop by itself. Freeing the lines:
//! I2C specification UM10204 revision 7, 3.1.16; the stop that ends it: 3.1.10.

use crate::pins::{CLOCK_LINE, DATA_LINE};
use celltriage_firmware::bus::{Freeable, LONGEST_TRANSFER, Lines, MOST_PULSES};
use embassy_rp::i2c::{Blocking, I2c as Controller};
use embassy_rp::pac;
use embassy_rp::pac::io::vals::{Gpio4ctrlFuncsel, Gpio5ctrlFuncsel};
use embassy_rp::peripherals::I2C0;
use embassy_time::{Duration, Instant, block_for};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};

/// Half a clock by hand: 100 kHz, which every chip understands (UM10204, table 10, standard mode: 4.7 us low, 4 us high).
const HALF_CLOCK: Duration = Duration::from_micros(5);
/// How often a reset of the controller is looked at before it is given up; it takes a few clocks.
const LOOKS: u32 = 1_000;

/// The bus.
pub struct Bus {
    /// It has set up the controller and its pins, and owns them.
    _controller: Controller<'static, I2C0, Blocking>,
    until: Instant,
}

impl Bus {
    /// Takes the controller, set up, and frees the lines where a chip was cut off in the midst of a read.
    pub fn new(controller: Controller<'static, I2C0, Blocking>) -> Self {
        let mut bus = Self { _controller: controller, until: Instant::MIN };
        if !lines_are_high() {
            bus.free();
        }
        bus
    }

    /// Waits until something is so, a transfer is aborted, or its time is over.
    fn wait(&self, is_so: impl Fn() -> bool) -> Result<(), ErrorKind> {
        let registers = pac::I2C0;
        loop {
            if registers.ic_raw_intr_stat().read().tx_abrt() {
                return Err(self.aborted());
            }
            if is_so() {
                return Ok(());
            }
            if Instant::now() >= self.until {
                registers.ic_enable().write(|enable| enable.set_enable(false));
                return Err(ErrorKind::Bus);
            }
        }
    }

    /// Says why a transfer was aborted, once its stop is over.
    fn aborted(&self) -> ErrorKind {
        let registers = pac::I2C0;
        let source = registers.ic_tx_abrt_source().read();
        registers.ic_clr_tx_abrt().read();
        while !registers.ic_raw_intr_stat().read().stop_det() {
            if Instant::now() >= self.until {
                registers.ic_enable().write(|enable| enable.set_enable(false));
                return ErrorKind::Bus;
            }
        }
        if source.abrt_7b_addr_noack() {
            ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address)
        } else if source.abrt_txdata_noack() {
            ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data)
        } else if source.arb_lost() {
            ErrorKind::ArbitrationLoss
        } else {
            ErrorKind::Other
        }
    }

    /// Queues one byte to write, or `None` for one to read.
    fn push(&self, byte: Option<u8>, begins_again: bool, is_last: bool) -> Result<(), ErrorKind> {
        let registers = pac::I2C0;
        self.wait(|| registers.ic_status().read().tfnf())?;
        registers.ic_data_cmd().write(|command| {
            command.set_cmd(byte.is_none());
            command.set_dat(byte.unwrap_or_default());
            command.set_restart(begins_again);
            command.set_stop(is_last);
        });
        Ok(())
    }
}

impl ErrorType for Bus {
    type Error = ErrorKind;
}

impl I2c for Bus {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        self.until = Instant::now() + Duration::from_micros(LONGEST_TRANSFER.get());
        let registers = pac::I2C0;
        registers.ic_enable().write(|enable| enable.set_enable(false));
        registers.ic_tar().write(|target| target.set_ic_tar(u16::from(address)));
        registers.ic_enable().write(|enable| enable.set_enable(true));
        registers.ic_clr_intr().read();
        self.wait(lines_are_high)?;
        let count = operations.len();
        for (index, operation) in operations.iter_mut().enumerate() {
            let ends = |at: usize, length: usize| index + 1 == count && at + 1 == length;
            match operation {
                Operation::Write(bytes) => {
                    for (at, byte) in bytes.iter().enumerate() {
                        self.push(Some(*byte), index > 0 && at == 0, ends(at, bytes.len()))?;
                    }
                }
                Operation::Read(into) => {
                    let length = into.len();
                    for (at, place) in into.iter_mut().enumerate() {
                        self.push(None, index > 0 && at == 0, ends(at, length))?;
                        self.wait(|| registers.ic_rxflr().read().rxflr() > 0)?;
                        *place = registers.ic_data_cmd().read().dat();
                    }
                }
            }
        }
        self.wait(|| registers.ic_raw_intr_stat().read().stop_det())?;
        // A refusal of the last byte ends with a stop too.
        self.wait(|| true)
    }
}

impl Freeable for Bus {
    fn free(&mut self) -> Lines {
        take_lines();
        let mut pulses = 0;
        while !is_high(DATA_LINE) && pulses < MOST_PULSES {
            drive_low(CLOCK_LINE);
            release(CLOCK_LINE);
            pulses += 1;
        }
        if pulses > 0 && lines_are_high() {
            // The data line falls while the clock is low, which is no start, and rises while it is high: a stop.
            drive_low(CLOCK_LINE);
            drive_low(DATA_LINE);
            release(CLOCK_LINE);
            release(DATA_LINE);
        }
        let are_free = lines_are_high();
        reset_controller();
        give_lines();
        if are_free { Lines::Free { pulses } } else { Lines::Held }
    }
}

fn is_high(line: usize) -> bool {
    pac::SIO.gpio_in(0).read() >> line & 1 == 1
}

fn lines_are_high() -> bool {
    is_high(DATA_LINE) && is_high(CLOCK_LINE)
}

fn drive_low(line: usize) {
    pac::SIO.gpio_oe(0).value_set().write_value(1 << line);
    block_for(HALF_CLOCK);
}

/// Lets a line go; the resistor pulls it up.
fn release(line: usize) {
    pac::SIO.gpio_oe(0).value_clr().write_value(1 << line);
    block_for(HALF_CLOCK);
}

/// Takes both lines from the controller, neither driven.
fn take_lines() {
    let both = 1 << DATA_LINE | 1 << CLOCK_LINE;
    pac::SIO.gpio_oe(0).value_clr().write_value(both);
    pac::SIO.gpio_out(0).value_clr().write_value(both);
    function(DATA_LINE, Gpio4ctrlFuncsel::SIOB_PROC_4 as u8);
    function(CLOCK_LINE, Gpio5ctrlFuncsel::SIOB_PROC_5 as u8);
    block_for(HALF_CLOCK);
}

fn give_lines() {
    function(DATA_LINE, Gpio4ctrlFuncsel::I2C0_SDA as u8);
    function(CLOCK_LINE, Gpio5ctrlFuncsel::I2C0_SCL as u8);
}

fn function(line: usize, select: u8) {
    pac::IO_BANK0.gpio(line).ctrl().write(|control| control.set_funcsel(select));
}

/// A controller that was cut off in the midst of a transfer waits in it for ever: it is reset and gets its settings back.
fn reset_controller() {
    let registers = pac::I2C0;
    let control = registers.ic_con().read();
    let (high, low) = (registers.ic_fs_scl_hcnt().read(), registers.ic_fs_scl_lcnt().read());
    let (spike, hold) = (registers.ic_fs_spklen().read(), registers.ic_sda_hold().read());
    pac::RESETS.reset().modify(|peripherals| peripherals.set_i2c0(true));
    pac::RESETS.reset().modify(|peripherals| peripherals.set_i2c0(false));
    for _ in 0..LOOKS {
        if pac::RESETS.reset_done().read().i2c0() {
            break;
        }
    }
    registers.ic_enable().write(|enable| enable.set_enable(false));
    registers.ic_con().write_value(control);
    registers.ic_fs_scl_hcnt().write_value(high);
    registers.ic_fs_scl_lcnt().write_value(low);
    registers.ic_fs_spklen().write_value(spike);
    registers.ic_sda_hold().write_value(hold);
}
