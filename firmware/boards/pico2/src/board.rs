//! The real board: the firmware's seam, filled with the RP2350's peripherals.

use crate::bus::Bus;
use crate::failure::EVERYTHING_BUT_OSCILLATORS;
use crate::image;
use crate::kept;
use crate::look::Looker;
use crate::usb;
use celltriage_firmware::board::{Board, Boot, LookCodes, StoreError};
use celltriage_firmware::roll_call::{Part, RollCall};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::Trip;
use celltriage_protocol::units::Micros;
use celltriage_store::Store;
use celltriage_store::memory::Memory;
use embassy_rp::flash::{Blocking as FlashBlocking, Flash};
use embassy_rp::gpio::{Input, Output};
use embassy_rp::pac;
use embassy_rp::peripherals::FLASH;
use embassy_rp::watchdog::Watchdog;
use embassy_time::Duration;

/// Who of the program has said that it is alive.
static ROLL_CALL: RollCall = RollCall::new();
/// The watchdog bites when a part has said nothing for this long; a pass takes less than 2 ms, and the other parts speak
/// every 10 ms.
const WATCHDOG: Duration = Duration::from_millis(100);
/// While the calibration is stored: an erase takes up to 0.4 s (flash data sheets of the class, from memory). No plan
/// runs then, so the load is off.
const WATCHDOG_WHILE_STORING: Duration = Duration::from_secs(1);

/// Flash that is looked at: the program's megabyte, the calibration's two sectors after it, the journal's two.
const FLASH_SIZE: usize = JOURNAL_AT as usize + 2 * embassy_rp::flash::ERASE_SIZE;
/// Where the calibration lies in the flash; the linker keeps the program below it.
pub const CALIBRATION_AT: u32 = 1 << 20;
/// Where the journal lies.
const JOURNAL_AT: u32 = CALIBRATION_AT + 2 * embassy_rp::flash::ERASE_SIZE as u32;

/// The calibration's flash.
pub type CalibrationFlash = Flash<'static, FLASH, FlashBlocking, FLASH_SIZE>;

/// The board.
pub struct Pico2 {
    bus: Bus,
    load_enable: Output<'static>,
    polarity: Input<'static>,
    looker: Looker,
    watchdog: Watchdog,
    store: Store<CalibrationFlash>,
    memory: Option<Memory>,
    serial: u64,
}

impl Pico2 {
    /// Puts the board together; its watchdog runs from here on.
    pub fn new(
        bus: Bus,
        load_enable: Output<'static>,
        polarity: Input<'static>,
        looker: Looker,
        mut watchdog: Watchdog,
        flash: CalibrationFlash,
        serial: u64,
    ) -> Self {
        watchdog.start(WATCHDOG);
        // The driver resets what the RP2040's bits would mean: on this chip the processors would not be among it.
        pac::PSM.wdsel().write_value(EVERYTHING_BUT_OSCILLATORS);
        // As the chip wakes, a debugger that halts the program halts its watchdog too: the load would stay on unwatched.
        watchdog.pause_on_debug(false);
        Self {
            bus,
            load_enable,
            polarity,
            looker,
            watchdog,
            store: Store::new(flash, CALIBRATION_AT),
            memory: None,
            serial,
        }
    }
}

/// Takes the word of a part, from whichever priority; feeds the watchdog once all have spoken.
pub fn check_in(part: Part) {
    if ROLL_CALL.check_in(part) {
        // Its time in microseconds.
        pac::WATCHDOG.load().write_value(pac::watchdog::regs::Load(WATCHDOG.as_micros() as u32));
    }
}

impl Board for Pico2 {
    type Bus = Bus;

    fn name(&self) -> &'static str {
        image::BOARD
    }

    fn serial(&self) -> u64 {
        self.serial
    }

    fn bus(&mut self) -> &mut Self::Bus {
        &mut self.bus
    }

    fn set_load_enable(&mut self, on: bool) {
        self.load_enable.set_level(on.into());
    }

    fn cell_is_reversed(&mut self) -> bool {
        self.polarity.is_high()
    }

    fn second_look(&mut self) -> Option<LookCodes> {
        self.looker.look()
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        usb::receive(into)
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        usb::send(bytes)
    }

    fn check_in(&mut self, part: Part) {
        check_in(part);
    }

    fn stored_calibration(&mut self) -> Option<Calibration> {
        self.store.load()
    }

    fn store_calibration(&mut self, calibration: &Calibration) -> Result<(), StoreError> {
        self.watchdog.feed(WATCHDOG_WHILE_STORING);
        let stored = self.store.save(calibration);
        self.watchdog.feed(WATCHDOG);
        stored
    }

    fn commit(&self) -> Option<&'static str> {
        image::COMMIT
    }

    fn revision(&self) -> Option<&'static str> {
        Some(image::REVISION)
    }

    fn boot(&mut self) -> Boot {
        let (before, panic, reset) = kept::take();
        self.watchdog.feed(WATCHDOG_WHILE_STORING);
        let (memory, boot) = Memory::begin(self.store.flash(), JOURNAL_AT, before, panic, reset);
        self.watchdog.feed(WATCHDOG);
        kept::number(boot.number);
        self.memory = Some(memory);
        boot
    }

    fn remember_trip(&mut self, trip: &Trip) {
        if let Some(memory) = &mut self.memory {
            self.watchdog.feed(WATCHDOG_WHILE_STORING);
            memory.trip(self.store.flash(), trip);
            self.watchdog.feed(WATCHDOG);
        }
    }

    fn forget_trip(&mut self, trip: u32, now: Micros) {
        if let Some(memory) = &mut self.memory {
            self.watchdog.feed(WATCHDOG_WHILE_STORING);
            memory.acknowledged(self.store.flash(), trip, now);
            self.watchdog.feed(WATCHDOG);
        }
    }

    fn has_boot_loader(&self) -> bool {
        true
    }

    /// By the chip's own boot program, which lies in a memory that cannot be written: its function `reboot` (RP2350 data sheet,
    /// chapter on the bootrom) resets the chip into it, and a drive for a new program appears. No interface is left out.
    fn enter_boot_loader(&mut self) {
        self.load_enable.set_low();
        embassy_rp::rom_data::reset_to_usb_boot(0, 0);
    }
}
