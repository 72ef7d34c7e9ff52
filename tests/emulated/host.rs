//! A host that lets a test do what the real one never would: stay silent, vanish, come back, ask again.
//!
//! Plans that simply run go through the host's own client ([`run`]).

use crate::machine::{Machine, PATIENCE};
use crate::test_owner::Owner;
use celltriage_link::{Client, Link, LinkError, Recorder, RunEnd};
use celltriage_protocol::address::Address;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::reply::{RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// Runs a plan with the host's own client; returns how it ended.
pub fn run(machine: &Machine, plan: impl Into<CellPlan>, watch: &mut dyn Recorder) -> RunEnd {
    let (mut client, identity, _) = Client::connect(machine.link()).expect("the host finds the fixture");
    assert_eq!(identity.board.as_str(), "emulated");
    client.run(plan, watch).expect("the link is whole")
}

/// Returns plan number 1 for a cell of 4.35 V that may be loaded.
pub fn plan(steps: &[Step]) -> Plan {
    Plan {
        number: 1,
        charge_limit: MicroVolts::from_millivolts(4_350),
        permit: Permit::Load,
        steps: steps.iter().copied().collect(),
    }
}

/// Returns a step with bounds as wide as the limits allow, of which each sample is reported.
pub fn step(action: Action, seconds: u64, period: Micros) -> Step {
    let lowest_voltage = match action {
        Action::Rest => MicroVolts::ZERO,
        Action::Hold { .. } | Action::Discharge { .. } => limits::LOWEST_PLAN_FLOOR,
    };
    let bounds = Bounds {
        lowest_voltage,
        highest_temperature: limits::HOTTEST,
        highest_rise: limits::LARGEST_RISE,
        most_charge: MicroCoulombs::MAX,
    };
    let sample_period_us = u32::try_from(period.get()).expect("a short period");
    Step { action, duration: Micros::from_secs(seconds), sample_period_us, report_every: 1, bounds }
}

/// Returns a rest sampled every 10 ms.
pub fn rest(seconds: u64) -> Step {
    step(Action::Rest, seconds, Micros::from_millis(10))
}

/// Returns a load.
pub fn hold(milliamps: i32, seconds: u64, period: Micros) -> Step {
    step(Action::Hold { current: MicroAmps::from_milliamps(milliamps) }, seconds, period)
}

/// The host.
pub struct Host {
    link: Box<dyn Link>,
    /// What the host knows as the owner of its runs.
    pub owner: Owner,
    splitter: Splitter,
    sequence: u32,
    spoke: Instant,
    replies: Vec<(u32, Reply)>,
    /// Events by their numbers.
    pub events: BTreeMap<u32, Event>,
}

impl Host {
    /// Opens the port.
    pub fn new(machine: &Machine) -> Self {
        Self::over(machine.link())
    }

    /// Talks over a link.
    pub fn over(link: impl Link + 'static) -> Self {
        Self {
            link: Box::new(link),
            owner: Owner::of(0, 1),
            splitter: Splitter::new(),
            sequence: 0,
            spoke: Instant::now(),
            replies: Vec::new(),
            events: BTreeMap::new(),
        }
    }

    /// Closes the port and opens it again, as a program does that was killed and started again; the events that came
    /// before are remembered, as they are in the book.
    pub fn come_back(self, machine: &Machine) -> Self {
        let Self { link, events, sequence, owner, .. } = self;
        drop(link);
        Self { events, sequence, owner, ..Self::new(machine) }
    }

    /// Sends bytes as they are.
    pub fn send(&mut self, bytes: &[u8]) {
        self.link.send(bytes).expect("the port takes bytes");
    }

    /// Says something; returns its number. A zero before it ends whatever rubbish is on the line.
    pub fn say(&mut self, request: &Request) -> u32 {
        let meant = self.owner.meant(request);
        self.say_meant(&meant)
    }

    fn say_meant(&mut self, meant: &Request) -> u32 {
        self.sequence += 1;
        let mut buffer = [0; MAX_ENCODED + 1];
        let bytes = self.owner.encode(self.sequence, meant, &mut buffer);
        let bytes = [&[0], bytes].concat();
        self.send(&bytes);
        self.spoke = Instant::now();
        self.sequence
    }

    /// Says something without an address, as a host of version 1 does; returns the reply.
    pub fn ask_bare(&mut self, request: &Request) -> Reply {
        self.sequence += 1;
        let mut buffer = [0; MAX_ENCODED + 1];
        let bytes = frame::encode_request(self.sequence, request, &mut buffer).expect("it fits");
        let bytes = [&[0], bytes].concat();
        self.send(&bytes);
        self.reply_to(self.sequence)
    }

    /// Says something under an address of the test's choice; returns the reply.
    pub fn ask_at(&mut self, address: Address, request: &Request) -> Reply {
        self.sequence += 1;
        let mut buffer = [0; MAX_ENCODED + 1];
        let bytes = frame::encode_addressed(self.sequence, address, request, &mut buffer).expect("it fits");
        let bytes = [&[0], bytes].concat();
        self.send(&bytes);
        self.reply_to(self.sequence)
    }

    /// Listens for a moment; damaged frames are passed over.
    pub fn listen(&mut self) {
        let mut bytes = Vec::new();
        self.link.receive(&mut bytes, Duration::from_millis(20)).expect("the port gives bytes");
        for byte in bytes {
            let Some(Split::Candidate(candidate)) = self.splitter.push(byte) else { continue };
            let Ok(frame) = frame::decode(candidate) else { continue };
            match frame.message.bare() {
                Message::Reply(reply) => self.replies.push((frame.sequence, reply)),
                Message::Event(event) => {
                    self.events.insert(frame.sequence, event);
                }
                other => panic!("the fixture must not ask: {other:?}"),
            }
        }
    }

    /// Asks until there is an answer. To the fixture's watch over its host a question is not a word.
    pub fn ask(&mut self, request: &Request) -> Reply {
        let begun = Instant::now();
        let meant = self.owner.meant(request);
        while begun.elapsed() < PATIENCE {
            let number = self.say_meant(&meant);
            let asked = Instant::now();
            while asked.elapsed() < Duration::from_secs(5) {
                self.listen();
                if let Some(at) = self.replies.iter().position(|(sequence, _)| *sequence == number) {
                    let reply = self.replies.swap_remove(at).1;
                    if self.owner.must_say_again(&reply) {
                        break;
                    }
                    return self.owner.hear(&meant, reply);
                }
            }
        }
        panic!("no answer to {request:?}")
    }

    /// Waits for the reply to a request that was sent by other means.
    pub fn reply_to(&mut self, number: u32) -> Reply {
        let begun = Instant::now();
        loop {
            if let Some(at) = self.replies.iter().position(|(sequence, _)| *sequence == number) {
                return self.replies.swap_remove(at).1;
            }
            assert!(begun.elapsed() < PATIENCE, "no reply to {number}");
            self.listen();
        }
    }

    /// Has a trip forgotten as soon as its cause is gone, whose readings may have to be renewed first.
    pub fn acknowledge(&mut self, trip: u32) {
        let begun = Instant::now();
        loop {
            match self.ask(&Request::AcknowledgeTrip { trip }) {
                Reply::Done => return,
                // Done before, but that answer came too late and was asked for again.
                Reply::Rejected(reject) if (reject.cause, reject.limit) == (RejectCause::WrongTrip, 0) => {
                    return;
                }
                Reply::Rejected(reject) if reject.cause == RejectCause::CauseRemains => {}
                other => panic!("{other:?}"),
            }
            assert!(begun.elapsed() < PATIENCE, "trip {trip} is never forgotten");
            // Meanwhile the fixture's time runs ahead of ours.
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Loads and starts a plan.
    pub fn start(&mut self, plan: &Plan) {
        assert_eq!(self.ask(&Request::LoadPlan(plan.clone())), Reply::Done);
        assert_eq!(self.ask(&Request::Start { plan: plan.number }), Reply::Done);
    }

    /// Keeps company until something has happened.
    pub fn stay_until(&mut self, what: &str, has_happened: impl Fn(&BTreeMap<u32, Event>) -> bool) {
        let begun = Instant::now();
        let mut seen = usize::MAX;
        while !has_happened(&self.events) {
            assert!(begun.elapsed() < PATIENCE, "waited in vain for {what}");
            // Where events have come, the fixture's time has passed: a word is due. Else twice a second.
            if self.events.len() != seen || self.spoke.elapsed() > Duration::from_millis(500) {
                seen = self.events.len();
                self.say(&Request::KeepAlive);
            }
            self.listen();
            self.replies.retain(|(_, reply)| !matches!(reply, Reply::Done | Reply::Rejected(_)));
        }
    }

    /// Keeps company until the plan has ended; returns how.
    pub fn finish(&mut self) -> Outcome {
        self.stay_until("the end of the plan", |events| outcome(events).is_some());
        if let Some(trip) = self
            .events
            .values()
            .find_map(|event| if let Event::Tripped(trip) = event { Some(trip) } else { None })
        {
            println!("told: {trip:?}");
        }
        outcome(&self.events).expect("it has ended")
    }

    /// Keeps company until the plan has ended, and asks at once for what is missing; returns how it ended.
    pub fn finish_without_gaps(&mut self) -> Outcome {
        loop {
            self.fill_gaps();
            if let Some(outcome) = outcome(&self.events) {
                return outcome;
            }
            let count = self.events.len();
            self.stay_until("another event", |events| events.len() > count);
        }
    }

    /// Returns the number of the first event that is missing before the newest.
    pub fn first_missing(&self) -> Option<u32> {
        (0..).zip(self.events.keys()).find(|(number, key)| number != *key).map(|(number, _)| number)
    }

    /// Asks for all events that are missing before the newest; returns once there is none.
    pub fn fill_gaps(&mut self) {
        let begun = Instant::now();
        while let Some(missing) = self.first_missing() {
            assert!(begun.elapsed() < PATIENCE, "event {missing} never came");
            self.say(&Request::KeepAlive);
            let Reply::Resending { through, .. } = self.ask(&Request::ResendFrom { sequence: missing })
            else {
                panic!("event {missing} is not kept any more")
            };
            // The last of them may be spoiled on its way; asking again before they are through would start over.
            let asked = Instant::now();
            while !self.events.contains_key(&through) && asked.elapsed() < Duration::from_secs(1) {
                self.listen();
            }
        }
    }
}

/// Waits until the fixture is gone; returns what the port says then.
pub fn parting(mut host: Host) -> LinkError {
    let begun = Instant::now();
    loop {
        assert!(begun.elapsed() < PATIENCE, "the port never said that the fixture is gone");
        if let Err(error) = host.link.receive(&mut Vec::new(), Duration::from_millis(20)) {
            return error;
        }
    }
}

fn outcome(events: &BTreeMap<u32, Event>) -> Option<Outcome> {
    events.values().find_map(|event| match event {
        Event::PlanEnded { outcome, .. } => Some(*outcome),
        _ => None,
    })
}
