//! A host for tests: asks, keeps the fixture company, collects events. It knows bytes only.

use crate::fixture::SimulatedFixture;
use crate::library::LibraryCell;
use crate::options::Options;
use crate::test_owner::Owner;
use celltriage_protocol::block::Sample;
use celltriage_protocol::event::{Event, Outcome, Trip};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::label::{CellLabel, CellPlan};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::reply::{Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros};

/// A host and its fixture.
#[derive(Clone)]
pub struct Host {
    pub fixture: SimulatedFixture,
    /// All events so far.
    pub events: Vec<Event>,
    /// All bytes so far.
    pub bytes: Vec<u8>,
    splitter: Splitter,
    owner: Owner,
    replies: Vec<(u32, Reply)>,
    sequence: u32,
    spoke_at: Micros,
    /// Events that came before the plan under way.
    earlier: usize,
    /// Label and charge limit of the cell that plans are for.
    label: CellLabel,
    charge_limit: MicroVolts,
}

impl Host {
    pub fn new(fixture: SimulatedFixture) -> Self {
        Self {
            fixture,
            events: Vec::new(),
            bytes: Vec::new(),
            splitter: Splitter::new(),
            owner: Owner::of(1, 1),
            replies: Vec::new(),
            sequence: 0,
            spoke_at: Micros::ZERO,
            earlier: 0,
            label: CellLabel::default(),
            charge_limit: MicroVolts::from_millivolts(4_350),
        }
    }

    /// The same for a cell of the library, whose label goes with each plan.
    pub fn with_cell(cell: &LibraryCell, options: Options) -> Self {
        let limit = (cell.parameters.tables().charge_limit_v * 1e6).round() as i32;
        Self {
            label: cell.label(),
            charge_limit: MicroVolts::new(limit),
            ..Self::new(SimulatedFixture::new(cell.parameters.clone(), options))
        }
    }

    pub fn say(&mut self, request: &Request) -> u32 {
        let meant = self.owner.meant(request);
        self.say_meant(request, &meant)
    }

    fn say_meant(&mut self, request: &Request, meant: &Request) -> u32 {
        self.sequence += 1;
        self.fixture.send(self.owner.encode(self.sequence, meant, &mut [0; MAX_ENCODED + 1]));
        // Nothing else counts as a word.
        if matches!(request, Request::KeepAlive | Request::Start { .. }) {
            self.spoke_at = self.fixture.now();
        }
        self.sequence
    }

    /// Lets time pass, without a word, until bytes come or the span is over.
    pub fn listen(&mut self, span: Micros) {
        let mut bytes = Vec::new();
        self.fixture.receive(span, &mut bytes);
        for &byte in &bytes {
            if let Some(Split::Candidate(candidate)) = self.splitter.push(byte) {
                let frame = frame::decode(candidate).unwrap();
                match frame.message.bare() {
                    Message::Reply(reply) => self.replies.push((frame.sequence, reply)),
                    Message::Event(event) => self.events.push(event),
                    other => panic!("the fixture must not ask: {other:?}"),
                }
            }
        }
        self.bytes.append(&mut bytes);
    }

    /// Asks and returns the one reply; of a fixture that has restarted, once more.
    pub fn ask(&mut self, request: &Request) -> Reply {
        let meant = self.owner.meant(request);
        let mut reply = self.ask_once(request, &meant);
        if self.owner.must_say_again(&reply) {
            reply = self.ask_once(request, &meant);
        }
        self.owner.hear(&meant, reply)
    }

    fn ask_once(&mut self, request: &Request, meant: &Request) -> Reply {
        let sequence = self.say_meant(request, meant);
        let deadline = self.fixture.now().saturating_add(Micros::from_secs(1));
        while self.fixture.now() < deadline {
            self.listen(Micros::from_millis(10));
            if let Some(index) = self.replies.iter().position(|(number, _)| *number == sequence) {
                return self.replies.remove(index).1;
            }
        }
        panic!("no reply to {request:?}")
    }

    /// Listens for a span and says now and then that it is there.
    pub fn stay(&mut self, span: Micros) {
        let deadline = self.fixture.now().saturating_add(span);
        while self.fixture.now() < deadline {
            self.keep_company(deadline);
        }
    }

