//! Who attends while something takes its time: one observer for all floors, each with events of its own.

use celltriage_protocol::event::Event;

/// Sees what happens, and passes on the wish to stop.
pub trait Attendant<E> {
    /// Sees an event, in order.
    fn sees(&mut self, event: &E);
    /// Returns whether the person wants to stop.
    fn stop_wanted(&self) -> bool;
}

/// Attends without looking, and never wants to stop.
#[derive(Clone, Copy, Debug, Default)]
pub struct Nobody;

impl<E> Attendant<E> for Nobody {
    fn sees(&mut self, _: &E) {}

    fn stop_wanted(&self) -> bool {
        false
    }
}

/// What happens while a plan runs.
// Made once for each event and passed by reference: a box would be an allocation for each block of samples.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Debug, PartialEq)]
pub enum RunEvent {
    /// The fixture reports.
    Fixture(Event),
    /// Something is odd about the link, in words.
    Remark(String),
}

/// An attendant that also keeps every frame of the run.
pub trait Recorder: Attendant<RunEvent> {
    /// Keeps a frame exactly as it was on the wire.
    ///
    /// # Errors
    /// A sentence; the run is then stopped, since what cannot be kept is not measured.
    fn keep(&mut self, frame: &[u8]) -> Result<(), String>;

    /// Returns whether what the run was for is known, so that it may end.
    fn settled(&self) -> bool {
        false
    }
}
