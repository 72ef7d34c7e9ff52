//! The simulated board: the firmware's seam, filled with the simulated bench.
//!
//! Takes what the firmware asks of a board; gives it bench, byte queues and a store that lives as long as the board.

use crate::bench::Bench;
use crate::options::Options;
use crate::parameters::CellParameters;
use celltriage_firmware::board::{Board, Boot, LookCodes, StoreError};
use celltriage_firmware::roll_call::{Part, RollCall};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::description::{PastTrip, ResetCause};
use celltriage_protocol::event::Trip;
use celltriage_protocol::units::Micros;
use std::collections::VecDeque;

/// A board in virtual time.
#[derive(Clone, Debug)]
pub struct SimulatedBoard {
    /// The bench behind the bus.
    pub bench: Bench,
    /// Bytes on their way from the host to the fixture.
    pub from_host: VecDeque<u8>,
    /// Bytes on their way from the fixture to the host.
    pub to_host: Vec<u8>,
    serial: u64,
    calibration: Option<Calibration>,
    watchdog_fed: u64,
    roll_call: RollCall,
    boot: Boot,
    tripped: Option<PastTrip>,
    is_latched: bool,
}

impl SimulatedBoard {
    /// Returns a board that was just powered up, with a cell on it.
    pub fn new(parameters: CellParameters, options: &Options) -> Self {
        Self {
            bench: Bench::new(parameters, options),
            from_host: VecDeque::new(),
            to_host: Vec::new(),
            serial: options.serial,
            calibration: options.calibration,
            watchdog_fed: 0,
            roll_call: RollCall::default(),
            boot: Boot { number: 1, reset: Some(ResetCause::PowerOn), ..Boot::default() },
            tripped: None,
            is_latched: false,
        }
    }

    /// Takes the supply away for a moment: all is as after power-up but the stored calibration and the cell.
    pub fn power_cycle(&mut self) {
        self.bench.power_cycle();
        self.from_host.clear();
        self.to_host.clear();
        self.boot.number = self.boot.number.saturating_add(1);
        self.boot.trip = self.tripped;
        self.boot.latched = self.tripped.filter(|_| self.is_latched).map(|past| past.trip);
    }

    /// Returns how often the watchdog was fed.
    pub const fn watchdog_fed(&self) -> u64 {
        self.watchdog_fed
    }
}

impl Board for SimulatedBoard {
    type Bus = Bench;

    fn name(&self) -> &'static str {
        "simulated"
    }

    fn serial(&self) -> u64 {
        self.serial
    }

    fn bus(&mut self) -> &mut Bench {
        &mut self.bench
    }

    fn set_load_enable(&mut self, on: bool) {
        self.bench.set_load_enable(on);
    }

    fn cell_is_reversed(&mut self) -> bool {
        self.bench.cell_is_reversed()
    }

    fn second_look(&mut self) -> Option<LookCodes> {
        self.bench.second_look()
    }

    fn receive(&mut self, into: &mut [u8]) -> usize {
        let count = into.len().min(self.from_host.len());
        for (place, byte) in into.iter_mut().zip(self.from_host.drain(..count)) {
            *place = byte;
        }
        count
    }

    fn send(&mut self, bytes: &[u8]) -> usize {
        self.to_host.extend_from_slice(bytes);
        bytes.len()
    }

    fn check_in(&mut self, part: Part) {
        // Here the fixture is all there is of the program.
        for part in [Part::Port, Part::Main, part] {
            self.watchdog_fed += u64::from(self.roll_call.check_in(part));
        }
    }

    fn stored_calibration(&mut self) -> Option<Calibration> {
        self.calibration
    }

    fn store_calibration(&mut self, calibration: &Calibration) -> Result<(), StoreError> {
        self.calibration = Some(*calibration);
        Ok(())
    }

    fn boot(&mut self) -> Boot {
        self.boot.clone()
    }

    fn remember_trip(&mut self, trip: &Trip) {
        self.tripped = Some(PastTrip { boot: self.boot.number, trip: *trip });
        self.is_latched = true;
    }

    fn forget_trip(&mut self, trip: u32, _: Micros) {
        self.is_latched &= self.tripped.is_none_or(|past| past.trip.number != trip);
    }
}
