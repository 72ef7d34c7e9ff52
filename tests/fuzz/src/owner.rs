//! A host of few words at a simulated fixture: asks, hears the answers, owns a run.

use crate::watch::Watch;
use arbitrary::{Result, Unstructured};
use celltriage_protocol::address::Address;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fixture::SimulatedFixture;

/// How long an answer is waited for: the fixture looks at its line at each pass.
const ANSWERED_WITHIN: Micros = Micros::from_millis(300);

/// The host.
#[derive(Debug)]
pub struct Owner {
    /// The fixture.
    pub fixture: SimulatedFixture,
    /// What is promised of it.
    pub watch: Watch,
    /// Where the next request that acts goes.
    pub address: Address,
    /// Number of the last loading.
    pub loading: u32,
    /// Of the run that was started last.
    pub token: Token,
    /// Number of the last plan.
    pub plan: u32,
    /// The trip told last.
    pub trip: u32,
    splitter: Splitter,
    sequence: u32,
    answers: Vec<(u32, Reply)>,
}

impl Owner {
    /// Returns a host that has asked the fixture for its boot number.
    pub fn new(fixture: SimulatedFixture) -> Self {
        let mut owner = Self {
            fixture,
            watch: Watch::default(),
            address: Address::default(),
            loading: 0,
            token: Token(0),
            plan: 0,
            trip: 0,
            splitter: Splitter::new(),
            sequence: 0,
            answers: Vec::new(),
        };
        owner.get_to_know();
        owner
    }

    /// Asks for the boot number, whatever it is.
    pub fn get_to_know(&mut self) {
        self.answers.clear();
        self.sequence = self.sequence.wrapping_add(1);
        let mut buffer = [0; MAX_ENCODED + 1];
        let bytes =
            frame::encode_request(self.sequence, &Request::Describe, &mut buffer).expect("a request fits");
        self.fixture.send(bytes);
        if let Some(Reply::Description(description)) = self.answer(self.sequence) {
            self.address.boot = description.boot;
        }
    }

    /// Loads a plan and starts it; returns whether the fixture took both.
    pub fn begin(&mut self, plan: &CellPlan) -> bool {
        self.plan = plan.plan.number;
        let Some(Reply::Loaded { loading, .. }) = self.ask(&Request::Load(plan.clone())) else {
            return false;
        };
        self.loading = loading;
        self.watch.label = plan.label;
        self.start()
    }

    /// Starts what was loaded last, for a new token.
    pub fn start(&mut self) -> bool {
        self.token.0 += 1;
        let start = Request::StartRun { plan: self.plan, loading: self.loading, token: self.token };
        let started = self.ask(&start) == Some(Reply::Done);
        if started {
            self.watch.started(self.fixture.now());
        }
        started
    }

    /// Lets time pass; says that it is there while `present`.
    pub fn stay(&mut self, span: Micros, present: bool) {
        let until = self.fixture.now().saturating_add(span);
        let mut word = self.fixture.now();
        while self.fixture.now() < until {
            if present && self.fixture.now() >= word {
                self.say(&Request::KeepRunning { token: self.token });
                self.watch.said(self.fixture.now());
                word = word.saturating_add(limits::KEEP_ALIVE);
            }
            self.pass(until.saturating_sub(self.fixture.now()).min(Micros::from_millis(20)));
        }
    }

    /// Asks; returns the answer, if there is one.
    pub fn ask(&mut self, request: &Request) -> Option<Reply> {
        self.answers.clear();
        let number = self.say(request);
        self.answer(number)
    }

    /// Waits for the answer to a request.
    fn answer(&mut self, number: u32) -> Option<Reply> {
        let until = self.fixture.now().saturating_add(ANSWERED_WITHIN);
        while self.fixture.now() < until {
            self.pass(Micros::from_millis(5));
            if let Some(at) = self.answers.iter().position(|(sequence, _)| *sequence == number) {
                return Some(self.answers.remove(at).1);
            }
        }
        None
    }

    /// Says something with the next request number.
    pub fn say(&mut self, request: &Request) -> u32 {
        self.address.number = self.address.number.wrapping_add(1);
        self.say_to(self.address, request)
    }

    /// Says something under any address.
    pub fn say_to(&mut self, address: Address, request: &Request) -> u32 {
        self.sequence = self.sequence.wrapping_add(1);
        let mut buffer = [0; MAX_ENCODED + 1];
        let bytes =
            frame::encode_addressed(self.sequence, address, request, &mut buffer).expect("a request fits");
        self.fixture.send(bytes);
        self.sequence
    }

    /// Sends bytes of any kind, which may be in the middle of something: the zero in front ends it.
    ///
    /// # Errors
    /// The bytes to draw from are used up.
    pub fn babble(&mut self, choices: &mut Unstructured<'_>) -> Result<()> {
        let mut piece = crate::frames::piece(choices)?;
        piece.insert(0, 0);
        self.fixture.send(&piece);
        // What was drawn may be anything, also the owner's own words.
        self.watch.said(self.fixture.now());
        self.fixture.send(&[0]);
        Ok(())
    }

    /// Lets a moment pass, hears what the fixture says and sees whether it keeps its promises.
    pub fn pass(&mut self, span: Micros) {
        let mut bytes = Vec::new();
        self.fixture.receive(span, &mut bytes);
        for byte in bytes {
            let Some(Split::Candidate(candidate)) = self.splitter.push(byte) else { continue };
            let heard =
                frame::decode(candidate).expect("the line is clean, so what the fixture says can be read");
            match heard.message {
                Message::Reply(reply) | Message::Answered(_, reply) => {
                    self.answers.push((heard.sequence, reply))
                }
                Message::Event(Event::Tripped(trip)) => self.trip = trip.number,
                Message::Event(_) => {}
                Message::Request(_) | Message::Addressed(..) => panic!("the fixture asks nothing"),
            }
        }
        self.watch.look(&mut self.fixture);
    }
}
