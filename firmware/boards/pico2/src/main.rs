//! The fixture's firmware on the real board: an RP2350 module, wired as `hardware-notes/wiring.toml` says.
//!
//! The enable pin is driven low before anything else; then clocks, watchdog, bus, link. The loop below is all that
//! runs, besides the USB port's interrupts.
//!
//! | file | noun |
//! |---|---|
//! | [`pins`] | which pin does what; the load off |
//! | [`board`] | what the firmware asks of a board |
//! | [`look`] | the chip's own converter |
//! | [`usb`] | the link |
//! | [`lamp`] | what the status lamp shows |
//! | [`failure`] | panics and faults |
#![no_std]
#![no_main]

mod board;
mod failure;
mod lamp;
mod look;
mod pins;
mod usb;

use board::Pico2;
use celltriage_firmware::fixture::Fixture;
use celltriage_protocol::units::Micros;
use celltriage_protocol::usb::SERIAL_LENGTH;
use cortex_m_rt::entry;
use defmt_rtt as _;
use embassy_rp::Peri;
use embassy_rp::flash::Flash;
use embassy_rp::gpio::{Input, Level, Output, OutputOpenDrain, Pull};
use embassy_rp::i2c::{self, I2c};
use embassy_rp::watchdog::Watchdog;
use embassy_time::{Duration, Instant, block_for};
use look::Looker;
use static_cell::StaticCell;

/// Also without anything to do, a pass is made this often: polarity, silence of the host, watchdog.
const LONGEST_WAIT: Micros = Micros::from_millis(10);

static FIXTURE: StaticCell<Fixture> = StaticCell::new();

#[entry]
fn main() -> ! {
    pins::load_off();
    let p = embassy_rp::init(embassy_rp::config::Config::default());
    // Setting the clocks up has reset all pins; the external resistor holds the line meanwhile.
    let load_enable: Peri<'_, pins::LoadEnable> = p.PIN_14;
    let load_enable = Output::new(load_enable, Level::Low);
    let polarity: Peri<'_, pins::Polarity> = p.PIN_15;
    let polarity = Input::new(polarity, Pull::None);
    let lamp: Peri<'_, pins::Lamp> = p.PIN_16;
    let mut lamp = Output::new(lamp, Level::Low);
    let (mut sda, mut scl): (Peri<'_, pins::Sda>, Peri<'_, pins::Scl>) = (p.PIN_4, p.PIN_5);
    free_bus(sda.reborrow(), scl.reborrow());
    let mut bus_config = i2c::Config::default();
    bus_config.frequency = pins::BUS_HERTZ;
    let bus = I2c::new_blocking(p.I2C0, scl, sda, bus_config);
    let serial = embassy_rp::otp::get_chipid().unwrap_or_default();
    let flash = Flash::new_blocking(p.FLASH);
    let looker = Looker::new(p.ADC, p.PIN_26, p.PIN_27, p.PIN_28);
    let mut board = Pico2::new(bus, load_enable, polarity, looker, Watchdog::new(p.WATCHDOG), flash, serial);
    usb::start(p.USB, serial_text(serial));
    let fixture = FIXTURE.init_with(|| Fixture::new(&mut board));
    defmt::info!("fixture ready");
    loop {
        let began = now();
        let wake = fixture.serve(began, &mut board).min(began.saturating_add(LONGEST_WAIT));
        lamp.set_level(lamp::is_lit(fixture.activity(), began).into());
        while now() < wake && !usb::has_received() {}
    }
}

fn now() -> Micros {
    Micros::new(Instant::now().as_micros())
}

/// A chip that was cut off in the middle of a read may hold the data line low: nine clocks and a stop free it (I2C
/// specification UM10204, 3.1.16).
fn free_bus(sda: Peri<'_, pins::Sda>, scl: Peri<'_, pins::Scl>) {
    const HALF_CLOCK: Duration = Duration::from_micros(5);
    let mut sda = OutputOpenDrain::new(sda, Level::High);
    let mut scl = OutputOpenDrain::new(scl, Level::High);
    for _ in 0..9 {
        scl.set_low();
        block_for(HALF_CLOCK);
        scl.set_high();
        block_for(HALF_CLOCK);
    }
    sda.set_low();
    block_for(HALF_CLOCK);
    sda.set_high();
    block_for(HALF_CLOCK);
}

/// Returns the serial number as the host reads it from the port.
fn serial_text(serial: u64) -> &'static str {
    static TEXT: StaticCell<[u8; SERIAL_LENGTH]> = StaticCell::new();
    // Hexadecimal digits are text.
    core::str::from_utf8(TEXT.init(celltriage_protocol::usb::serial_text(serial))).unwrap_or_default()
}
