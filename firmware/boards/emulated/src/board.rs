//! The emulated board: the firmware's seam, filled with the tunnel, the machine's serial port and its watchdog.

use crate::bus::Bus;
use crate::flash::Flash;
use crate::kept;
use crate::registers;
use crate::stack;
use crate::tunnel::{Answer, Tunnel};
use crate::words::{SECTOR, flag, kind};
use celltriage_firmware::board::{Board, Boot, LookCodes, StoreError};
use celltriage_firmware::roll_call::{Part, RollCall};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::Trip;
use celltriage_protocol::units::Micros;
use celltriage_store::Store;
use celltriage_store::memory::Memory;
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m::peripheral::{SCB, SYST};
use heapless::Deque;

/// The watchdog bites when the loop has not fed it for this long, as on the real board.
const WATCHDOG: Micros = Micros::from_millis(100);
const HALF_WATCHDOG: u32 = (WATCHDOG.get() * 1_000 / registers::TICK_NS / 2) as u32;
/// How long the processor sleeps at most where the bench holds the time still: the emulator then has leisure to bring
/// bytes. In ticks of the system timer, 5 ms.
const NAP: u32 = 100_000;

/// The journal lies after the calibration's two sectors.
const JOURNAL_AT: u32 = 2 * SECTOR as u32;

/// Naps that the bench's wish for as many bytes as the port can hold may take, half a second.
const MOST_NAPS: usize = 100;

/// Bytes from the host that wait to be taken, as a real port has them.
const WAITING: usize = 512;
/// Bytes that the link takes in one pass. The emulated port itself would take any number at once, which no real one
/// does: the fixture would spend whole samples handing bytes over.
const LINK_ROOM: usize = 256;

/// The board.
pub struct EmulatedBoard {
    tunnel: &'static Tunnel,
    bus: Bus,
    store: Store<Flash>,
    memory: Option<Memory>,
    alarm: SYST,
    load_is_enabled: Option<bool>,
    received: Deque<u8, WAITING>,
    /// Ends of frames taken from the link so far.
    words: u32,
    /// The byte taken last: a zero after a zero ends nothing.
    last_taken: u8,
    /// Bytes that the link still takes in this pass.
    room: usize,
    roll_call: RollCall,
    /// When the watchdog was fed last.
    fed: Micros,
    /// Whether the main program has stopped saying that it is alive, to show what becomes of it.
    is_mute: bool,
}

impl EmulatedBoard {
    /// Returns the board at the near end of a tunnel; its watchdog runs.
    pub fn new(tunnel: &'static Tunnel, mut alarm: SYST) -> Self {
        alarm.set_clock_source(SystClkSource::Core);
        alarm.set_reload(NAP);
        alarm.enable_interrupt();
        registers::start_watchdog(HALF_WATCHDOG);
        Self {
            tunnel,
            bus: Bus::new(tunnel),
            store: Store::new(Flash::new(tunnel), 0),
            memory: None,
            alarm,
            load_is_enabled: None,
            received: Deque::new(),
            words: 0,
            last_taken: 0,
            room: LINK_ROOM,
            roll_call: RollCall::new(),
            fed: Micros::ZERO,
            is_mute: false,
        }
    }

    /// Waits until a time, until a byte has come from the host, or until the bench holds the time still.
    pub fn wait_until(&mut self, until: Micros) {
        self.room = LINK_ROOM;
        if !self.is_mute {
            self.check_in(Part::Main);
        }
        self.drain();
        // With bytes to hear there is nothing to wait for; the bench is asked anyway, so that it sees each pass.
        let now_ns = self.tunnel.now_ns();
        let until_ns = if self.received.is_empty() { until.get().saturating_mul(1_000) } else { now_ns };
        let question: [&[u8]; 2] = [&until_ns.to_le_bytes(), &self.words.to_le_bytes()];
        let answer = self.tunnel.ask(kind::WAIT, &question, &mut []);
        if self.tunnel.now_ns() < until_ns {
            self.nap(false);
        }
        for _ in 0..MOST_NAPS {
            if answer.says(flag::HOARD) && !self.received.is_full() {
                self.nap(true);
            }
        }
        // The emulated watchdog counts what is executed. The time that the bench skips counts too, but it cannot know it.
        if self.tunnel.now().saturating_sub(self.fed) > WATCHDOG {
            SCB::sys_reset();
        }
        self.obey(answer);
    }

