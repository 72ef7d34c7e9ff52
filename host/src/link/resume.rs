//! A link that breaks during a run: wait for the same fixture, and go on where its events were last understood.
//!
//! The fixture runs its plan by itself and keeps its recent events. It drops the load after
//! [`limits::HOST_SILENCE`] without a word; a link that is back before then
//! costs nothing, one that is back later still brings the story of the trip. What was counted is told as a total, so no
//! charge is lost with a sample. A fixture that restarted has forgotten all this, which is told apart and never mended.

use super::client::Following;
use super::{Client, LinkError, Reopened, RunEnd, Watch};
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::Splitter;
use celltriage_protocol::units::Micros;
use std::time::{Duration, Instant};

/// How long a broken link is waited for. A USB device is found anew within about a second; the rest is for the hand that
/// puts the plug back (common practice).
pub const PATIENCE: Duration = Duration::from_secs(10);
/// The newest time known may be that of a sample still to come: at most one period ahead.
const SLACK: Micros = Micros::new(limits::LONGEST_REST_PERIOD_US as u64);
/// Between two tries.
const PAUSE: Duration = Duration::from_millis(50);

impl Client<'_> {
    /// Follows a run to its end, over breaks of the link.
    pub(super) fn follow_over_breaks(&mut self, watch: &mut dyn Watch) -> Result<RunEnd, LinkError> {
        let mut known = Following::default();
        loop {
            match self.follow(watch, &mut known) {
                Err(broken @ (LinkError::Gone { .. } | LinkError::Silent { .. })) => {
                    self.resume(broken, watch)?;
                }
                end => return end,
            }
        }
    }

    /// Waits for the same fixture, then asks for the events from the first one that is missing.
    fn resume(&mut self, broken: LinkError, watch: &mut dyn Watch) -> Result<(), LinkError> {
        let began = Instant::now();
        let state = self.regain(broken, watch)?;
        let seconds = began.elapsed().as_secs_f64();
        if state.activity == Activity::Idle && state.next_event == self.expected {
            // Nothing is left to be told, and the end of the plan was not among it.
            return Err(LinkError::Restarted { link: self.describe() });
        }
        let missed = state.next_event.wrapping_sub(self.expected);
        watch.remark(&format!(
            "the link was gone for {seconds:.1} s; the fixture went on by itself and tells the {missed} events since then"
        ));
        self.resend_asked = missed > 0;
        if missed > 0 {
            self.send(&Request::ResendFrom { sequence: self.expected })?;
        }
        Ok(())
    }

    /// Waits until the same fixture answers again; `broken` is what is told where it does not.
    ///
    /// # Errors
    /// `broken`, [`LinkError::Another`] or [`LinkError::Restarted`].
    pub(crate) fn regain(&mut self, broken: LinkError, watch: &mut dyn Watch) -> Result<State, LinkError> {
        let (began, last) = (Instant::now(), self.fixture_now);
        let mut told = false;
        while began.elapsed() < PATIENCE {
            match self.link.reopen(self.serial)? {
                Reopened::Never => return Err(broken),
                Reopened::Yes => {
                    self.splitter = Splitter::new();
                    self.raw.clear();
                    match self.introduce() {
                        Ok((identity, state)) => {
                            let before = self.serial;
                            if identity.serial != before {
                                let (link, found) = (self.describe(), identity.serial);
                                return Err(LinkError::Another { link, before, found });
                            }
                            return self.same_run(state, last);
                        }
                        // It is back but does not speak yet, or is gone again.
                        Err(LinkError::Gone { .. } | LinkError::Silent { .. }) => {}
                        Err(error) => return Err(error),
                    }
                }
                Reopened::NotYet => {}
            }
            if !told {
                told = true;
                watch.remark(&format!("{broken}. Waiting {} s for it to come back", PATIENCE.as_secs()));
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
    pub(crate) fn begin_anew(&mut self) -> Result<State, LinkError> {
        let state = self.state()?;
        self.expected = state.next_event;
        self.resend_asked = false;
        Ok(state)
    }

    /// A clock or a count that went back shows a restart.
    fn same_run(&self, state: State, last: Micros) -> Result<State, LinkError> {
        let ahead = state.next_event.wrapping_sub(self.expected);
        if ahead > u32::MAX / 2 || state.now.saturating_add(SLACK) < last {
            return Err(LinkError::Restarted { link: self.describe() });
        }
        Ok(state)
    }
}
