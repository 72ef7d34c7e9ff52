//! Which pin does what; `hardware-notes/wiring.toml` says the same (a test compares them).
//!
//! Also the one thing that must work before and after everything else: the enable pin at its safe level, set by bare
//! register writes so that it depends on nothing.

use embassy_rp::pac::io::vals::Gpio0ctrlFuncsel;
use embassy_rp::{pac, peripherals};

/// Data line of the bus.
pub type Sda = peripherals::PIN_4;
/// Clock line of the bus.
pub type Scl = peripherals::PIN_5;
/// Enables the load when high; an external resistor pulls it low.
pub type LoadEnable = peripherals::PIN_14;
/// High where the cell is the wrong way round, or the comparator has no supply.
pub type Polarity = peripherals::PIN_15;
/// Status lamp, lit when high.
pub type Lamp = peripherals::PIN_16;

/// Half of the voltage on the positive force lead: the converter's input 0.
pub type Force = peripherals::PIN_26;
/// Voltage on the sink's sense resistor: the converter's input 1.
pub type SinkCurrent = peripherals::PIN_27;
/// Half of the set point's reference: the converter's input 2.
pub type Reference = peripherals::PIN_28;

/// Number of [`LoadEnable`].
const LOAD_ENABLE: u8 = 14;
/// Number of [`Sda`].
pub const DATA_LINE: usize = 4;
/// Number of [`Scl`].
pub const CLOCK_LINE: usize = 5;
/// Clock of the bus in hertz.
pub const BUS_HERTZ: u32 = 400_000;

/// How often the end of a reset is looked at before it is given up: some ten microseconds. Our choice.
const LOOKS: u32 = 1_000;

/// Drives the enable pin low, whatever state pins and peripherals are in.
pub fn load_off() {
    let bit = 1 << LOAD_ENABLE;
    pac::RESETS.reset().modify(|peripherals| {
        peripherals.set_io_bank0(false);
        peripherals.set_pads_bank0(false);
    });
    // What is written to a part that still is in reset is lost. It takes a few clocks; whoever waits here has nothing
    // better to do, but must not wait for ever: the other writes still hold where these do not.
    for _ in 0..LOOKS {
        let done = pac::RESETS.reset_done().read();
        if done.io_bank0() && done.pads_bank0() {
            break;
        }
    }
    // The level first, then the driver: the pin is never driven high in between.
    pac::SIO.gpio_out(0).value_clr().write_value(bit);
    pac::SIO.gpio_oe(0).value_set().write_value(bit);
    pac::IO_BANK0
        .gpio(usize::from(LOAD_ENABLE))
        .ctrl()
        .write(|control| control.set_funcsel(Gpio0ctrlFuncsel::SIOB_PROC_0 as u8));
    pac::PADS_BANK0.gpio(usize::from(LOAD_ENABLE)).write(|pad| {
        pad.set_od(false);
        // Erratum E9 of the chip: a pad leaks only while its input is enabled, which nobody needs here.
        pad.set_ie(false);
        pad.set_iso(false);
    });
}
