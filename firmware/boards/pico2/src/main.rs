//! The fixture's firmware on the real board: an RP2350 module, wired as `hardware-notes/wiring.toml` says.
//!
//! The enable pin is driven low before anything else; then clocks, watchdog, bus, link. What may interrupt what, highest
//! first; a lower row never delays a higher one but by critical sections of a few microseconds:
//!
//! | priority | what runs |
//! |---|---|
//! | P0 | the clock's alarm: wakes the rows below |
//! | P1 | the fixture: sampling, guard, load, requests |
//! | P3 | the USB port's interrupt: wakes its task |
//! | main program | the USB port's task, the lamp |
//!
//! | file | noun |
//! |---|---|
//! | [`pins`] | which pin does what; the load off |
//! | [`board`] | what the firmware asks of a board |
//! | [`bus`] | the bus to the chips, with waits that end |
//! | [`look`] | the chip's own converter |
//! | [`usb`] | the link |
//! | [`lamp`] | what the status lamp shows |
//! | [`kept`] | what outlives a reset |
//! | [`failure`] | panics and faults |
//! | [`image`] | what stands beside the program in its image |
#![no_std]
#![no_main]

mod board;
mod bus;
mod failure;
mod image;
mod kept;
mod lamp;
mod look;
mod pins;
mod usb;

use board::Pico2;
use bus::Bus;
use celltriage_firmware::fixture::Fixture;
use celltriage_firmware::roll_call::Part;
use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::Micros;
use celltriage_protocol::usb::SERIAL_LENGTH;
use core::sync::atomic::{AtomicU8, Ordering};
use cortex_m_rt::entry;
use defmt_rtt as _;
use embassy_futures::select::select;
use embassy_rp::executor::{Executor, InterruptExecutor};
use embassy_rp::flash::Flash;
use embassy_rp::gpio::{Input, Level, Output, Pull};
use embassy_rp::i2c::{self, I2c};
use embassy_rp::interrupt::{self, InterruptExt, Priority};
use embassy_rp::watchdog::Watchdog;
use embassy_rp::{Peri, interrupt as handler};
use embassy_time::{Duration, Instant, Timer};
use look::Looker;
use static_cell::StaticCell;

/// Also without anything to do, a pass is made this often: polarity, silence of the host, watchdog.
const LONGEST_WAIT: Micros = Micros::from_millis(10);

/// How often the lamp is looked at.
const SHOWN_EVERY: Duration = Duration::from_millis(10);

static FIXTURE: StaticCell<Fixture> = StaticCell::new();
/// What the fixture does, for the lamp.
static ACTIVITY: AtomicU8 = AtomicU8::new(Activity::Idle as u8);
/// Runs above the USB port.
static ABOVE: InterruptExecutor = InterruptExecutor::new();
static MAIN: StaticCell<Executor> = StaticCell::new();

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
    let lamp = Output::new(lamp, Level::Low);
    let (sda, scl): (Peri<'_, pins::Sda>, Peri<'_, pins::Scl>) = (p.PIN_4, p.PIN_5);
    let mut bus_config = i2c::Config::default();
    bus_config.frequency = pins::BUS_HERTZ;
    let bus = Bus::new(I2c::new_blocking(p.I2C0, scl, sda, bus_config));
    let serial = embassy_rp::otp::get_chipid().unwrap_or_default();
    let flash = Flash::new_blocking(p.FLASH);
    let looker = Looker::new(p.ADC, p.PIN_26, p.PIN_27, p.PIN_28);
    let mut board = Pico2::new(bus, load_enable, polarity, looker, Watchdog::new(p.WATCHDOG), flash, serial);
    interrupt::SWI_IRQ_1.set_priority(Priority::P1);
    // Each task is spawned once, so there is room for it; were there none, its part would never check in.
    let fixture = make_fixture(&mut board);
    let _ = run_fixture(fixture, board).map(|task| ABOVE.start(interrupt::SWI_IRQ_1).spawn(task));
    MAIN.init_with(Executor::new).run(|spawner| {
        usb::start(spawner, p.USB, serial_text(serial));
        let _ = show(lamp).map(|task| spawner.spawn(task));
    })
}

#[handler]
#[allow(unsafe_code)]
unsafe fn SWI_IRQ_1() {
    // SAFETY: called by the interrupt that the executor was started on.
    unsafe { ABOVE.on_interrupt() }
}

/// Apart from all else, so that the stack that it takes to make one is free again when the passes begin.
#[inline(never)]
fn make_fixture(board: &mut Pico2) -> &'static mut Fixture {
    FIXTURE.init_with(|| Fixture::new(board))
}

/// Makes the fixture's passes, above all but the clock.
#[embassy_executor::task]
async fn run_fixture(fixture: &'static mut Fixture, mut board: Pico2) {
    defmt::info!("fixture ready");
    loop {
        let began = now();
        let wake = fixture.serve(began, &mut board).min(began.saturating_add(LONGEST_WAIT));
        ACTIVITY.store(fixture.activity() as u8, Ordering::Relaxed);
        select(Timer::at(Instant::from_micros(wake.get())), usb::heard()).await;
    }
}

/// Shows on the lamp what the fixture is doing, from the main program: a lamp that stands still tells that this hangs.
#[embassy_executor::task]
async fn show(mut lamp: Output<'static>) {
    loop {
        board::check_in(Part::Main);
        let activity = ACTIVITY.load(Ordering::Relaxed);
        let activity = [Activity::Idle, Activity::Running, Activity::Tripped]
            .into_iter()
            .find(|known| *known as u8 == activity)
            .unwrap_or_default();
        lamp.set_level(lamp::is_lit(activity, now()).into());
        Timer::after(SHOWN_EVERY).await;
    }
}

fn now() -> Micros {
    Micros::new(Instant::now().as_micros())
}

/// Returns the serial number as the host reads it from the port.
fn serial_text(serial: u64) -> &'static str {
    static TEXT: StaticCell<[u8; SERIAL_LENGTH]> = StaticCell::new();
    // Hexadecimal digits are text.
    core::str::from_utf8(TEXT.init(celltriage_protocol::usb::serial_text(serial))).unwrap_or_default()
}
