//! What differs from board to board: one bus, one enable pin, one polarity pin, a converter, a byte link, a watchdog, a store.
//!
//! Time is not in here: whoever calls [`crate::fixture::Fixture::serve`] says what time it is, so the same code runs
//! against a crystal, an emulator's clock or virtual time.

use crate::bus::Freeable;
use crate::roll_call::Part;
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::description::{PastPanic, PastTrip, ResetCause};
use celltriage_protocol::event::Trip;
use celltriage_protocol::units::Micros;

/// The permanent store did not take or keep the calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StoreError;

/// What a board knows of this start of the program and of what was before it. The default knows nothing and says so.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Boot {
    /// Rises with each start of the program, over resets and power cycles; 0 where the board cannot count them.
    pub number: u32,
    /// Why the program started.
    pub reset: Option<ResetCause>,
    /// The last panic before this start.
    pub panic: Option<PastPanic>,
    /// The last trip before this start.
    pub trip: Option<PastTrip>,
    /// That trip, where nobody has acknowledged it: it is latched again.
    pub latched: Option<Trip>,
}

/// What the controller's own converter reads, as codes of twelve bits. What lies between its pins and the cell is told in
/// [`crate::second_look`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LookCodes {
    /// Half of the voltage on the positive force lead.
    pub force: u16,
    /// The voltage on the sink's own sense resistor.
    pub current: u16,
    /// Half of the set-point converter's reference: what the other two are measured by.
    pub reference: u16,
}

/// A board that carries the fixture.
pub trait Board {
    /// The bus with the power monitor, the two thermometers and the set-point converter. No transfer takes longer than
    /// [`crate::bus::LONGEST_TRANSFER`].
    type Bus: Freeable;

    /// Returns the board's name, at most 24 bytes, e.g. `simulated`.
    fn name(&self) -> &'static str;

    /// Returns this fixture's serial number.
    fn serial(&self) -> u64;

    /// Returns the bus.
    fn bus(&mut self) -> &mut Self::Bus;

    /// Drives the load-enable pin; off is the level that the pin has without power or program.
    fn set_load_enable(&mut self, on: bool);

    /// Returns whether the polarity comparator sees a reversed cell. A board that cannot tell must say `true`.
    fn cell_is_reversed(&mut self) -> bool;

    /// Reads the controller's own converter, apart from the bus; `None` where a conversion has failed. Takes less than 0.1 ms.
    fn second_look(&mut self) -> Option<LookCodes>;

    /// Takes bytes that have come from the host, at most the buffer's length; returns how many. Never waits.
    fn receive(&mut self, into: &mut [u8]) -> usize;

    /// Hands bytes to the link; returns how many it took. Never waits.
    fn send(&mut self, bytes: &[u8]) -> usize;

    /// Takes a part's word that it is alive: the hardware watchdog is fed once each part has said so
    /// ([`crate::roll_call`]).
    fn check_in(&mut self, part: Part);

    /// Returns the stored calibration, or `None` if none is stored or it is damaged.
    fn stored_calibration(&mut self) -> Option<Calibration>;

    /// Stores a calibration for good.
    ///
    /// # Errors
    /// [`StoreError`] where the store failed; the old calibration is then still there.
    fn store_calibration(&mut self, calibration: &Calibration) -> Result<(), StoreError>;

    /// Returns the commit that the program was built from, at most 16 bytes; `None` where that is not known.
    fn commit(&self) -> Option<&str> {
        None
    }

    /// Returns the revision of the board, at most 8 bytes; `None` where it has none.
    fn revision(&self) -> Option<&str> {
        None
    }

    /// Returns what is known of this start of the program. Called once, at the start.
    fn boot(&mut self) -> Boot {
        Boot::default()
    }

    /// Keeps a trip for [`Boot::trip`] of later starts. Called right after the load is off. A board without a memory over
    /// resets keeps nothing.
    fn remember_trip(&mut self, trip: &Trip) {
        let _nothing_is_kept = trip;
    }

    /// Keeps that a person has acknowledged the trip with this number, so that later starts do not latch it again.
    fn forget_trip(&mut self, trip: u32, now: Micros) {
        let _nothing_is_kept = (trip, now);
    }

    /// Returns whether the board can leave the program for its boot loader.
    fn has_boot_loader(&self) -> bool {
        false
    }

    /// Leaves the program for the boot loader. Called only where the board has one, with the load off, no plan loaded, and
    /// the answer on its way; where it comes back, the program goes on as before.
    fn enter_boot_loader(&mut self) {}
}