    fn keep_company(&mut self, deadline: Micros) {
        let next_word = self.spoke_at.saturating_add(limits::KEEP_ALIVE);
        if self.fixture.now() >= next_word {
            self.say(&Request::KeepAlive);
        }
        let until = deadline.get().min(self.spoke_at.saturating_add(limits::KEEP_ALIVE).get());
        self.listen(Micros::new(until).saturating_sub(self.fixture.now()));
        self.replies.retain(|(_, reply)| !matches!(reply, Reply::Done | Reply::Rejected(_)));
    }

    /// Loads and starts a plan; returns whether the fixture accepted both.
    pub fn try_start(&mut self, steps: &[Step]) -> bool {
        self.earlier = self.events.len();
        let plan = Plan { charge_limit: self.charge_limit, ..plan(steps) };
        self.ask(&Request::Load(CellPlan { label: self.label, plan })) == Reply::Done
            && self.ask(&Request::Start { plan: 1 }) == Reply::Done
    }

    /// Loads and starts a plan; the fixture must accept both.
    pub fn start(&mut self, steps: &[Step]) {
        assert!(self.try_start(steps));
    }

    /// Keeps company until the plan has ended; returns how.
    pub fn finish(&mut self) -> Outcome {
        let mut seen = self.earlier;
        loop {
            let ended = self.events.iter().skip(seen).find_map(|event| match event {
                Event::PlanEnded { outcome, .. } => Some(*outcome),
                _ => None,
            });
            if let Some(outcome) = ended {
                return outcome;
            }
            seen = self.events.len();
            self.keep_company(Micros::MAX);
        }
    }

    /// Starts a plan and sees it through.
    pub fn run(&mut self, steps: &[Step]) -> Outcome {
        self.start(steps);
        self.finish()
    }

    /// Returns what the fixture says of itself.
    pub fn state(&mut self) -> State {
        match self.ask(&Request::ReadState) {
            Reply::State(state) => state,
            other => panic!("no state: {other:?}"),
        }
    }

    /// Returns the trip told last.
    pub fn trip(&self) -> Option<Trip> {
        self.events.iter().rev().find_map(|event| match event {
            Event::Tripped(trip) => Some(*trip),
            _ => None,
        })
    }

    /// Returns all samples of a step.
    pub fn samples(&self, step: u8) -> Vec<Sample> {
        let blocks = self.events.iter().filter_map(|event| match event {
            Event::Samples(block) if block.step == step => Some(block),
            _ => None,
        });
        blocks.flat_map(|block| block.samples().collect::<Vec<_>>()).collect()
    }
}

/// Plan number 1 for a cell of 4.35 V that may be loaded.
fn plan(steps: &[Step]) -> Plan {
    Plan {
        number: 1,
        charge_limit: MicroVolts::from_millivolts(4_350),
        permit: Permit::Load,
        steps: steps.iter().copied().collect(),
    }
}

/// Returns a step with bounds as wide as the limits allow.
pub fn step(action: Action, duration: Micros, sample_period_us: u32, report_every: u16) -> Step {
    // At rest no voltage is too low to be watched.
    let at_rest = action == Action::Rest;
    let bounds = Bounds {
        lowest_voltage: if at_rest { MicroVolts::ZERO } else { limits::LOWEST_PLAN_FLOOR },
        highest_temperature: limits::HOTTEST,
        highest_rise: limits::LARGEST_RISE,
        most_charge: MicroCoulombs::MAX,
    };
    Step { action, duration, sample_period_us, report_every, bounds }
}

/// Returns a rest sampled every 100 ms.
pub fn rest(seconds: u64) -> Step {
    step(Action::Rest, Micros::from_secs(seconds), 100_000, 1)
}

/// Returns a hold sampled every 10 ms.
pub fn hold(milliamps: i32, seconds: u64) -> Step {
    let current = MicroAmps::from_milliamps(milliamps);
    step(Action::Hold { current }, Micros::from_secs(seconds), 10_000, 1)
}

/// Returns a discharge to 3.0 V sampled every 100 ms and told once a second.
pub fn discharge(milliamps: i32) -> Step {
    discharge_to(milliamps, 3_000)
}

/// The same to another voltage, below the usual bound too.
pub fn discharge_to(milliamps: i32, floor_mv: i32) -> Step {
    let (current, floor) = (MicroAmps::from_milliamps(milliamps), MicroVolts::from_millivolts(floor_mv));
    let mut step = step(Action::Discharge { current, floor }, Micros::from_secs(8 * 3_600), 100_000, 10);
    step.bounds.lowest_voltage = step.bounds.lowest_voltage.min(floor);
    step
}
