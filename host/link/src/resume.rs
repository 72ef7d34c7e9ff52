//! A link that breaks during a run: wait for the same fixture, and go on where its events were last understood.
//!
//! The fixture runs its plan by itself and keeps its recent events. It drops the load after
//! [`limits::HOST_SILENCE`] without a word; a link that is back before then
//! costs nothing, one that is back later still brings the story of the trip. What was counted is told as a total, so no
//! charge is lost with a sample. A fixture that restarted has forgotten all this, which is told apart and never mended.

use super::answer::{Seen, never};
use super::asking::Met;
use super::missing::is_ahead;
use super::under_way::Run;
use super::{Attendant, Client, LinkError, Recorder, Reopened, RunEnd, RunEvent};
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, State};
use celltriage_protocol::run::Token;
use celltriage_protocol::splitter::Splitter;
use celltriage_protocol::units::Micros;
use std::time::{Duration, Instant};

/// How long a broken link is waited for. A USB device is found again within about a second; the rest is for the hand that
/// puts the plug back (common practice).
pub const PATIENCE: Duration = Duration::from_secs(10);
/// The newest time known may be that of a sample still to come: at most one period ahead.
const SLACK: Micros = Micros::new(limits::LONGEST_REST_PERIOD_US as u64);
/// Between two tries.
const PAUSE: Duration = Duration::from_millis(50);

impl Client<'_> {
    /// Follows a run to its end, over breaks of the link.
    pub(super) fn follow_over_breaks(
        &mut self,
        watch: &mut dyn Recorder,
        run: &mut Run,
    ) -> Result<RunEnd, LinkError> {
        loop {
            match self.follow(watch, run) {
                Err(broken @ (LinkError::Gone { .. } | LinkError::Silent { .. })) => match &run.stopping {
                    Some(stopping) => return Err(stopping.error(self.describe())),
                    None if run.started => self.resume(broken, watch, run)?,
                    None => return Err(broken),
                },
                end => return end,
            }
        }
    }

    /// Waits for the same fixture and shows the run's token, which holds up a run that is still under way; the loop that
    /// follows the run then asks for the events from the first one that is missing.
    fn resume(
        &mut self,
        broken: LinkError,
        watch: &mut dyn Attendant<RunEvent>,
        run: &mut Run,
    ) -> Result<(), LinkError> {
        let began = Instant::now();
        let until = began + run.deadline.left(&self.clock);
        let met = self.regain_seen(broken, Some(run.token), &mut Until { watch, until })?;
        let Seen { state, expected, .. } = met.seen;
        let seconds = began.elapsed().as_secs_f64();
        let nothing_left = state.next_event == expected && self.events.is_empty();
        if state.activity == Activity::Idle && nothing_left {
            // The end of the plan was not among what was told.
            return Err(LinkError::Restarted { link: self.describe() });
        }
        let missed = state.next_event.wrapping_sub(expected);
        watch.sees(&RunEvent::Remark(format!(
            "the link was gone for {seconds:.1} s; the fixture went on by itself and tells the {missed} events since then"
        )));
        self.missing.know(state.next_event);
        self.missing.ask_at_once();
        // The token was a word of its own, where the run is still under way.
        run.words.wait(&self.clock);
        run.taken_over |= met.claim.is_some_and(|claim| claim.is_err());
        Ok(())
    }

    /// Waits until the same fixture answers again; `broken` is what is told where it does not.
    ///
    /// # Errors
    /// `broken`, [`LinkError::Another`] or [`LinkError::Restarted`].
    pub fn regain(
        &mut self,
        broken: LinkError,
        watch: &mut dyn Attendant<RunEvent>,
    ) -> Result<State, LinkError> {
        self.regain_seen(broken, None, watch).map(|met| met.seen.state)
    }

    fn regain_seen(
        &mut self,
        broken: LinkError,
        token: Option<Token>,
        watch: &mut dyn Attendant<RunEvent>,
    ) -> Result<Met, LinkError> {
        let began = Instant::now();
        let mut told = false;
        while began.elapsed() < PATIENCE {
            match self.link.reopen(self.serial)? {
                Reopened::Never => return Err(broken),
                Reopened::Yes => {
                    self.splitter = Splitter::new();
                    self.raw.clear();
                    match self.meet_again(token, &mut || watch.stop_wanted()) {
                        Ok(Some(met)) => {
                            self.same_run(&met.seen)?;
                            return Ok(met);
                        }
                        Ok(None) => return Err(broken),
                        // It is back but does not speak yet, or is gone again.
                        Err(LinkError::Gone { .. } | LinkError::Silent { .. }) => {}
                        Err(error) => return Err(error),
                    }
                }
                Reopened::NotYet => {}
            }
            if !told {
                told = true;
                let text = format!("{broken}. Waiting {} s for it to come back", PATIENCE.as_secs());
                watch.sees(&RunEvent::Remark(text));
            }
            if watch.stop_wanted() {
                return Err(broken);
            }
            std::thread::sleep(PAUSE);
        }
        Err(broken)
    }

    /// Goes on with a fixture that restarted: what it told before is forgotten.
    ///
    /// # Errors
    /// [`LinkError`] where it does not answer.
    pub fn begin_again(&mut self) -> Result<State, LinkError> {
        match self.introduce(&mut never)? {
            Some((_, seen)) => {
                self.begin_with(&seen.state);
                Ok(seen.state)
            }
            None => Err(LinkError::OutOfPlace { asked: "identify" }),
        }
    }

    /// A clock or a count that went back shows a restart, also of a board that cannot count its starts.
    pub(super) fn same_run(&self, seen: &Seen) -> Result<(), LinkError> {
        let Seen { state, expected, told } = seen;
        let count_went_back = is_ahead(expected.wrapping_sub(state.next_event));
        if count_went_back || state.now.saturating_add(SLACK) < *told {
            return Err(LinkError::Restarted { link: self.describe() });
        }
        Ok(())
    }
}

/// Waits no longer than the run may last.
struct Until<'a> {
    watch: &'a mut dyn Attendant<RunEvent>,
    until: Instant,
}

impl Attendant<RunEvent> for Until<'_> {
    fn sees(&mut self, event: &RunEvent) {
        self.watch.sees(event);
    }

    fn stop_wanted(&self) -> bool {
        Instant::now() >= self.until || self.watch.stop_wanted()
    }
}
