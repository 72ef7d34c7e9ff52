//! The link: a USB serial port that works below the fixture and never holds it up.
//!
//! Two pipes lie between the fixture and the port. The port's tasks run in the main program and its interrupt has the lowest
//! priority, so neither delays a pass of the fixture. Where the host does not read, the pipe fills up and [`send`] takes
//! less, and where the fixture does not take bytes, the host has to wait.

use crate::board;
use celltriage_firmware::roll_call::Part;
use celltriage_protocol::usb;
use embassy_executor::Spawner;
use embassy_futures::join::join4;
use embassy_rp::Peri;
use embassy_rp::bind_interrupts;
use embassy_rp::interrupt::{self, InterruptExt, Priority};
use embassy_rp::peripherals::USB;
use embassy_rp::usb::{Driver, InterruptHandler};
use embassy_sync::blocking_mutex::raw::CriticalSectionRawMutex;
use embassy_sync::pipe::Pipe;
use embassy_sync::signal::Signal;
use embassy_time::{Duration, Timer};
use embassy_usb::class::cdc_acm::{CdcAcmClass, Receiver, Sender, State};
use embassy_usb::{Builder, Config};

/// Largest packet of a full-speed bulk endpoint (USB 2.0, 5.8.3).
const PACKET: usize = 64;
/// Current that the module and its lamps take from the port, in milliamperes (design value).
const SUPPLY_MA: u16 = 100;

type Port<'d> = Driver<'d, USB>;

static FROM_HOST: Pipe<CriticalSectionRawMutex, 512> = Pipe::new();
static TO_HOST: Pipe<CriticalSectionRawMutex, 1_024> = Pipe::new();
/// Wakes the fixture before its time when bytes have come.
static HEARD: Signal<CriticalSectionRawMutex, ()> = Signal::new();
/// How often the port's task says that it is alive; the watchdog bites after ten times that.
const ALIVE_EVERY: Duration = Duration::from_millis(10);

bind_interrupts!(struct Interrupts {
    USBCTRL_IRQ => InterruptHandler<USB>;
});

/// Takes bytes that have come; returns how many.
pub fn receive(into: &mut [u8]) -> usize {
    FROM_HOST.try_read(into).unwrap_or(0)
}

/// Waits until bytes have come.
pub async fn heard() {
    HEARD.wait().await;
}

/// Hands bytes over; returns how many there was room for.
pub fn send(bytes: &[u8]) -> usize {
    TO_HOST.try_write(bytes).unwrap_or(0)
}

/// Starts the port in the main program; `serial` is what the host reads as serial number.
pub fn start(spawner: Spawner, port: Peri<'static, USB>, serial: &'static str) {
    // As the chip wakes, every interrupt has the highest priority, the port's above the fixture too.
    interrupt::USBCTRL_IRQ.set_priority(Priority::P3);
    // It is spawned once, so there is room for it; were there none, the host would find no port.
    let _ = work(port, serial).map(|task| spawner.spawn(task));
}

#[embassy_executor::task]
async fn work(port: Peri<'static, USB>, serial: &'static str) {
    let (mut configuration, mut control, mut state) = ([0; 128], [0; PACKET], State::new());
    let mut config = Config::new(usb::VENDOR_ID, usb::PRODUCT_ID);
    config.manufacturer = Some(usb::MANUFACTURER);
    config.product = Some(usb::PRODUCT);
    config.serial_number = Some(serial);
    config.max_power = SUPPLY_MA;
    let driver = Driver::new(port, Interrupts);
    let mut builder = Builder::new(driver, config, &mut configuration, &mut [], &mut [], &mut control);
    let (sender, receiver) = CdcAcmClass::new(&mut builder, &mut state, PACKET as u16).split();
    let mut device = builder.build();
    join4(device.run(), read(receiver), write(sender), say_alive()).await;
}

/// Says that the port's task goes round.
async fn say_alive() {
    loop {
        board::check_in(Part::Port);
        Timer::after(ALIVE_EVERY).await;
    }
}

async fn read<'d>(mut receiver: Receiver<'d, Port<'d>>) {
    let mut packet = [0; PACKET];
    loop {
        receiver.wait_connection().await;
        while let Ok(count) = receiver.read_packet(&mut packet).await {
            let mut rest = packet.get(..count).unwrap_or_default();
            // In pieces: where the pipe is full, the fixture must hear that there is something to take.
            while !rest.is_empty() {
                let written = FROM_HOST.write(rest).await;
                rest = rest.get(written..).unwrap_or_default();
                HEARD.signal(());
            }
        }
    }
}

async fn write<'d>(mut sender: Sender<'d, Port<'d>>) {
    let mut packet = [0; PACKET];
    loop {
        sender.wait_connection().await;
        loop {
            let count = TO_HOST.read(&mut packet).await;
            if sender.write_packet(packet.get(..count).unwrap_or_default()).await.is_err() {
                break;
            }
            // A full packet promises another; where nothing is left an empty one says so.
            if count == PACKET && TO_HOST.is_empty() && sender.write_packet(&[]).await.is_err() {
                break;
            }
        }
    }
}