    /// Takes what has come from the link's one register.
    fn drain(&mut self) {
        self.check_in(Part::Port);
        while !self.received.is_full()
            && let Some(byte) = registers::take_byte()
        {
            // There is room.
            let _ = self.received.push_back(byte);
        }
    }

    /// Sleeps until the end of a frame has come, or as many bytes as the port can hold, or for a while. That is no time of the fixture, so the watchdog sleeps
    /// too: on a busy computer the emulator may oversleep.
    fn nap(&mut self, hoards: bool) {
        let tunnel = self.tunnel;
        tunnel.without_time(|| {
            registers::set_watchdog(u32::MAX);
            self.alarm.clear_current();
            self.alarm.enable_counter();
            let has_frame = |received: &Deque<u8, WAITING>| received.len() > 1 && received.back() == Some(&0);
            while !self.alarm.has_wrapped()
                && !self.received.is_full()
                && (hoards || !has_frame(&self.received))
            {
                cortex_m::asm::wfi();
                registers::forget_received();
                self.drain();
            }
            self.alarm.disable_counter();
            SCB::clear_pendst();
            registers::set_watchdog(HALF_WATCHDOG);
        });
    }

    /// Does what the bench wants to see by the way.
    fn obey(&mut self, answer: Answer) {
        self.is_mute |= answer.says(flag::MUTE);
        if answer.says(flag::TELL_STACK) {
            let (untouched, size) = stack::untouched();
            self.tunnel.ask(kind::STACK, &[&untouched.to_le_bytes(), &size.to_le_bytes()], &mut []);
        }
        assert!(!answer.says(flag::PANIC), "the bench wants to see a panic");
        if answer.says(flag::OVERFLOW) {
            stack::overflow();
        }
    }
}

impl Board for EmulatedBoard {
    type Bus = Bus;

    fn name(&self) -> &'static str {
        "emulated"
    }

    fn serial(&self) -> u64 {
        1
    }

    fn bus(&mut self) -> &mut Bus {
        &mut self.bus
    }

    fn set_load_enable(&mut self, on: bool) {
        if self.load_is_enabled != Some(on) {
            self.tunnel.ask(kind::PIN, &[&[u8::from(on)]], &mut []);
            self.load_is_enabled = Some(on);
        }
    }

    fn cell_is_reversed(&mut self) -> bool {
        self.tunnel.cell_is_reversed()
    }

    fn second_look(&mut self) -> Option<LookCodes> {
        let mut codes = [0; 6];
        let answer = self.tunnel.ask(kind::LOOK, &[], &mut codes);
        let [f0, f1, c0, c1, r0, r1] = codes;
        let force = u16::from_le_bytes([f0, f1]);
        let current = u16::from_le_bytes([c0, c1]);
        let reference = u16::from_le_bytes([r0, r1]);
        (!answer.says(flag::REFUSED)).then_some(LookCodes { force, current, reference })
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        self.drain();
        let mut count = 0;
        for place in into {
            let Some(byte) = self.received.pop_front() else { break };
            *place = byte;
            count += 1;
            self.words = self.words.wrapping_add(u32::from(byte == 0 && self.last_taken != 0));
            self.last_taken = byte;
        }
        count
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        let count = bytes.iter().take(self.room).take_while(|byte| registers::give_byte(**byte)).count();
        self.room -= count;
        count
    }

    fn check_in(&mut self, part: Part) {
        if self.roll_call.check_in(part) {
            registers::feed_watchdog();
            self.fed = self.tunnel.now();
        }
    }

    fn stored_calibration(&mut self) -> Option<Calibration> {
        self.store.load()
    }

    fn boot(&mut self) -> Boot {
        let (before, panic, reset) = kept::take();
        let flash = self.store.flash();
        let (memory, boot) = Memory::begin(flash, JOURNAL_AT, before, panic, Some(reset));
        kept::number(boot.number);
        self.memory = Some(memory);
        boot
    }

    fn remember_trip(&mut self, trip: &Trip) {
        if let Some(memory) = &mut self.memory {
            memory.trip(self.store.flash(), trip);
        }
    }

    fn forget_trip(&mut self, trip: u32, now: Micros) {
        if let Some(memory) = &mut self.memory {
            memory.acknowledged(self.store.flash(), trip, now);
        }
    }

    fn store_calibration(&mut self, calibration: &Calibration) -> Result<(), StoreError> {
        self.store.save(calibration)
    }
}
