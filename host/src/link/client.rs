//! One conversation with one fixture: requests and their replies, events in order, a whole plan from start to end.
//!
//! Events are numbered by the fixture without gaps. A gap (damage on the line) is asked for again from the first
//! missing number on; what comes out of order meanwhile is dropped, since it comes once more. What the fixture no
//! longer keeps stays a gap, and [`crate::trace`] will say so.

use super::{Link, LinkError};
use celltriage_protocol::event::{Event, Outcome, Trip};
use celltriage_protocol::frame::{self, Frame, FrameError, MAX_ENCODED, Message};
use celltriage_protocol::limits;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::reply::{Activity, Identity, RejectCause, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::Micros;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// How long one answer may take.
const ANSWER: Duration = Duration::from_millis(1_000);
/// How often a request is sent before the fixture counts as silent.
const TRIES: u32 = 3;
/// Without any byte for this long during a run, the fixture counts as silent.
const SILENCE: Duration = Duration::from_secs(5);

/// Who follows a run.
pub trait Watch {
    /// Keeps a frame exactly as it stood on the wire.
    ///
    /// # Errors
    /// A sentence; the run is then stopped, since what cannot be kept is not measured.
    fn keep(&mut self, frame: &[u8]) -> Result<(), String>;
    /// Sees an event, in order.
    fn event(&mut self, event: &Event);
    /// Returns whether the person wants to stop.
    fn stop_wanted(&mut self) -> bool;
    /// Hears what is odd about the link, in words.
    fn remark(&mut self, text: &str) {
        let _nobody_listens = text;
    }
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunEnd {
    /// The fixture's own word.
    pub outcome: Outcome,
    /// The trip, if it tripped.
    pub trip: Option<Trip>,
}

/// A conversation.
pub struct Client<'a> {
    pub(super) link: Box<dyn Link + 'a>,
    pub(super) splitter: Splitter,
    bytes: Vec<u8>,
    pub(super) raw: Vec<u8>,
    sequence: u32,
    pub(super) expected: u32,
    pub(super) resend_asked: bool,
    events: VecDeque<(Event, Vec<u8>)>,
    reply: Option<(u32, Reply)>,
    damaged: u32,
    understood: u32,
    pub(super) fixture_now: Micros,
    pub(super) serial: u64,
}

/// What is known of a run under way, kept over a break of the link.
#[derive(Default)]
pub(super) struct Following {
    trip: Option<Trip>,
    stopping: bool,
}

impl<'a> Client<'a> {
    /// Opens the conversation: who are you, and what are you doing?
    ///
    /// # Errors
    /// [`LinkError`] with what to do.
    pub fn connect(link: impl Link + 'a) -> Result<(Self, Identity, State), LinkError> {
        let mut client = Self {
            link: Box::new(link),
            splitter: Splitter::new(),
            bytes: Vec::new(),
            raw: Vec::new(),
            sequence: 0,
            expected: 0,
            resend_asked: true,
            events: VecDeque::new(),
            reply: None,
            damaged: 0,
            understood: 0,
            fixture_now: Micros::ZERO,
            serial: 0,
        };
        let (identity, state) = client.introduce()?;
        client.serial = identity.serial;
        client.expected = state.next_event;
        client.resend_asked = false;
        client.events.clear();
        client.fixture_now = state.now;
        Ok((client, identity, state))
    }

    /// Asks the other end who it is and what it is doing.
    pub(super) fn introduce(&mut self) -> Result<(Identity, State), LinkError> {
        // A zero first: whatever half frame stands in the fixture's buffer ends here.
        self.link.send(&[0])?;
        match self.ask(&Request::Identify)? {
            Reply::Identity(identity) => Ok((identity, self.state()?)),
            _ => Err(LinkError::OutOfPlace { asked: "identify" }),
        }
    }

    /// Returns what the link is.
    pub fn describe(&self) -> String {
        self.link.describe()
    }

    /// Reads the present state.
    ///
    /// # Errors
    /// [`LinkError`].
    pub fn state(&mut self) -> Result<State, LinkError> {
        match self.ask(&Request::ReadState)? {
            Reply::State(state) => {
                self.fixture_now = state.now;
                Ok(state)
            }
            _ => Err(LinkError::OutOfPlace { asked: "read state" }),
        }
    }

    /// Asks and waits for the answer; sends again where none comes. Events that come meanwhile are kept.
    ///
    /// # Errors
    /// [`LinkError::Refused`] for a refusal, others where no answer can be had.
    pub fn ask(&mut self, request: &Request) -> Result<Reply, LinkError> {
        for _ in 0..TRIES {
            let sequence = self.send(request)?;
            if let Some(reply) = self.wait_for(sequence)? {
                return match reply {
                    Reply::Rejected(reject) => Err(LinkError::Refused { asked: name(request), reject }),
                    reply => Ok(reply),
                };
            }
        }
        Err(if self.understood == 0 && self.damaged > 0 {
            LinkError::NotOurs { link: self.describe(), damaged: self.damaged }
        } else {
            LinkError::Silent { link: self.describe(), asked: name(request), waited: ANSWER * TRIES }
        })
    }

    /// Runs a plan from its loading to its end.
    ///
    /// # Errors
    /// [`LinkError`]; the load is then off, or goes off by the fixture's own watch over a silent host.
    pub fn run(&mut self, plan: &Plan, watch: &mut dyn Watch) -> Result<RunEnd, LinkError> {
        self.keep_request(&Request::LoadPlan(plan.clone()), watch)?;
        self.ask(&Request::LoadPlan(plan.clone()))?;
        let start = Request::Start { plan: plan.number };
        self.keep_request(&start, watch)?;
        match self.ask(&start) {
            Ok(_) => {}
            // The answer to the first try was lost, and the second found the plan running.
            Err(LinkError::Refused { reject, .. }) if reject.cause == RejectCause::Busy => {
                if self.state()?.activity != Activity::Running {
                    return Err(LinkError::Refused { asked: "start", reject });
                }
            }
            Err(error) => return Err(error),
        }
        let end = self.follow_over_breaks(watch);
        if end.is_err() {
            // Best effort: where even this fails, the fixture's watch over a silent host takes over.
            let _fixture_drops_the_load_itself = self.send(&Request::Stop);
        }
        end
    }

    pub(super) fn follow(
        &mut self,
        watch: &mut dyn Watch,
        known: &mut Following,
    ) -> Result<RunEnd, LinkError> {
        let mut silent = Duration::ZERO;
        let (mut said_at, mut said_fixture) = (Instant::now(), self.fixture_now);
        let keep_alive = Duration::from_micros(limits::KEEP_ALIVE.get());
        loop {
            if watch.stop_wanted() && !known.stopping {
                known.stopping = true;
                self.keep_request(&Request::Stop, watch)?;
                self.ask(&Request::Stop)?;
            }
            let fixture_span = self.fixture_now.get().saturating_sub(said_fixture.get());
            if said_at.elapsed() >= keep_alive || fixture_span >= limits::KEEP_ALIVE.get() {
                self.send(&Request::KeepAlive)?;
                (said_at, said_fixture) = (Instant::now(), self.fixture_now);
            }
            let wait = keep_alive / 2;
            if self.receive(wait)? == 0 {
                silent += wait;
                self.send(&Request::KeepAlive)?;
                if silent >= SILENCE {
                    return Err(LinkError::Silent { link: self.describe(), asked: "run", waited: silent });
                }
            } else {
                silent = Duration::ZERO;
            }
            while let Some((event, raw)) = self.events.pop_front() {
                watch.keep(&raw).map_err(LinkError::NotKept)?;
                watch.event(&event);
                match event {
                    Event::Tripped(latched) => known.trip = Some(latched),
                    Event::PlanEnded { outcome, .. } => return Ok(RunEnd { outcome, trip: known.trip }),
                    _ => {}
                }
            }
        }
    }

    fn keep_request(&mut self, request: &Request, watch: &mut dyn Watch) -> Result<(), LinkError> {
        let mut out = [0u8; MAX_ENCODED + 1];
        match frame::encode_request(self.sequence.wrapping_add(1), request, &mut out) {
            Ok(bytes) => watch.keep(bytes).map_err(LinkError::NotKept),
            Err(_) => Err(LinkError::OutOfPlace { asked: name(request) }),
        }
    }

    pub(super) fn send(&mut self, request: &Request) -> Result<u32, LinkError> {
        self.sequence = self.sequence.wrapping_add(1);
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = frame::encode_request(self.sequence, request, &mut out)
            .map_err(|_| LinkError::OutOfPlace { asked: name(request) })?;
        self.link.send(bytes)?;
        Ok(self.sequence)
    }

    /// Waits for the reply with this number; older ones are late answers to tries given up.
    fn wait_for(&mut self, sequence: u32) -> Result<Option<Reply>, LinkError> {
        let started = Instant::now();
        let mut waited = Duration::ZERO;
        let step = Duration::from_millis(50);
        while waited < ANSWER && started.elapsed() < ANSWER * 2 {
            if self.receive(step)? == 0 {
                waited += step;
            }
            if let Some((number, reply)) = self.reply.take()
                && number == sequence
            {
                return Ok(Some(reply));
            }
        }
        Ok(None)
    }

    /// Takes what has come and sorts it; returns how many bytes came.
    pub(crate) fn receive(&mut self, wait: Duration) -> Result<usize, LinkError> {
        self.bytes.clear();
        let count = self.link.receive(&mut self.bytes, wait)?;
        for at in 0..self.bytes.len() {
            let byte = self.bytes[at];
            self.raw.push(byte);
            let decoded = match self.splitter.push(byte) {
                None if byte != 0 => continue,
                None => Err(None),
                Some(Split::TooLong) => Err(Some(FrameError::Stuffing)),
                Some(Split::Candidate(candidate)) => frame::decode(candidate).map_err(Some),
            };
            let raw = std::mem::take(&mut self.raw);
            match decoded {
                Ok(frame) => {
                    self.understood += 1;
                    self.sort(frame, raw)?;
                }
                Err(Some(FrameError::TooNew { theirs })) => return Err(LinkError::TooNew { theirs }),
                Err(Some(FrameError::TooOld { theirs })) => return Err(LinkError::TooOld { theirs }),
                Err(Some(_)) => self.damaged += 1,
                Err(None) => {}
            }
        }
        Ok(count)
    }

    fn sort(&mut self, frame: Frame, raw: Vec<u8>) -> Result<(), LinkError> {
        match frame.message {
            Message::Reply(Reply::Rejected(reject)) if reject.cause == RejectCause::Gone => {
                // The oldest event still kept is told as the limit: go on from there, the gap stays visible. Never back:
                // a late answer would bring events a second time.
                self.resend_asked = false;
                if let Ok(from) = u32::try_from(reject.limit)
                    && (1..u32::MAX / 2).contains(&from.wrapping_sub(self.expected))
                {
                    self.expected = from;
                    self.send(&Request::ResendFrom { sequence: from })?;
                }
            }
            Message::Reply(Reply::Resending { .. }) => self.resend_asked = false,
            Message::Reply(reply) => self.reply = Some((frame.sequence, reply)),
            Message::Event(event) => {
                let ahead = frame.sequence.wrapping_sub(self.expected);
                if ahead == 0 {
                    self.expected = self.expected.wrapping_add(1);
                    if let Event::Samples(block) = &event {
                        self.fixture_now = block.next_at();
                    }
                    self.events.push_back((event, raw));
                } else if ahead < u32::MAX / 2 && !self.resend_asked {
                    self.resend_asked = true;
                    self.send(&Request::ResendFrom { sequence: self.expected })?;
                }
            }
            Message::Request(_) => self.damaged += 1,
        }
        Ok(())
    }
}

const fn name(request: &Request) -> &'static str {
    match request {
        Request::Identify => "identify",
        Request::LoadPlan(_) => "load plan",
        Request::Start { .. } => "start",
        Request::Stop => "stop",
        Request::AcknowledgeTrip { .. } => "acknowledge trip",
        Request::KeepAlive => "keep alive",
        Request::ReadState => "read state",
        Request::Calibrate(_) => "calibrate",
        Request::ReadCalibration => "read calibration",
        Request::ResendFrom { .. } => "resend",
    }
}
