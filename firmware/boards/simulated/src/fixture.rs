//! A whole fixture in virtual time: the firmware on the simulated board, seen from the host as bytes.
//!
//! Takes bytes from the host and spans of time to wait; gives bytes to the host. The firmware's own loop is run for
//! it: whenever it wants to be called, or bytes have come. No time passes outside [`SimulatedFixture::receive`].

use crate::bench::Truth;
use crate::board::SimulatedBoard;
use crate::fault::Injection;
use crate::options::Options;
use crate::parameters::CellParameters;
use celltriage_firmware::fixture::Fixture;
use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::Micros;

/// A fixture in virtual time.
#[derive(Clone, Debug)]
pub struct SimulatedFixture {
    board: SimulatedBoard,
    firmware: Fixture,
    /// When the firmware was started: its own clock begins there.
    started_ns: u64,
    /// When the firmware wants to be called next.
    wake_ns: u64,
    /// When the watchdog bites, if the program hangs.
    bites_ns: Option<u64>,
}

/// The watchdog bites when it was not fed for this long, as on the real board (a test compares the boards).
const WATCHDOG_NS: u64 = 100_000_000;

impl SimulatedFixture {
    /// Returns a fixture that was just powered up, with a cell on it.
    pub fn new(parameters: CellParameters, options: Options) -> Self {
        let mut board = SimulatedBoard::new(parameters, &options);
        let firmware = Fixture::new(&mut board);
        Self { board, firmware, started_ns: 0, wake_ns: 0, bites_ns: None }
    }

    /// Hands bytes to the fixture; it looks at them when time passes next.
    pub fn send(&mut self, bytes: &[u8]) {
        self.board.from_host.extend(bytes);
    }

    /// Lets time pass until the fixture has bytes for the host or the span is over; appends the bytes to `into` and
    /// returns how many there were.
    pub fn receive(&mut self, span: Micros, into: &mut Vec<u8>) -> usize {
        let deadline_ns = self.board.bench.now_ns().saturating_add(nanos(span));
        loop {
            let waiting = self.board.from_host.len();
            if waiting > 0 || self.board.bench.now_ns() >= self.wake_ns {
                self.serve();
            }
            if !self.board.to_host.is_empty() {
                let count = self.board.to_host.len();
                into.append(&mut self.board.to_host);
                return count;
            }
            let taken = self.board.from_host.len() < waiting;
            if taken && !self.board.from_host.is_empty() {
                continue;
            }
            if self.wake_ns > deadline_ns {
                self.board.bench.sleep_until(deadline_ns);
                return 0;
            }
            self.board.bench.sleep_until(self.wake_ns);
        }
    }

    /// Calls the firmware once, or lets the watchdog reset it where it hangs. The boot program hears and says nothing here.
    fn serve(&mut self) {
        if self.board.is_in_boot_program() {
            self.board.from_host.clear();
            self.wake_ns = u64::MAX;
            return;
        }
        if self.board.bench.program_hangs() {
            let now_ns = self.board.bench.now_ns();
            let bites_ns = *self.bites_ns.get_or_insert(now_ns.saturating_add(WATCHDOG_NS));
            if now_ns < bites_ns {
                self.wake_ns = bites_ns;
                return;
            }
            self.bites_ns = None;
            self.board.bench.restart_program();
            self.started_ns = now_ns;
            self.firmware = Fixture::new(&mut self.board);
        }
        let now = Micros::new((self.board.bench.now_ns() - self.started_ns) / 1_000);
        let wake = self.firmware.serve(now, &mut self.board);
        self.wake_ns = self.started_ns.saturating_add(nanos(wake));
    }

    /// Returns the time since the bench was made; the fixture's own clock is the same until the power is cycled.
    pub const fn now(&self) -> Micros {
        Micros::new(self.board.bench.now_ns() / 1_000)
    }

    /// Returns whether the load-enable pin is on.
    pub const fn load_is_on(&self) -> bool {
        self.board.bench.load_is_on()
    }

    /// Returns what the firmware is doing.
    pub fn activity(&self) -> Activity {
        self.firmware.activity()
    }

    /// Returns what is true of the cell at this instant, if there is one.
    pub fn truth(&mut self) -> Option<Truth> {
        self.board.bench.truth()
    }

    /// Returns how many bus transactions there were.
    pub const fn transactions(&self) -> u64 {
        self.board.bench.transactions()
    }

    /// Returns how often the firmware has fed the watchdog.
    pub const fn watchdog_fed(&self) -> u64 {
        self.board.watchdog_fed()
    }

    /// Adds a fault; it begins when it says, or now if that is over.
    pub fn inject(&mut self, injection: Injection) {
        self.board.bench.inject(injection);
    }

    /// Mends all faults and forgets those to come. A cell that was warmed stays warm.
    pub fn mend(&mut self) {
        self.board.bench.mend();
    }

    /// Takes the cell off and puts another on, which has lain in the room, at a state of charge (1 = full).
    pub fn swap_cell(&mut self, parameters: CellParameters, initial_soc: f64) {
        self.board.bench.swap_cell(Some((parameters, initial_soc)));
    }

    /// Takes the cell off.
    pub fn remove_cell(&mut self) {
        self.board.bench.swap_cell(None);
    }

    /// Takes the supply away from the chips alone for a moment; the firmware goes on.
    pub fn brown_out_chips(&mut self) {
        self.board.bench.power_cycle();
    }

    /// Puts the content of an image into the flash: a fixture whose program can be replaced.
    pub fn install(&mut self, content: &[u8]) {
        self.board.install(content);
    }

    /// Returns whether the boot program runs, and its drive is there.
    pub const fn is_in_boot_program(&self) -> bool {
        self.board.is_in_boot_program()
    }

    /// Returns the flash with the program, where it can be replaced.
    pub fn flash(&self) -> Option<&[u8]> {
        self.board.flash()
    }

    /// Writes 512 bytes to the boot program's drive; the last block that was missing restarts the chip.
    pub fn write_to_drive(&mut self, block: &[u8]) {
        if self.board.write_to_drive(block) {
            self.power_cycle();
        }
    }

    /// Takes the supply away for a moment: the firmware restarts, bytes on their way are lost, a stored
    /// calibration and the cell stay.
    pub fn power_cycle(&mut self) {
        self.board.power_cycle();
        self.started_ns = self.board.bench.now_ns();
        self.firmware = Fixture::new(&mut self.board);
        self.wake_ns = self.started_ns;
    }
}

const fn nanos(micros: Micros) -> u64 {
    micros.get().saturating_mul(1_000)
}
