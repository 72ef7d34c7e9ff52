//! Keeps the calibration in flash: two copies, so that a power failure at any moment leaves the old or the new one. Beside
//! it, in sectors of its own, the [`journal`] of what happened before.
//!
//! Takes a [`NorFlash`] and the place of two sectors in it; gives the newest calibration that is whole, and stores
//! another. A save erases and writes only the sector that does not hold the newest copy, then reads it back. Each
//! copy is a [`record`] with a number and a CRC, so a copy that was cut short is seen and passed over.
#![no_std]
#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod allowance;
pub mod entry;
pub mod journal;
#[cfg(test)]
mod journal_tests;
pub mod keep;
pub mod memory;
pub mod record;
#[cfg(test)]
mod test_flash;
#[cfg(test)]
mod tests;

use celltriage_firmware::board::StoreError;
use celltriage_protocol::calibration::Calibration;
use embedded_storage::nor_flash::NorFlash;
use record::Record;

/// Saves in the life of a fixture. Each of the two sectors is erased at every second one, so 10,000 times: a tenth of what
/// flash of the class bears (100,000 cycles a sector, data sheets of the class, from memory). Our choice: one a week is 400
/// years.
pub const MOST_SAVES: u32 = 20_000;

/// The store.
#[derive(Clone, Debug)]
pub struct Store<F> {
    flash: F,
    /// Where each copy begins; each has a sector of its own.
    copies: [u32; 2],
}

impl<F: NorFlash> Store<F> {
    /// Takes a flash of which two neighbouring sectors from `offset` (a multiple of the sector size) are the store's.
    pub const fn new(flash: F, offset: u32) -> Self {
        const {
            assert!(record::SIZE.is_multiple_of(F::WRITE_SIZE) && record::SIZE.is_multiple_of(F::READ_SIZE));
            assert!(record::SIZE <= F::ERASE_SIZE);
        }
        Self { flash, copies: [offset, offset + F::ERASE_SIZE as u32] }
    }

    /// Returns the newest calibration that is whole, if there is one.
    pub fn load(&mut self) -> Option<Calibration> {
        self.newest().map(|(_, record)| record.calibration)
    }

    /// Stores a calibration; the one before stays until the new one is whole.
    ///
    /// # Errors
    /// [`StoreError`] where the flash refuses or does not read back what was written, or beyond [`MOST_SAVES`]; [`Store::load`] then still gives
    /// what it gave before.
    pub fn save(&mut self, calibration: &Calibration) -> Result<(), StoreError> {
        let [first, second] = self.copies;
        let (place, number) = match self.newest() {
            Some((newest, record)) => (
                if newest == first { second } else { first },
                record.number.checked_add(1).filter(|number| *number <= MOST_SAVES).ok_or(StoreError)?,
            ),
            None => (first, 1),
        };
        let record = Record { number, calibration: *calibration };
        let end = place.saturating_add(F::ERASE_SIZE as u32);
        self.flash.erase(place, end).map_err(|_| StoreError)?;
        self.flash.write(place, &record.to_bytes().ok_or(StoreError)?).map_err(|_| StoreError)?;
        if self.read(place) == Some(record) { Ok(()) } else { Err(StoreError) }
    }

    /// Returns the flash, for what else lies in it.
    pub const fn flash(&mut self) -> &mut F {
        &mut self.flash
    }

    fn newest(&mut self) -> Option<(u32, Record)> {
        let found = self.copies.map(|place| self.read(place).map(|record| (place, record)));
        found.into_iter().flatten().max_by_key(|(_, record)| record.number)
    }

    fn read(&mut self, place: u32) -> Option<Record> {
        let mut bytes = [0; record::SIZE];
        self.flash.read(place, &mut bytes).ok()?;
        Record::from_bytes(&bytes)
    }
}
