//! A whole plan from start to end, for the owner of the run: one loop that waits for no single answer.
//!
//! Whatever the host asks while a plan runs is said, said again after a while, and answered when the answer comes; the
//! loop goes round at least every quarter of a second. Keep-alives come from this loop and from nowhere else: a host that
//! is stuck anywhere falls silent, and a host that has not started the plan has no token to say one with. From the first stop on they
//! cease, so that the load goes off even where no stop is heard.

use super::answer::{Answer, Seen};
use super::deadline::Stopping;
use super::missing::{AGAIN, is_ahead};
use super::recording::settled_stop;
use super::request_name::name;
use super::under_way::Run;
use super::{Client, Ending, LinkError, Recorder, RunEvent};
use celltriage_protocol::event::{Event, Outcome, Trip, TripCause};
use celltriage_protocol::frame::MAX_ENCODED;
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;
use std::time::Duration;

/// Without any byte for this long during a run, the fixture counts as silent.
const SILENCE: Duration = Duration::from_secs(5);
/// So often a start is said before the fixture counts as silent.
const STARTS: u32 = 6;
const KEEP_ALIVE: Duration = Duration::from_micros(limits::KEEP_ALIVE.get());
/// Without an event for this long the fixture is asked how many it has told: what was lost last shows in no gap. A plan
/// waits up to 2 s for its first readings, and the first samples are told within a second
/// ([`limits::REPORT_AT_LEAST`]).
const QUIET: Duration = Duration::from_secs(3);

/// How a run ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunEnd {
    /// The fixture's own word.
    pub outcome: Outcome,
    /// The trip, if it tripped.
    pub trip: Option<Trip>,
}

