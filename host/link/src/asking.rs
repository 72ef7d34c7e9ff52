//! One question and its answer: who are you, what are you doing, do this. Not used by the loop that follows a run, which
//! waits for no answer.

use super::answer::{Answer, Seen, never};
use super::request_name::name;
use super::{Client, LinkError};
use celltriage_protocol::reply::{Identity, Reject, RejectCause, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::run::{RunState, Token};
use celltriage_protocol::version;
use std::time::{Duration, Instant};

/// How long one answer may take.
const ANSWER: Duration = Duration::from_millis(1_000);
/// How often a request is sent before the fixture counts as silent.
const TRIES: u32 = 3;

impl Client<'_> {
    fn identify(&mut self, give_up: &mut dyn FnMut() -> bool) -> Result<Option<Identity>, LinkError> {
        // A zero first: whatever half frame stands in the fixture's buffer ends here.
        self.link.send(&[0])?;
        let Some(answer) = self.answer(&Request::Identify, give_up)? else { return Ok(None) };
        let Reply::Identity(identity) = answer.reply else {
            return Err(LinkError::OutOfPlace { asked: "identify" });
        };
        Ok(Some(identity))
    }

    /// Asks which program answers, where it can say so, and addresses all that follows to this start of it. Returns whether
    /// that is another start than before.
    fn describe_program(
        &mut self,
        identity: &Identity,
        give_up: &mut dyn FnMut() -> bool,
    ) -> Result<Option<bool>, LinkError> {
        let (oldest, newest) = identity.versions;
        self.theirs = newest;
        if oldest > version::CURRENT {
            return Err(LinkError::TooNew { theirs: oldest });
        }
        if newest < version::OWNERSHIP {
            return Ok(Some(self.address(None)));
        }
        match self.answer(&Request::Describe, give_up)? {
            None => Ok(None),
            Some(Answer { reply: Reply::Description(description), .. }) => {
                Ok(Some(self.address(Some(description))))
            }
            Some(_) => Err(LinkError::OutOfPlace { asked: "describe" }),
        }
    }

    /// Asks the other end who it is, and what it is doing; `None` if `give_up` says so before.
    pub(super) fn introduce(
        &mut self,
        give_up: &mut dyn FnMut() -> bool,
    ) -> Result<Option<(Identity, Seen)>, LinkError> {
        let Some(identity) = self.identify(give_up)? else { return Ok(None) };
        let Some(_first_meeting) = self.describe_program(&identity, give_up)? else { return Ok(None) };
        Ok(self.see(give_up)?.map(|seen| (identity, seen)))
    }

    /// The same again after the link broke; the owner of a run shows its token as soon as it is known who is there.
    pub(super) fn meet_again(
        &mut self,
        token: Option<Token>,
        give_up: &mut dyn FnMut() -> bool,
    ) -> Result<Option<Met>, LinkError> {
        let Some(identity) = self.identify(give_up)? else { return Ok(None) };
        let before = self.serial;
        if identity.serial != before {
            return Err(LinkError::Another { link: self.describe(), before, found: identity.serial });
        }
        let Some(is_other_start) = self.describe_program(&identity, give_up)? else { return Ok(None) };
        if is_other_start {
            return Err(LinkError::Restarted { link: self.describe() });
        }
        let mut claim = None;
        if let Some(token) = token {
            claim = match self.answer(&Request::Resume { token }, give_up) {
                Ok(None) => return Ok(None),
                Ok(Some(Answer { reply: Reply::Run(run), .. })) => Some(Ok(run)),
                Ok(Some(_)) => return Err(LinkError::OutOfPlace { asked: "resume" }),
                Err(LinkError::Refused { reject, .. }) => Some(Err(reject)),
                Err(error) => return Err(error),
            };
        }
        Ok(self.see(give_up)?.map(|seen| Met { seen, claim }))
    }

    /// Reads the present state.
    ///
    /// # Errors
    /// [`LinkError`].
    pub fn state(&mut self) -> Result<State, LinkError> {
        match self.see(&mut never)? {
            Some(seen) => Ok(seen.state),
            None => Err(LinkError::OutOfPlace { asked: "read state" }),
        }
    }

    /// Lets time pass on the link: real time, or a simulated fixture's own. Returns early where `stop` says so.
    ///
    /// # Errors
    /// [`LinkError`] where the other end is gone.
    pub fn pass(&mut self, span: Duration, stop: impl Fn() -> bool) -> Result<(), LinkError> {
        let began = Instant::now();
        let mut left = span;
        while !left.is_zero() && began.elapsed() < span && !stop() {
            let piece = left.min(Duration::from_millis(200));
            if self.receive(piece)? == 0 {
                left = left.saturating_sub(piece);
            }
        }
        Ok(())
    }

    fn see(&mut self, give_up: &mut dyn FnMut() -> bool) -> Result<Option<Seen>, LinkError> {
        match self.answer(&Request::ReadState, give_up)? {
            None => Ok(None),
            Some(Answer { reply: Reply::State(state), expected, told, .. }) => {
                Ok(Some(Seen { state, expected, told }))
            }
            Some(_) => Err(LinkError::OutOfPlace { asked: "read state" }),
        }
    }

    /// Asks and waits for the answer; sends again where none comes. Events that come meanwhile are kept.
    ///
    /// # Errors
    /// [`LinkError::Refused`] for a refusal, others where no answer can be had.
    pub fn ask(&mut self, request: &Request) -> Result<Reply, LinkError> {
        match self.answer(request, &mut never)? {
            Some(answer) => Ok(answer.reply),
            None => Err(LinkError::OutOfPlace { asked: name(request) }),
        }
    }

    /// The same; `None` if `give_up` says so before the answer has come.
    pub(super) fn answer(
        &mut self,
        request: &Request,
        give_up: &mut dyn FnMut() -> bool,
    ) -> Result<Option<Answer>, LinkError> {
        for tried in 1..=TRIES {
            let sequence = self.send(request)?;
            match self.wait_for(sequence, give_up)? {
                // Another host has used request numbers meanwhile; the next one is above them.
                Waited::Came(Answer { reply: Reply::Rejected(reject), .. })
                    if reject.cause == RejectCause::NotAbove && tried < TRIES => {}
                Waited::Came(Answer { reply: Reply::Rejected(reject), .. }) => {
                    return Err(LinkError::Refused { asked: name(request), reject });
                }
                Waited::Came(answer) => return Ok(Some(answer)),
                Waited::GivenUp => return Ok(None),
                Waited::InVain => {}
            }
        }
        Err(if self.understood == 0 && self.damaged > 0 {
            LinkError::NotOurs { link: self.describe(), damaged: self.damaged }
        } else {
            LinkError::Silent { link: self.describe(), asked: name(request), waited: ANSWER * TRIES }
        })
    }

    /// Waits for the reply with this number; older ones are late answers to tries given up.
    fn wait_for(&mut self, sequence: u32, give_up: &mut dyn FnMut() -> bool) -> Result<Waited, LinkError> {
        let started = Instant::now();
        let mut waited = Duration::ZERO;
        let step = Duration::from_millis(50);
        while waited < ANSWER && started.elapsed() < ANSWER * 2 {
            if self.receive(step)? == 0 {
                waited += step;
            }
            while let Some(answer) = self.answers.pop_front() {
                if answer.number == sequence {
                    return Ok(Waited::Came(answer));
                }
            }
            if give_up() {
                return Ok(Waited::GivenUp);
            }
        }
        Ok(Waited::InVain)
    }
}

/// Who was met again.
pub(super) struct Met {
    pub seen: Seen,
    /// How far the run has come, or why it is not this host's; `None` where no token was shown.
    pub claim: Option<Result<RunState, Reject>>,
}

/// What came of waiting.
#[allow(clippy::large_enum_variant)]
enum Waited {
    Came(Answer),
    InVain,
    GivenUp,
}
