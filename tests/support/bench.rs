//! A bench that the test can look into, and an attendant that collects what a run says.

use celltriage_link::{Attendant, Link, LinkError, Recorder, RunEvent};
use celltriage_protocol::event::Event;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::time::Duration;

/// A simulated fixture that the test can look into while the host talks to it.
#[derive(Clone)]
pub struct SharedBench(pub Rc<RefCell<SimulatedFixture>>, Rc<Cell<u64>>);

impl SharedBench {
    /// Shares a fixture.
    pub fn new(fixture: SimulatedFixture) -> Self {
        Self(Rc::new(RefCell::new(fixture)), Rc::default())
    }

    /// A sound cell on a bench of its own.
    pub fn sound(seed: u64) -> Self {
        let cell = library::sound();
        let options = cell.options(seed);
        Self::new(SimulatedFixture::new(cell.parameters, options))
    }
}

impl Link for SharedBench {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.0.borrow_mut().send(bytes);
        Ok(())
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let span = Micros::new(u64::try_from(wait.as_micros()).unwrap_or(u64::MAX));
        Ok(self.0.borrow_mut().receive(span, into))
    }

    /// The same numbers on every bench, and others for each host on it.
    fn draw(&mut self) -> u64 {
        self.1.set(
            self.1.get().wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407),
        );
        self.1.get()
    }

    fn describe(&self) -> String {
        "shared bench".to_owned()
    }
}

/// Collects frames and events; stops after a number of events, if told to.
#[derive(Default)]
pub struct Collector {
    /// All frames as they stood on the wire.
    pub frames: Vec<u8>,
    /// All events in order.
    pub events: Vec<Event>,
    /// Wants to stop once this many events were seen.
    pub stop_after: Option<usize>,
    /// Wants to stop once something odd was said of the link.
    pub stop_at_remark: bool,
    /// What was said of the link.
    pub remarks: Vec<String>,
}

impl Attendant<RunEvent> for Collector {
    fn sees(&mut self, event: &RunEvent) {
        match event {
            RunEvent::Fixture(event) => {
                self.events.push(event.clone());
            }
            RunEvent::Remark(text) => {
                self.remarks.push(text.to_owned());
            }
        }
    }

    fn stop_wanted(&self) -> bool {
        self.stop_after.is_some_and(|limit| self.events.len() >= limit)
            || self.stop_at_remark && !self.remarks.is_empty()
    }
}

impl Recorder for Collector {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.frames.extend_from_slice(frame);
        Ok(())
    }
}
