//! Where an update happens: time, the drives of boot programs, the fixture's port. The real one, and one on the simulated bench.

use super::drive::{self, Drive, NotWritten};
use super::uf2::BLOCK;
use crate::choice::FixtureChoice;
use crate::connected::Connected;
use crate::error::Result;
use celltriage_book::Book;
use celltriage_link::{Client, LinkError, SimulatedLink, ports};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The outside world of an update.
pub trait Site {
    /// Returns the time since some moment.
    fn now(&self) -> Duration;

    /// Lets time pass.
    fn wait(&mut self, span: Duration);

    /// Returns the drives of boot programs that can be written to.
    fn drives(&mut self) -> Vec<Drive>;

    /// Returns the device of one that is there but not mounted.
    fn unmounted(&mut self) -> Option<PathBuf>;

    /// Writes a file onto a drive in pieces, one after the other.
    ///
    /// # Errors
    /// [`NotWritten`].
    fn write(&mut self, drive: &Drive, pieces: &[&[u8]]) -> Result<(), NotWritten>;

    /// Connects to the fixture with this serial number, or to the only one there is.
    ///
    /// # Errors
    /// It is not there, or cannot be talked to, now.
    fn connect(&mut self, serial: Option<u64>) -> Result<Connected>;
}

/// This computer.
pub struct ThisComputer {
    choice: FixtureChoice,
    drive: Option<PathBuf>,
    began: Instant,
}

impl ThisComputer {
    /// Takes the fixture's choice, and the drive's folder where a person has named it.
    pub fn new(choice: FixtureChoice, drive: Option<PathBuf>) -> Self {
        Self { choice, drive, began: Instant::now() }
    }
}

impl Site for ThisComputer {
    fn now(&self) -> Duration {
        self.began.elapsed()
    }

    fn wait(&mut self, span: Duration) {
        std::thread::sleep(span);
    }

    fn drives(&mut self) -> Vec<Drive> {
        match &self.drive {
            Some(path) => Drive::at(path).filter(Drive::is_the_chips).into_iter().collect(),
            None => drive::mounted(),
        }
    }

    fn unmounted(&mut self) -> Option<PathBuf> {
        drive::unmounted()
    }

    fn write(&mut self, drive: &Drive, pieces: &[&[u8]]) -> Result<(), NotWritten> {
        drive::write(&drive.path, pieces, |_| Ok(()))
    }

    fn connect(&mut self, serial: Option<u64>) -> Result<Connected> {
        let Some(serial) = serial else { return self.choice.connect(None) };
        // It may come back under another name.
        match (ports::port_of(serial)?, &self.choice) {
            (Some(name), _) => FixtureChoice::Port(Some(name)).connect(None),
            // A port without USB texts: the name that the person gave is all there is to go by.
            (None, FixtureChoice::Port(Some(_))) => self.choice.connect(None),
            // No other fixture is asked instead.
            (None, _) => Err(LinkError::NoFixture { others: Vec::new() }.into()),
        }
    }
}

/// The simulated bench, with a folder that plays the drive; without one the drive is not mounted. Its time is its own.
pub struct SimulatedSite {
    bench: SimulatedLink,
    folder: Option<PathBuf>,
    now: Duration,
}

impl SimulatedSite {
    /// Takes a bench and the folder.
    pub const fn new(bench: SimulatedLink, folder: Option<PathBuf>) -> Self {
        Self { bench, folder, now: Duration::ZERO }
    }

    fn place(&self) -> Option<&Path> {
        self.folder.as_deref().filter(|_| self.bench.is_in_boot_program())
    }
}

/// What the drive says of itself, as the chip's does.
const INFO: &str = "UF2 Bootloader v1.0\r\nModel: Raspberry Pi RP2350\r\nBoard-ID: RP2350\r\n";

impl Site for SimulatedSite {
    fn now(&self) -> Duration {
        self.now
    }

    fn wait(&mut self, span: Duration) {
        self.now += span;
        self.bench.pass(span);
    }

    fn drives(&mut self) -> Vec<Drive> {
        let shown = self.place().and_then(|folder| {
            fs::write(folder.join("INFO_UF2.TXT"), INFO).ok()?;
            Drive::at(folder)
        });
        shown.into_iter().collect()
    }

    fn unmounted(&mut self) -> Option<PathBuf> {
        None
    }

    fn write(&mut self, drive: &Drive, pieces: &[&[u8]]) -> Result<(), NotWritten> {
        let copy = drive.path.join(drive::COPY);
        let mut read = 0;
        let written = drive::write(&drive.path, pieces, |_| {
            let file = fs::read(&copy)?;
            let new = file.get(read..).ok_or(io::ErrorKind::UnexpectedEof)?;
            new.chunks_exact(BLOCK).for_each(|block| self.bench.write_to_drive(block));
            read = file.len();
            Ok(())
        });
        if !self.bench.is_in_boot_program() {
            // The chip has restarted and taken its drive with it.
            let _it_may_be_gone = [fs::remove_file(copy), fs::remove_file(drive.path.join("INFO_UF2.TXT"))];
        }
        written
    }

    fn connect(&mut self, _: Option<u64>) -> Result<Connected> {
        let (client, identity, state) = Client::connect(self.bench.clone())?;
        Ok(Connected { client, identity, state, bench: Some(self.bench.clone()) })
    }
}

/// Connects to a fixture that is to get another program, and says where that happens. A simulated one is then a fixture whose
/// program can be replaced; `drive` is the folder of the boot program's drive where a person has named one.
///
/// # Errors
/// No fixture, a port that cannot be opened, a book that cannot be read.
pub fn connect(
    choice: &FixtureChoice,
    book: Option<&Book>,
    drive: Option<PathBuf>,
) -> Result<(Connected, Box<dyn Site>)> {
    match choice.simulated(book)? {
        Some(bench) => {
            let mut site = SimulatedSite::new(bench.with_a_program(), drive);
            Ok((site.connect(None)?, Box::new(site)))
        }
        None => Ok((choice.connect(book)?, Box::new(ThisComputer::new(choice.clone(), drive)))),
    }
}

/// Returns whether an error means that the fixture is not there now and may come back.
pub(super) const fn may_come_back(error: &LinkError) -> bool {
    !matches!(error, LinkError::TooNew { .. } | LinkError::TooOld { .. } | LinkError::Several { .. })
}
