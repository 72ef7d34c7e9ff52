//! The flash that keeps the calibration: its bytes lie with the bench, so that they outlive the emulator.

use crate::tunnel::Tunnel;
use crate::words::{FLASH, SECTOR, flag, kind};
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};

/// Most bytes of one question.
const PIECE: usize = 128;

/// The flash.
#[derive(Debug)]
pub struct Flash {
    tunnel: &'static Tunnel,
}

impl Flash {
    /// Returns the flash at the far end of a tunnel.
    pub const fn new(tunnel: &'static Tunnel) -> Self {
        Self { tunnel }
    }

    fn ask(&self, kind: u8, parts: &[&[u8]], rest: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        match self.tunnel.ask(kind, parts, rest).says(flag::REFUSED) {
            true => Err(NorFlashErrorKind::Other),
            false => Ok(()),
        }
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, into: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        for (index, piece) in into.chunks_mut(PIECE).enumerate() {
            let from = offset.saturating_add((index * PIECE) as u32).to_le_bytes();
            let length = (piece.len() as u16).to_le_bytes();
            self.ask(kind::FLASH_READ, &[&from, &length], piece)?;
        }
        Ok(())
    }

    fn capacity(&self) -> usize {
        FLASH
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 4;
    const ERASE_SIZE: usize = SECTOR;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.ask(kind::FLASH_ERASE, &[&from.to_le_bytes(), &to.to_le_bytes()], &mut [])
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        for (index, piece) in bytes.chunks(PIECE).enumerate() {
            let from = offset.saturating_add((index * PIECE) as u32).to_le_bytes();
            self.ask(kind::FLASH_WRITE, &[&from, piece], &mut [])?;
        }
        Ok(())
    }
}