impl Client<'_> {
    /// Runs a plan from its loading to its end, which is heard of or given up by the plan's longest time and 30 s.
    ///
    /// # Errors
    /// [`LinkError`]; the load is then off, or goes off by the fixture's own watch over a silent host. Where the link broke,
    /// [`Client::left`] has the run.
    pub fn run(&mut self, plan: impl Into<CellPlan>, watch: &mut dyn Recorder) -> Result<RunEnd, LinkError> {
        let plan: CellPlan = plan.into();
        let terms = plan.plan.clone();
        let load = Request::Load(plan);
        let mut loaded = None;
        if !watch.stop_wanted() {
            self.keep_request(&load, watch)?;
            loaded = self.answer(&load, &mut || watch.stop_wanted())?;
        }
        let (loading, first_event) = match loaded {
            Some(Answer { reply: Reply::Loaded { loading, next_event }, .. }) if !watch.stop_wanted() => {
                (loading, next_event)
            }
            Some(Answer { reply: Reply::Loaded { .. }, .. }) | None => {
                return Err(LinkError::Stopped {
                    link: self.describe(),
                    why: Ending::BeforeStart,
                    heard: true,
                });
            }
            Some(_) => return Err(LinkError::OutOfPlace { asked: name(&load) }),
        };
        let token = Token(self.link.draw());
        let run = Run::begin(&terms, loading, first_event, token, &self.clock);
        self.keep_request(&run.start_request(), watch)?;
        self.see_to_the_end(run, watch)
    }

    /// Follows a run to its end, and keeps it for [`Client::left`] where the link breaks for good.
    pub(super) fn see_to_the_end(
        &mut self,
        mut run: Run,
        watch: &mut dyn Recorder,
    ) -> Result<RunEnd, LinkError> {
        let end = self.follow_over_breaks(watch, &mut run);
        // A refused start has started nothing, and what runs there is not ours to stop.
        let not_ours =
            |error: &LinkError| matches!(error, LinkError::Refused { .. } | LinkError::TakenOver { .. });
        if end.as_ref().is_err_and(|error| !not_ours(error)) {
            // Best effort: where even this fails, the fixture's watch over a silent host takes over.
            let stopped = self.send(&Request::Stop);
            if stopped.is_err() && run.started && run.stopping.is_none() {
                self.left = Some(self.owned(run));
            }
        }
        end
    }

    pub(super) fn follow(&mut self, watch: &mut dyn Recorder, run: &mut Run) -> Result<RunEnd, LinkError> {
        let mut heard = self.clock.now();
        loop {
            self.stop_where_wanted(watch, run)?;
            self.say_what_is_due(run)?;
            self.ask_for_what_is_missing(watch, run)?;
            if self.receive(KEEP_ALIVE / 2)? > 0 {
                heard = self.clock.now();
            } else if self.clock.since(heard) >= SILENCE {
                return Err(self.silent("run", SILENCE));
            }
            // Before the answers: those were given after what had been told by then.
            if let Some(end) = self.take_events(watch, run)? {
                return Ok(end);
            }
            self.take_answers(run)?;
        }
    }

    fn silent(&self, asked: &'static str, waited: Duration) -> LinkError {
        LinkError::Silent { link: self.describe(), asked, waited }
    }

    fn stop_where_wanted(&self, watch: &mut dyn Recorder, run: &mut Run) -> Result<(), LinkError> {
        if run.stopping.is_none() {
            let person = watch.stop_wanted().then_some(Ending::ByPerson);
            let settled = || watch.settled().then_some(Ending::Settled);
            let why = person.or_else(settled).or_else(|| run.deadline.ending(&self.clock));
            if let Some(why) = why {
                run.stopping = Some(Stopping::begin(why, &self.clock));
                match why {
                    Ending::Settled => watch.keep(&settled_stop()).map_err(LinkError::NotKept)?,
                    _ => self.keep_request(&Request::Stop, watch)?,
                }
            }
        }
        match &run.stopping {
            Some(stopping) if stopping.is_over(&self.clock) || run.deadline.is_over(&self.clock) => {
                Err(stopping.error(self.describe()))
            }
            _ => Ok(()),
        }
    }

    /// Says stop, start or a keep-alive, whichever it is time for.
    fn say_what_is_due(&mut self, run: &mut Run) -> Result<(), LinkError> {
        if let Some(stopping) = &mut run.stopping {
            if !stopping.heard && stopping.said.is_due(KEEP_ALIVE, &self.clock) {
                stopping.said.said(self.send(&Request::Stop)?, &self.clock);
            }
            return Ok(());
        }
        if !run.started && run.start.is_due(KEEP_ALIVE, &self.clock) {
            if run.start.tries() >= STARTS {
                return Err(self.silent("start", KEEP_ALIVE * STARTS));
            }
            run.start.said(self.send(&run.start_request())?, &self.clock);
            if run.start.tries() == 1 {
                run.words.wait(&self.clock);
            }
        } else if run.words.is_due(KEEP_ALIVE, &self.clock) {
            run.words.said(self.send(&Request::KeepRunning { token: run.token })?, &self.clock);
        }
        Ok(())
    }

    fn ask_for_what_is_missing(&mut self, watch: &mut dyn Recorder, run: &mut Run) -> Result<(), LinkError> {
        // Until a stop is heard nothing else is said: a fixture with older firmware takes any word for a keep-alive.
        if run.stopping.as_ref().is_some_and(|stopping| !stopping.heard) {
            return Ok(());
        }
        if let Some(sequence) = self.missing.due(&self.clock) {
            self.send(&Request::ResendFrom { sequence })?;
        }
        if let Some(number) = self.missing.take_given_up() {
            watch.sees(&RunEvent::Remark(format!(
                "event {number} of the fixture was lost each time it was asked for"
            )));
        }
        let patience = if run.stopping.is_some() || run.over { AGAIN } else { QUIET };
        if (run.started || run.stopping.is_some())
            && (run.taken_over || self.clock.since(run.last_event) >= patience)
            && run.polls.is_due(AGAIN, &self.clock)
        {
            run.polls.said(self.send(&Request::ReadState)?, &self.clock);
        }
        Ok(())
    }

    fn take_events(&mut self, watch: &mut dyn Recorder, run: &mut Run) -> Result<Option<RunEnd>, LinkError> {
        while let Some((number, event, raw)) = self.events.pop_front() {
            // What was told between the connection and the loading may be of another host's run.
            if number != run.first_event && !is_ahead(number.wrapping_sub(run.first_event)) {
                continue;
            }
            let starts = matches!(event, Event::PlanStarted { .. });
            if starts && run.begun {
                return Err(LinkError::TakenOver { link: self.describe() });
            }
            run.begun |= starts || matches!(event, Event::StepStarted { .. } | Event::Samples(_));
            watch.keep(&raw).map_err(LinkError::NotKept)?;
            let event = RunEvent::Fixture(event);
            watch.sees(&event);
            run.last_event = self.clock.now();
            let RunEvent::Fixture(event) = event else { continue };
            match event {
                Event::PlanStarted { plan, .. } if plan == run.plan => run.take_start(),
                Event::StepStarted { .. } | Event::Samples(_) => run.take_start(),
                Event::Tripped(latched) => run.trip = Some(latched),
                Event::PlanEnded { outcome, .. } => return self.end(outcome, watch, run).map(Some),
                _ => {}
            }
        }
        Ok(None)
    }

    fn end(&self, outcome: Outcome, watch: &mut dyn Recorder, run: &mut Run) -> Result<RunEnd, LinkError> {
        let end = RunEnd { outcome, trip: run.trip };
        let Some(stopping) = &mut run.stopping else { return Ok(end) };
        match (outcome, end.trip.map(|trip| trip.cause)) {
            (Outcome::Stopped, _) if !matches!(stopping.why, Ending::ByPerson | Ending::Settled) => {
                stopping.heard = true;
                return Err(stopping.error(self.describe()));
            }
            (Outcome::Tripped, Some(TripCause::HostSilent)) => watch.sees(&RunEvent::Remark(format!(
                "{}; the fixture heard no stop in time and dropped the load because the host had fallen silent",
                stopping.why
            ))),
            _ => {}
        }
        Ok(end)
    }

    fn take_answers(&mut self, run: &mut Run) -> Result<(), LinkError> {
        while let Some(answer) = self.answers.pop_front() {
            let to_start = run.start.has(answer.number) && !run.started;
            match answer.reply {
                Reply::State(state) if run.polls.has(answer.number) => {
                    self.take_state(Seen { state, expected: answer.expected, told: answer.told }, run)?;
                }
                Reply::Done if to_start => run.take_start(),
                Reply::Done => {
                    if let Some(stopping) = &mut run.stopping {
                        stopping.heard |= stopping.said.has(answer.number);
                    }
                }
                Reply::Rejected(reject) if run.words.has(answer.number) => match reject.cause {
                    // Another host has used request numbers; the next one is above them.
                    RejectCause::NotAbove => run.words.hurry(),
                    RejectCause::OtherToken => run.taken_over = true,
                    // The events say how it ended, as far as they come.
                    _ => run.over = true,
                },
                Reply::Rejected(reject) if to_start && reject.cause == RejectCause::NotAbove => {
                    run.start.hurry();
                }
                // The answer to an earlier try may be lost, and the plan run, or be over already. What the fixture has
                // told since will say so.
                Reply::Rejected(reject) if to_start && run.start.tries() > 1 => {
                    run.refused = Some(reject);
                    run.take_start();
                }
                Reply::Rejected(reject) if to_start => {
                    return Err(LinkError::Refused { asked: "start", reject });
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// Compares what the fixture has told with what has come.
    fn take_state(&mut self, seen: Seen, run: &mut Run) -> Result<(), LinkError> {
        self.same_run(&seen)?;
        let next_event = seen.state.next_event;
        self.missing.know(next_event);
        if seen.state.activity == Activity::Running && !run.taken_over {
            return Ok(());
        }
        if let Some(stopping) = &mut run.stopping {
            stopping.heard = true;
        }
        if next_event != seen.expected {
            return Ok(());
        }
        // Nothing is left to be told, and the end of the plan was not among it.
        if run.taken_over {
            return Err(LinkError::TakenOver { link: self.describe() });
        }
        Err(match (&run.stopping, run.refused) {
            (Some(stopping), _) => stopping.error(self.describe()),
            (None, Some(reject)) => LinkError::Refused { asked: "start", reject },
            (None, None) if self.missing.has_skipped() => LinkError::EndLost { link: self.describe() },
            (None, None) => LinkError::Restarted { link: self.describe() },
        })
    }

    fn keep_request(&self, request: &Request, watch: &mut dyn Recorder) -> Result<(), LinkError> {
        let mut out = [0u8; MAX_ENCODED + 1];
        watch.keep(self.encode(request, &mut out)?).map_err(LinkError::NotKept)
    }
}
