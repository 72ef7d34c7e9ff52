//! The journal: what happened before this start of the program, over resets and power failures.
//!
//! Takes entries and appends them to a sector of flash that was erased before; where it is full, the other sector is
//! erased, gets what still matters, and at last its first entry, which makes it the newer one. So a power failure at any
//! byte leaves all entries before it, or all of them and the new one. An entry takes 1 of 63 places of a sector of 4 KiB:
//! each sector is erased once in more than a hundred entries.

use crate::entry::{Entry, SIZE, What};
use celltriage_firmware::board::StoreError;
use celltriage_protocol::description::{PastPanic, PastTrip};
use embedded_storage::nor_flash::NorFlash;

/// What the entries come to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// Highest boot number of any entry; 0 where there is none.
    pub boot: u32,
    /// The last trip.
    pub trip: Option<PastTrip>,
    /// Whether nobody has acknowledged it.
    pub is_latched: bool,
    /// The last panic.
    pub panic: Option<PastPanic>,
}

impl Kept {
    fn take(&mut self, entry: &Entry) {
        let boot = entry.boot;
        self.boot = self.boot.max(boot);
        match &entry.what {
            What::Sector { .. } | What::Start => {}
            What::Trip(trip) => {
                self.trip = Some(PastTrip { boot, trip: *trip });
                self.is_latched = true;
            }
            What::Acknowledged { trip } => {
                self.is_latched &= self.trip.is_none_or(|past| past.trip.number != *trip);
            }
            What::Panic(place) => self.panic = Some(PastPanic { boot, place: place.clone() }),
        }
    }

    /// Returns the entries that come to the same.
    fn entries(&self) -> [Option<Entry>; 4] {
        let trip = self.trip.map(|past| Entry { boot: past.boot, what: What::Trip(past.trip) });
        let acknowledged = self
            .trip
            .filter(|_| !self.is_latched)
            .map(|past| Entry { boot: past.boot, what: What::Acknowledged { trip: past.trip.number } });
        let panic = self.panic.as_ref();
        let panic = panic.map(|past| Entry { boot: past.boot, what: What::Panic(past.place.clone()) });
        [Some(Entry { boot: self.boot, what: What::Start }), trip, acknowledged, panic]
    }
}

/// The journal.
#[derive(Clone, Debug)]
pub struct Journal {
    offset: u32,
    /// The newer sector and its generation, if either is one.
    active: Option<(u32, u32)>,
    /// The first free place in it.
    next: u32,
    kept: Kept,
}

impl Journal {
    /// Reads the journal in the two neighbouring sectors from `offset` (a multiple of the sector size) on.
    pub fn open<F: NorFlash>(flash: &mut F, offset: u32) -> Self {
        const {
            assert!(SIZE.is_multiple_of(F::WRITE_SIZE) && SIZE.is_multiple_of(F::READ_SIZE));
            assert!(F::ERASE_SIZE >= 6 * SIZE);
        }
        let sectors = [0, 1].map(|sector| match read(flash, offset + sector * F::ERASE_SIZE as u32) {
            Some(Entry { what: What::Sector { generation }, .. }) => Some((sector, generation)),
            _ => None,
        });
        let active = sectors.into_iter().flatten().max_by_key(|(_, generation)| *generation);
        let mut journal = Self { offset, active, next: 0, kept: Kept::default() };
        if let Some((sector, _)) = active {
            for place in 0..places::<F>() {
                let at = journal.place::<F>(sector, place);
                if let Some(entry) = read(flash, at) {
                    journal.kept.take(&entry);
                }
                // After a torn entry comes the next place; nothing is ever written over.
                if !is_erased(flash, at) {
                    journal.next = place + 1;
                }
            }
        }
        journal
    }

    /// Returns what the entries come to.
    pub const fn kept(&self) -> &Kept {
        &self.kept
    }

    /// Appends an entry.
    ///
    /// # Errors
    /// [`StoreError`] where the flash refuses or does not read back what was written; what was kept before still is.
    #[inline(never)]
    pub fn append<F: NorFlash>(&mut self, flash: &mut F, entry: &Entry) -> Result<(), StoreError> {
        let mut kept = self.kept.clone();
        kept.take(entry);
        match self.active {
            Some((sector, _)) if self.next < places::<F>() => {
                let at = self.place::<F>(sector, self.next);
                // Used up, whether it succeeds or not.
                self.next += 1;
                write(flash, at, entry)?;
            }
            _ => self.begin_sector(flash, &kept)?,
        }
        self.kept = kept;
        Ok(())
    }

    /// Writes what shall be kept into the sector that is not the newer one, and makes it so.
    #[inline(never)]
    fn begin_sector<F: NorFlash>(&mut self, flash: &mut F, kept: &Kept) -> Result<(), StoreError> {
        let (sector, generation) = match self.active {
            Some((sector, generation)) => (1 - sector, generation.checked_add(1).ok_or(StoreError)?),
            None => (0, 1),
        };
        let begin = self.place::<F>(sector, 0);
        flash.erase(begin, begin + F::ERASE_SIZE as u32).map_err(|_| StoreError)?;
        let mut next = 1;
        for entry in kept.entries().iter().flatten() {
            write(flash, self.place::<F>(sector, next), entry)?;
            next += 1;
        }
        write(flash, begin, &Entry { boot: kept.boot, what: What::Sector { generation } })?;
        (self.active, self.next) = (Some((sector, generation)), next);
        Ok(())
    }

    const fn place<F: NorFlash>(&self, sector: u32, place: u32) -> u32 {
        self.offset + sector * F::ERASE_SIZE as u32 + place * SIZE as u32
    }
}

const fn places<F: NorFlash>() -> u32 {
    (F::ERASE_SIZE / SIZE) as u32
}

fn read<F: NorFlash>(flash: &mut F, at: u32) -> Option<Entry> {
    let mut bytes = [0; SIZE];
    flash.read(at, &mut bytes).ok()?;
    Entry::from_bytes(&bytes)
}

fn is_erased<F: NorFlash>(flash: &mut F, at: u32) -> bool {
    let mut bytes = [0; SIZE];
    flash.read(at, &mut bytes).is_ok() && bytes == [0xFF; SIZE]
}

fn write<F: NorFlash>(flash: &mut F, at: u32, entry: &Entry) -> Result<(), StoreError> {
    flash.write(at, &entry.to_bytes().ok_or(StoreError)?).map_err(|_| StoreError)?;
    if read(flash, at).as_ref() == Some(entry) { Ok(()) } else { Err(StoreError) }
}
