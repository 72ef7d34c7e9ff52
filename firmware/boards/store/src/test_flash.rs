//! A flash for tests, whose power can fail in the middle of any operation.
//!
//! A write can only clear bits and an erase sets all bits of a sector, as NOR flash does. Where the power fails, part
//! of the bytes are done and the one after them is half done: some of its bits have changed, others not.

extern crate std;

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash};
use std::vec::Vec;

/// Size of a sector.
pub const SECTOR: usize = 512;

/// The power is gone.
#[derive(Debug)]
pub struct PowerFailed;

impl NorFlashError for PowerFailed {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

/// The flash.
#[derive(Clone, Debug)]
pub struct TestFlash {
    /// Its content.
    pub bytes: Vec<u8>,
    /// How many more bytes can be erased or written before the power fails.
    pub power: usize,
    /// Which bits of the byte under work have changed when the power fails.
    pub torn: u8,
    /// Whether an erase changes nothing, and says nothing of it.
    pub sectors_are_dead: bool,
    /// How many bytes were erased or written.
    pub work: usize,
}

impl TestFlash {
    /// Returns a flash of three sectors with leftovers of something else in it.
    pub fn new() -> Self {
        let bytes = (0..3 * SECTOR).map(|k| (k * 37) as u8).collect();
        Self { bytes, power: usize::MAX, torn: 0, sectors_are_dead: false, work: 0 }
    }

    fn change(&mut self, at: usize, to: u8) -> Result<(), PowerFailed> {
        let byte = &mut self.bytes[at];
        if self.power == 0 {
            *byte = *byte & !self.torn | to & self.torn;
            return Err(PowerFailed);
        }
        self.power -= 1;
        self.work += 1;
        *byte = to;
        Ok(())
    }
}

impl ErrorType for TestFlash {
    type Error = PowerFailed;
}

impl ReadNorFlash for TestFlash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, into: &mut [u8]) -> Result<(), PowerFailed> {
        into.copy_from_slice(&self.bytes[offset as usize..offset as usize + into.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl NorFlash for TestFlash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), PowerFailed> {
        assert!((from as usize).is_multiple_of(SECTOR) && (to as usize).is_multiple_of(SECTOR));
        if self.sectors_are_dead {
            return Ok(());
        }
        (from as usize..to as usize).try_for_each(|at| self.change(at, 0xFF))
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), PowerFailed> {
        for (at, byte) in (offset as usize..).zip(bytes) {
            self.change(at, self.bytes[at] & byte)?;
        }
        Ok(())
    }
}
