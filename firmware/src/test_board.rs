//! A board for this crate's tests: the test bus, a byte link with as much room as a test wants, a store.
//!
//! Much simpler than the simulated board on purpose: no time, no noise, no settling, so that a test sees the
//! firmware's logic and nothing else.

extern crate std;

use crate::board::{Board, Boot, LookCodes, StoreError};
use crate::roll_call::{Part, RollCall};
use crate::test_bus::TestBus;
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::Trip;
use celltriage_protocol::frame::{Frame, decode};
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::Micros;
use std::collections::VecDeque;
use std::vec::Vec;

/// The board.
#[derive(Clone, Debug)]
pub struct TestBoard {
    /// The bus and all behind it.
    pub bus: TestBus,
    /// What the polarity comparator says.
    pub reversed: bool,
    /// What the host has sent.
    pub to_fixture: VecDeque<u8>,
    /// What the fixture has sent.
    pub to_host: Vec<u8>,
    /// How many bytes the link still takes.
    pub room: usize,
    /// The stored calibration.
    pub stored: Option<Calibration>,
    /// Whether the store fails.
    pub store_fails: bool,
    /// How often the watchdog was fed.
    pub fed: u64,
    /// Who of the program has spoken.
    pub roll_call: RollCall,
    /// What is known of this start.
    pub boot: Boot,
    /// The trips that it was to remember.
    pub remembered: Vec<Trip>,
    /// The trips that were acknowledged.
    pub forgotten: Vec<u32>,
    /// Whether it has a boot loader.
    pub has_boot_loader: bool,
    /// Whether it is in its boot loader.
    pub in_boot_loader: bool,
    /// Whether the controller's own converter works.
    pub looks: bool,
}

impl Default for TestBoard {
    fn default() -> Self {
        Self {
            bus: TestBus::default(),
            reversed: false,
            to_fixture: VecDeque::new(),
            to_host: Vec::new(),
            room: usize::MAX,
            stored: None,
            store_fails: false,
            fed: 0,
            roll_call: RollCall::default(),
            boot: Boot { number: 1, ..Boot::default() },
            remembered: Vec::new(),
            forgotten: Vec::new(),
            has_boot_loader: true,
            in_boot_loader: false,
            looks: true,
        }
    }
}

impl TestBoard {
    /// Takes all whole frames that the fixture has sent.
    pub fn sent_frames(&mut self) -> Vec<Frame> {
        let mut splitter = Splitter::new();
        let mut frames = Vec::new();
        for byte in std::mem::take(&mut self.to_host) {
            if let Some(Split::Candidate(candidate)) = splitter.push(byte) {
                frames.push(decode(candidate).unwrap());
            }
        }
        frames
    }
}

impl Board for TestBoard {
    type Bus = TestBus;

    fn name(&self) -> &'static str {
        "a test board with a long name"
    }

    fn serial(&self) -> u64 {
        77
    }

    fn bus(&mut self) -> &mut TestBus {
        &mut self.bus
    }

    fn set_load_enable(&mut self, on: bool) {
        self.bus.enabled = on;
    }

    fn cell_is_reversed(&mut self) -> bool {
        self.reversed
    }

    fn second_look(&mut self) -> Option<LookCodes> {
        // Pins in microvolts: half of the cell's voltage, 50 mV per ampere, half of 3.3 V; 4,096 steps of 3.3 V.
        let code = |pin_uv: i64| (pin_uv.max(0) * 4_096 / 3_300_000) as u16;
        let current_ua = self.bus.current_ua();
        let voltage_uv = self.bus.open_voltage_uv - current_ua * self.bus.resistance_uohm / 1_000_000;
        self.looks.then(|| LookCodes {
            force: code(voltage_uv / 2),
            current: code(current_ua / 20),
            reference: code(1_650_000),
        })
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        let count = into.len().min(self.to_fixture.len());
        for (place, byte) in into.iter_mut().zip(self.to_fixture.drain(..count)) {
            *place = byte;
        }
        count
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        let count = bytes.len().min(self.room);
        self.to_host.extend_from_slice(&bytes[..count]);
        self.room -= if self.room == usize::MAX { 0 } else { count };
        count
    }

    fn check_in(&mut self, part: Part) {
        // What the board itself has to say is always said here.
        let _ = (self.roll_call.check_in(Part::Port), self.roll_call.check_in(Part::Main));
        self.fed += u64::from(self.roll_call.check_in(part));
    }

    fn stored_calibration(&mut self) -> Option<Calibration> {
        self.stored
    }

    fn store_calibration(&mut self, calibration: &Calibration) -> Result<(), StoreError> {
        if self.store_fails {
            return Err(StoreError);
        }
        self.stored = Some(*calibration);
        Ok(())
    }

    fn boot(&mut self) -> Boot {
        self.boot.clone()
    }

    fn remember_trip(&mut self, trip: &Trip) {
        self.remembered.push(*trip);
    }

    fn forget_trip(&mut self, trip: u32, _: Micros) {
        self.forgotten.push(trip);
    }

    fn has_boot_loader(&self) -> bool {
        self.has_boot_loader
    }

    fn enter_boot_loader(&mut self) {
        self.in_boot_loader = true;
    }
}
