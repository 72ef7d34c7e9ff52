//! A run whose link broke for good goes on over another one.
//!
//! The fixture goes on with a run for [`HOST_SILENCE`](celltriage_protocol::limits::HOST_SILENCE) without a word of its owner.
//! Whoever has the token goes on with it in that time, over whatever link; later it still learns how the run ended.

use super::under_way::{Owned, Run};
use super::{Client, LinkError, Recorder, RunEnd};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;

impl Client<'_> {
    /// Returns the run that was under way when the link broke for good, once.
    pub const fn left(&mut self) -> Option<Owned> {
        self.left.take()
    }

    pub(super) fn owned(&self, run: Run) -> Owned {
        let boot = self.description.as_ref().map_or(0, |description| description.boot);
        let next = self.events.front().map_or_else(|| self.missing.expected(), |(number, ..)| *number);
        Owned { run, serial: self.serial, boot, next }
    }

    /// Goes on with a run that another conversation has begun, and follows it to its end.
    ///
    /// # Errors
    /// [`LinkError::Another`], [`LinkError::Restarted`], [`LinkError::Refused`] where the run is not there any more, and
    /// those of [`Client::run`].
    pub fn take_over(&mut self, owned: Owned, watch: &mut dyn Recorder) -> Result<RunEnd, LinkError> {
        let link = self.describe();
        if owned.serial != self.serial {
            return Err(LinkError::Another { link, before: owned.serial, found: self.serial });
        }
        if self.description.as_ref().is_none_or(|description| description.boot != owned.boot) {
            return Err(LinkError::Restarted { link });
        }
        let Reply::Run(state) = self.ask(&Request::Resume { token: owned.run.token })? else {
            return Err(LinkError::OutOfPlace { asked: "resume" });
        };
        self.go_back_to(owned.next, state.next_event);
        let mut run = owned.run;
        run.words.wait(&self.clock);
        self.see_to_the_end(run, watch)
    }
}
