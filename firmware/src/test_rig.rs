//! A fixture on its test board with a clock and a host, for tests that see it as a host does.

extern crate std;

use crate::fixture::Fixture;
use crate::test_board::TestBoard;
use crate::test_owner::Owner;
use celltriage_protocol::address::Address;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{MAX_ENCODED, Message, encode_addressed, encode_request};
use celltriage_protocol::plan::Plan;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use std::vec::Vec;

/// A fixture on its board with a clock and a host.
pub struct Rig {
    /// The board.
    pub board: TestBoard,
    /// The fixture.
    pub fixture: Fixture,
    /// The time.
    pub now: Micros,
    /// All events so far.
    pub events: Vec<(u32, Event)>,
    /// Whether the host says every 500 ms that it is there.
    pub host_speaks: bool,
    /// What the host knows as the owner of its runs.
    pub owner: Owner,
    replies: Vec<(u32, Reply)>,
    sequence: u32,
    spoken: Micros,
}

impl Rig {
    /// Switches a board on.
    pub fn new(mut board: TestBoard) -> Self {
        let fixture = Fixture::new(&mut board);
        Self {
            board,
            fixture,
            now: Micros::ZERO,
            events: Vec::new(),
            host_speaks: true,
            owner: Owner::of(1, 1),
            replies: Vec::new(),
            sequence: 0,
            spoken: Micros::ZERO,
        }
    }

    /// Makes one pass, and those that the host's words need, and lets time go on to the next one.
    pub fn pass(&mut self) {
        if self.host_speaks && self.now.saturating_sub(self.spoken) >= Micros::from_millis(500) {
            self.send(&Request::KeepAlive);
        }
        self.now = self.settle();
        self.collect();
    }

    /// Makes passes without time going on until all that the host has sent is heard; returns when the next one is wanted.
    pub fn settle(&mut self) -> Micros {
        for _ in 0..100 {
            let next = self.fixture.serve(self.now, &mut self.board);
            assert!(next > self.now, "a pass wants the next one at once");
            if next > self.now.saturating_add(Micros::new(1)) || self.board.to_fixture.is_empty() {
                return next;
            }
        }
        panic!("what the host has sent is never heard");
    }

    /// Makes passes until a moment.
    pub fn run_until(&mut self, end: Micros) {
        while self.now < end {
            self.pass();
        }
    }

    /// Makes passes for some time.
    pub fn run_for(&mut self, millis: u64) {
        self.run_until(self.now.saturating_add(Micros::from_millis(millis)));
    }

    /// Sends a request without waiting.
    pub fn send(&mut self, request: &Request) {
        let meant = self.owner.meant(request);
        self.say(request, &meant);
    }

    fn say(&mut self, request: &Request, meant: &Request) {
        self.sequence += 1;
        // Nothing else counts as a word.
        if matches!(request, Request::KeepAlive | Request::Start { .. }) {
            self.spoken = self.now;
        }
        self.board.to_fixture.extend(self.owner.encode(self.sequence, meant, &mut [0; MAX_ENCODED + 1]));
    }

    /// Sends a request, makes passes that come in between until all is heard, and takes the reply.
    pub fn ask(&mut self, request: &Request) -> Reply {
        let meant = self.owner.meant(request);
        self.say(request, &meant);
        let mut reply = self.reply();
        if self.owner.must_say_again(&reply) {
            self.say(request, &meant);
            reply = self.reply();
        }
        self.owner.hear(&meant, reply)
    }

    /// The same without an address, as a host of version 1 does.
    pub fn ask_bare(&mut self, request: &Request) -> Reply {
        self.sequence += 1;
        self.board
            .to_fixture
            .extend(encode_request(self.sequence, request, &mut [0; MAX_ENCODED + 1]).unwrap());
        self.reply()
    }

    /// The same under an address of the test's choice.
    pub fn ask_at(&mut self, address: Address, request: &Request) -> Reply {
        self.sequence += 1;
        let mut buffer = [0; MAX_ENCODED + 1];
        self.board.to_fixture.extend(encode_addressed(self.sequence, address, request, &mut buffer).unwrap());
        self.reply()
    }

    fn reply(&mut self) -> Reply {
        self.settle();
        // What was left over in the last pass.
        self.fixture.serve(self.now, &mut self.board);
        self.collect();
        let position = self.replies.iter().position(|(sequence, _)| *sequence == self.sequence).unwrap();
        self.replies.remove(position).1
    }

    /// Loads and starts a plan; it must be taken.
    pub fn start(&mut self, plan: &Plan) {
        assert_eq!(self.ask(&Request::LoadPlan(plan.clone())), Reply::Done);
        assert_eq!(self.ask(&Request::Start { plan: plan.number }), Reply::Done);
    }

    /// Makes passes until the plan has ended, at most for a day.
    pub fn finish(&mut self) {
        let end = self.now.saturating_add(Micros::from_secs(86_400));
        while self.fixture.activity() == celltriage_protocol::reply::Activity::Running {
            assert!(self.now < end, "the plan does not end");
            self.pass();
        }
        // What the last pass could not send comes with the next.
        self.pass();
    }

    fn collect(&mut self) {
        for frame in self.board.sent_frames() {
            match frame.message.bare() {
                Message::Event(event) => self.events.push((frame.sequence, event)),
                Message::Reply(reply) => self.replies.push((frame.sequence, reply)),
                other => panic!("the fixture asks: {other:?}"),
            }
        }
    }
}
