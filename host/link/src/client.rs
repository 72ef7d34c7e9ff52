//! One conversation with one fixture: frames to and from the link, replies and events in order.
//!
//! What is missing of the events is asked for again (`missing.rs`); what the fixture no longer keeps stays a gap, and
//! [`celltriage_measure::trace`] will say so. Requests are addressed to the start of the fixture's program that was found, and
//! answers of another one are dropped. `asking.rs` puts single questions, `run.rs` follows a plan from start to end.

use super::answer::{Answer, never};
use super::clock::{Clock, time_of};
use super::missing::{Arrival, Missing};
use super::request_name::name;
use super::under_way::Owned;
use super::{Ending, Link, LinkError};
use celltriage_protocol::address::Address;
use celltriage_protocol::description::Description;
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, Frame, FrameError, MAX_ENCODED, Message};
use celltriage_protocol::reply::{Identity, RejectCause, Reply, State};
use celltriage_protocol::request::{Kind, Request};
use celltriage_protocol::splitter::{Split, Splitter};
use celltriage_protocol::units::Micros;
use celltriage_protocol::version;
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
    /// Events in order, with their numbers and frames.
    pub(super) events: VecDeque<(u32, Event, Vec<u8>)>,
    pub(super) answers: VecDeque<Answer>,
    pub(super) damaged: u32,
    pub(super) understood: u32,
    pub(super) clock: Clock,
    pub(super) serial: u64,
    /// What the fixture's program has said of itself; `None` for one of wire version 1, which cannot.
    pub(super) description: Option<Description>,
    /// The newest wire version that the fixture speaks.
    pub(super) theirs: u8,
    /// The last request number that was said, or that the fixture has taken from whomever.
    number: u32,
    /// A run whose link broke for good.
    pub(super) left: Option<Owned>,
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
        let mut link = link;
        // An answer to whoever used the fixture before must not look like one to this host.
        let sequence = link.draw() as u32;
        let mut client = Self {
            link: Box::new(link),
            splitter: Splitter::new(),
            bytes: Vec::new(),
            raw: Vec::new(),
            sequence,
            missing: Missing::unknown(),
            events: VecDeque::new(),
            answers: VecDeque::new(),
            damaged: 0,
            understood: 0,
            clock: Clock::at(Micros::ZERO),
            serial: 0,
            description: None,
            theirs: version::MIN,
            number: 0,
            left: None,
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

    /// Takes the events from this one on once more; the fixture will tell `next` next.
    pub(super) fn go_back_to(&mut self, first: u32, next: u32) {
        self.missing = Missing::begin(first);
        self.missing.know(next);
        self.events.clear();
    }

    /// Returns what the link is.
    pub fn describe(&self) -> String {
        self.link.describe()
    }

    /// Returns what the fixture's program has said of itself when it was reached; `None` for one of wire version 1.
    pub const fn description(&self) -> Option<&Description> {
        self.description.as_ref()
    }

    /// Takes a description: from here on requests go to this start of the fixture's program. Returns whether it is
    /// another one than before.
    pub(super) fn address(&mut self, description: Option<Description>) -> bool {
        let before = self.description.as_ref().map(|before| before.boot);
        let now = description.as_ref().map(|now| now.boot);
        let is_other = before.is_some() && before != now;
        let taken = description.as_ref().map_or(0, |now| now.number);
        self.number = if is_other { taken } else { self.number.max(taken) };
        self.description = description;
        is_other
    }

    pub(super) fn send(&mut self, request: &Request) -> Result<u32, LinkError> {
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = self.encode(request, &mut out)?;
        self.link.send(bytes)?;
        self.sequence = self.sequence.wrapping_add(1);
        if request.kind() == Kind::Act {
            self.number = self.number.saturating_add(1);
        }
        Ok(self.sequence)
    }

    /// Writes a request as it is sent next.
    pub(super) fn encode<'o>(&self, request: &Request, out: &'o mut [u8]) -> Result<&'o [u8], LinkError> {
        let (sequence, kind) = (self.sequence.wrapping_add(1), request.kind());
        let bytes = match (&self.description, request) {
            (_, Request::Identify | Request::Describe) => frame::encode_request(sequence, request, out),
            (None, _) if matches!(kind, Kind::Act | Kind::Unowned) => {
                return Err(LinkError::NoOwnership { link: self.describe(), theirs: self.theirs });
            }
            (None, _) => frame::encode_request(sequence, request, out),
            (Some(description), _) => {
                let number = if kind == Kind::Act { self.number.saturating_add(1) } else { 0 };
                let address = Address { boot: description.boot, number };
                frame::encode_addressed(sequence, address, request, out)
            }
        };
        bytes.map_err(|_| LinkError::OutOfPlace { asked: name(request) })
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
        match frame.message {
            Message::Reply(reply) if self.is_bare(&reply) => self.take_reply(frame.sequence, reply),
            Message::Answered(boot, reply) => match &self.description {
                Some(description) if description.boot == boot => self.take_reply(frame.sequence, reply),
                Some(description) if is_refusal_of_a_later_start(&reply, description.boot, boot) => {
                    Err(LinkError::Restarted { link: self.describe() })
                }
                // Of before a restart.
                _ => Ok(()),
            },
            // To another host, or of before this one came.
            Message::Reply(_) => Ok(()),
            Message::Event(event) => self.take_event(frame.sequence, event, raw),
            Message::Request(_) | Message::Addressed(..) => {
                self.damaged += 1;
                Ok(())
            }
        }
    }

    /// Returns whether a reply without a boot number can be one to this host.
    const fn is_bare(&self, reply: &Reply) -> bool {
        matches!(reply, Reply::Identity(_) | Reply::Description(_)) || self.description.is_none()
    }

    fn take_reply(&mut self, number: u32, reply: Reply) -> Result<(), LinkError> {
        match reply {
            Reply::Rejected(reject) if reject.cause == RejectCause::Gone => {
                // The oldest event still kept is told as the limit.
                if let Ok(oldest) = u32::try_from(reject.limit)
                    && let Some(from) = self.missing.gone(oldest, &self.clock)
                {
                    self.send(&Request::ResendFrom { sequence: from })?;
                }
            }
            Reply::Resending { through, .. } => self.missing.resending(through),
            reply => {
                let (expected, told) = (self.missing.expected(), self.clock.told());
                match &reply {
                    Reply::State(state) => self.clock.hear(state.now),
                    Reply::Rejected(reject) if reject.cause == RejectCause::NotAbove => {
                        // Another host has used numbers meanwhile; the next one of this host is above them.
                        self.number = self.number.max(u32::try_from(reject.limit).unwrap_or(0));
                    }
                    _ => {}
                }
                if self.answers.len() >= MOST_ANSWERS {
                    self.answers.pop_front();
                }
                self.answers.push_back(Answer { number, reply, expected, told });
            }
        }
        Ok(())
    }

    fn take_event(&mut self, number: u32, event: Event, raw: Vec<u8>) -> Result<(), LinkError> {
        let arrival = self.missing.arrived(number, &self.clock);
        self.clock.hear(time_of(&event));
        match arrival {
            Arrival::Next => self.events.push_back((number, event, raw)),
            Arrival::Dropped => {}
            Arrival::Ask(from) => {
                self.send(&Request::ResendFrom { sequence: from })?;
            }
        }
        Ok(())
    }
}

/// Returns whether a later start of the program refuses what was addressed to this one.
fn is_refusal_of_a_later_start(reply: &Reply, this: u32, later: u32) -> bool {
    matches!(reply, Reply::Rejected(reject)
        if reject.cause == RejectCause::OtherBoot && reject.asked == i64::from(this) && later > this)
}
