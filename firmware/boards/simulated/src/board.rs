//! The simulated board: the firmware's seam, filled with the simulated bench.
//!
//! Takes what the firmware asks of a board; gives it bench, byte queues and a store that lives as long as the board.

use crate::bench::Bench;
use crate::boot_program::{BootProgram, Taken};
use crate::options::Options;
use crate::parameters::CellParameters;
use celltriage_firmware::board::{Board, Boot, LookCodes, StoreError};
use celltriage_firmware::roll_call::{Part, RollCall};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::description::{PastTrip, ResetCause};
use celltriage_protocol::event::Trip;
use celltriage_protocol::image_marker::{self, ImageMarker};
use celltriage_protocol::units::Micros;
use std::collections::VecDeque;

/// What the board calls itself.
pub const NAME: &str = "simulated";
/// Its revision, which it tells with a program that can be replaced.
pub const REVISION: &str = "A";

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
    /// The flash with the program, where it can be replaced, and the commit that its marker names.
    program: Option<(BootProgram, Option<String>)>,
    in_boot_program: bool,
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
            program: None,
            in_boot_program: false,
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
        self.choose_program();
    }

    /// Puts the content of an image into the flash: the board is one whose program can be replaced.
    pub fn install(&mut self, content: &[u8]) {
        self.program = Some((BootProgram::with(content), commit_of(content)));
    }

    /// Returns whether the boot program runs, and its drive is there.
    pub const fn is_in_boot_program(&self) -> bool {
        self.in_boot_program
    }

    /// Returns the flash, where there is one.
    pub fn flash(&self) -> Option<&[u8]> {
        self.program.as_ref().map(|(program, _)| program.flash())
    }

    /// Writes 512 bytes to the boot program's drive. Returns whether the chip restarts.
    pub fn write_to_drive(&mut self, block: &[u8]) -> bool {
        match &mut self.program {
            Some((program, _)) if self.in_boot_program => program.take(block) == Taken::Complete,
            _ => false,
        }
    }

    /// The boot program looks what it can start.
    pub fn choose_program(&mut self) {
        if let Some((program, commit)) = &mut self.program {
            program.power_cycle();
            self.in_boot_program = !program.starts();
            *commit = commit_of(program.flash());
        }
    }

    /// Returns how often the watchdog was fed.
    pub const fn watchdog_fed(&self) -> u64 {
        self.watchdog_fed
    }
}

impl Board for SimulatedBoard {
    type Bus = Bench;

    fn name(&self) -> &'static str {
        NAME
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

    fn commit(&self) -> Option<&str> {
        self.program.as_ref().and_then(|(_, commit)| commit.as_deref())
    }

    fn revision(&self) -> Option<&str> {
        self.program.as_ref().map(|_| REVISION)
    }

    fn has_boot_loader(&self) -> bool {
        self.program.is_some()
    }

    fn enter_boot_loader(&mut self) {
        self.bench.set_load_enable(false);
        self.in_boot_program = true;
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

/// Returns the commit that the marker of an image names.
fn commit_of(content: &[u8]) -> Option<String> {
    let searched = content.get(..image_marker::SEARCHED)?;
    let at = searched.windows(image_marker::MARK.len()).position(|bytes| bytes == image_marker::MARK)?;
    ImageMarker::read(content.get(at..)?).ok()?.commit.map(str::to_owned)
}
