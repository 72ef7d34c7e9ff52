//! One conversation with one fixture: frames to and from the link, replies and events in order.
//!
//! What is missing of the events is asked for again (`missing.rs`); what the fixture no longer keeps stays a gap, and
//! [`celltriage_measure::trace`] will say so. `asking.rs` puts single questions, `run.rs` follows a plan from start to end.

use super::answer::{Answer, never};
use super::clock::{Clock, time_of};
use super::missing::{Arrival, Missing};
use super::request_name::name;
use super::{Ending, Link, LinkError};
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, Frame, FrameError, MAX_ENCODED, Message};
use celltriage_protocol::reply::{Identity, RejectCause, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::Micros;
use std::collections::VecDeque;
use std::time::Duration;

/// Answers that nobody waits for are forgotten from so many on.
const MOST_ANSWERS: usize = 64;

/// A conversation.
pub struct Client<'a> {
    pub(super) link: Box<dyn Link + 'a>,
    pub(super) splitter: Splitter,
    bytes: Vec<u8>,
    pub(super) raw: Vec<u8>,
    pub(super) sequence: u32,
    pub(super) missing: Missing,
    pub(super) events: VecDeque<(Event, Vec<u8>)>,
    pub(super) answers: VecDeque<Answer>,
    pub(super) damaged: u32,
    pub(super) understood: u32,
    pub(super) clock: Clock,
    pub(super) serial: u64,
}

impl<'a> Client<'a> {
    /// Opens the conversation: who are you, and what are you doing?
    ///
    /// # Errors
    /// [`LinkError`] with what to do.
    pub fn connect(link: impl Link + 'a) -> Result<(Self, Identity, State), LinkError> {
        Self::connect_unless(link, &mut never)
    }

    /// The same; ends with an error as soon as `give_up` says so.
    ///
    /// # Errors
    /// [`LinkError`] with what to do.
    pub fn connect_unless(
        link: impl Link + 'a,
        give_up: &mut dyn FnMut() -> bool,
    ) -> Result<(Self, Identity, State), LinkError> {
        let mut client = Self {
            link: Box::new(link),
            splitter: Splitter::new(),
            bytes: Vec::new(),
            raw: Vec::new(),
            sequence: 0,
            missing: Missing::unknown(),
            events: VecDeque::new(),
            answers: VecDeque::new(),
            damaged: 0,
            understood: 0,
            clock: Clock::at(Micros::ZERO),
            serial: 0,
        };
        let Some((identity, seen)) = client.introduce(give_up)? else {
            return Err(LinkError::Stopped {
                link: client.describe(),
                why: Ending::BeforeStart,
                heard: true,
            });
        };
        client.serial = identity.serial;
        client.begin_with(&seen.state);
        Ok((client, identity, seen.state))
    }

    /// Takes the events that follow this state, by the clock it tells.
    pub(super) fn begin_with(&mut self, state: &State) {
        self.missing = Missing::begin(state.next_event);
        self.clock = Clock::at(state.now);
        self.events.clear();
    }

    /// Returns what the link is.
    pub fn describe(&self) -> String {
        self.link.describe()
    }

    pub(super) fn send(&mut self, request: &Request) -> Result<u32, LinkError> {
        self.sequence = self.sequence.wrapping_add(1);
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = frame::encode_request(self.sequence, request, &mut out)
            .map_err(|_| LinkError::OutOfPlace { asked: name(request) })?;
        self.link.send(bytes)?;
        Ok(self.sequence)
    }

    /// Takes what has come and sorts it; returns how many bytes came.
    pub(super) fn receive(&mut self, wait: Duration) -> Result<usize, LinkError> {
        self.bytes.clear();
        let count = self.link.receive(&mut self.bytes, wait)?;
        if count == 0 {
            self.clock.wait(wait);
        }
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
        match frame.message.bare() {
            Message::Reply(Reply::Rejected(reject)) if reject.cause == RejectCause::Gone => {
                // The oldest event still kept is told as the limit.
                if let Ok(oldest) = u32::try_from(reject.limit)
                    && let Some(from) = self.missing.gone(oldest, &self.clock)
                {
                    self.send(&Request::ResendFrom { sequence: from })?;
                }
            }
            Message::Reply(Reply::Resending { through, .. }) => self.missing.resending(through),
            Message::Reply(reply) => {
                let (expected, told) = (self.missing.expected(), self.clock.told());
                if let Reply::State(state) = &reply {
                    self.clock.hear(state.now);
                }
                if self.answers.len() >= MOST_ANSWERS {
                    self.answers.pop_front();
                }
                self.answers.push_back(Answer { number: frame.sequence, reply, expected, told });
            }
            Message::Event(event) => {
                let arrival = self.missing.arrived(frame.sequence, &self.clock);
                self.clock.hear(time_of(&event));
                match arrival {
                    Arrival::Next => self.events.push_back((event, raw)),
                    Arrival::Dropped => {}
                    Arrival::Ask(from) => {
                        self.send(&Request::ResendFrom { sequence: from })?;
                    }
                }
            }
            Message::Request(_) | Message::Addressed(..) | Message::Answered(..) => self.damaged += 1,
        }
        Ok(())
    }
}
