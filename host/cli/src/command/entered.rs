//! Several events of custody that one command has written, for people and for machines; of a single one `Desk::tell` says it.

use super::say_json;
use crate::desk::{Desk, all_in_json, in_json};
use crate::error::Error;
use crate::io::Io;
use celltriage_workshop::signer::Entered;
use serde_json::Value;

/// Says what was entered and where: a line for each as it is written, or all of them as one object.
pub(super) struct Written {
    json: bool,
    entered: Vec<Value>,
}

impl Written {
    /// Begins with nothing written.
    pub(super) const fn new(json: bool) -> Self {
        Self { json, entered: Vec::new() }
    }

    /// Says that an event was written.
    pub(super) fn tell(&mut self, desk: &Desk<'_>, one: &Entered, io: &mut Io<'_>) {
        if !self.json {
            desk.tell(one, io);
            return;
        }
        desk.tell_written(one, io);
        self.entered.push(in_json(one));
    }

    /// Says for machines what was written, also where what was to follow failed.
    ///
    /// # Errors
    /// It cannot be written as JSON.
    pub(super) fn end(self, io: &mut Io<'_>) -> Result<(), Error> {
        if self.json {
            say_json(&all_in_json(self.entered), io)?;
        }
        Ok(())
    }
}
