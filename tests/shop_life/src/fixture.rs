//! The shop's fixture: the real firmware on the simulated bench, several hands on it, and what is true there.

use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::library::{self, LibraryCell};
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::CellParameters;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::time::Duration;

/// Less current than this is none: the sink's leakage and the meter's zero.
const NO_CURRENT_A: f64 = 1e-3;

/// A hand on the fixture; a clone is another one.
#[derive(Clone)]
pub struct Fixture {
    bench: Rc<RefCell<SimulatedFixture>>,
    /// What must not have happened, in words; the first.
    breach: Rc<RefCell<Option<String>>>,
    /// Whether a run under way was cut off: its host was killed, or its fixture restarted.
    cut_off: Rc<Cell<bool>>,
    /// Whether a run ever was under way.
    has_run: Rc<Cell<bool>>,
}

impl Fixture {
    pub fn new(parameters: CellParameters, options: Options) -> Self {
        let bench = Rc::new(RefCell::new(SimulatedFixture::new(parameters, options)));
        Self { bench, breach: Rc::default(), cut_off: Rc::default(), has_run: Rc::default() }
    }

    pub fn send(&self, bytes: &[u8]) {
        self.bench.borrow_mut().send(bytes);
    }

    pub fn receive(&self, into: &mut Vec<u8>, wait: Duration) -> usize {
        let came = self.bench.borrow_mut().receive(micros(wait), into);
        if !self.has_run.get() {
            self.has_run.set(self.bench.borrow().activity() == Activity::Running);
        }
        came
    }

    /// Says whether a run ever was under way.
    pub fn has_run(&self) -> bool {
        self.has_run.get()
    }

    /// Notes that whatever runs is cut off now.
    pub fn cut_off(&self) {
        let running = self.bench.borrow().activity() == Activity::Running;
        self.cut_off.set(self.cut_off.get() || running);
    }

    /// Says whether a run was cut off.
    pub fn was_cut_off(&self) -> bool {
        self.cut_off.get()
    }

    pub fn power_cycle(&self) {
        self.cut_off();
        self.bench.borrow_mut().power_cycle();
    }

    /// Time since the bench was made.
    pub fn now(&self) -> Duration {
        Duration::from_micros(self.bench.borrow().now().get())
    }

    /// Lets time pass while nobody talks to the fixture; what it says is heard by nobody.
    pub fn pass(&self, span: Duration) {
        let end = self.now() + span;
        while self.now() < end {
            self.receive(&mut Vec::new(), end - self.now());
        }
    }

    /// The current that truly flows, in amperes; `None` where it is none.
    pub fn current_a(&self) -> Option<f64> {
        let truth = self.bench.borrow_mut().truth()?;
        (truth.current_a.abs() > NO_CURRENT_A).then_some(truth.current_a)
    }

    /// Notes current that should not flow.
    pub fn no_current(&self, when: &str) {
        if let Some(amps) = self.current_a() {
            self.breach.borrow_mut().get_or_insert_with(|| format!("{amps} A flow {when}"));
        }
    }

    /// What must not have happened.
    pub fn breach(&self) -> Option<String> {
        self.breach.borrow().clone()
    }
}

/// Finds a cell of the library by its kind on the bench.
pub fn library_cell(kind: &str) -> Option<LibraryCell> {
    let called = |cell: &LibraryCell| cell.parameters.tables().name.replace([' ', '_'], "-");
    library::all().into_iter().find(|cell| called(cell) == kind)
}

fn micros(span: Duration) -> Micros {
    Micros::new(u64::try_from(span.as_micros()).unwrap_or(u64::MAX))
}
