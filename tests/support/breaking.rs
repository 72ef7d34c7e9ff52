//! A link that breaks at its n-th operation, once or for good.

use crate::SharedBench;
use celltriage_link::{Link, LinkError, Reopened};
use std::cell::Cell;
use std::rc::Rc;
use std::time::Duration;

/// What a link does once it has broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Break {
    /// It can be opened again at once and is whole from then on.
    Once,
    /// The same, but what was on its way in these milliseconds is lost.
    OnceLosing(u64),
    /// It never comes back.
    ForGood,
}

/// The link.
pub struct BreakingLink {
    inner: SharedBench,
    left: Rc<Cell<u32>>,
    how: Break,
}

impl BreakingLink {
    /// Breaks at this operation; 0 is never.
    pub fn at(inner: SharedBench, operation: u32, how: Break) -> Self {
        Self { inner, left: Rc::new(Cell::new(operation)), how }
    }

    /// Returns how many operations are left, for a test that lets the count begin later.
    pub fn left(&self) -> Rc<Cell<u32>> {
        Rc::clone(&self.left)
    }

    fn count(&mut self) -> Result<(), LinkError> {
        match self.left.get() {
            0 => return Ok(()),
            1 => {}
            left => {
                self.left.set(left - 1);
                return Ok(());
            }
        }
        if self.how != Break::ForGood {
            self.left.set(0);
        }
        if let Break::OnceLosing(milliseconds) = self.how {
            self.inner.receive(&mut Vec::new(), Duration::from_millis(milliseconds))?;
        }
        Err(LinkError::Gone { link: self.describe(), reason: "unplugged".to_owned() })
    }
}

impl Link for BreakingLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.count()?;
        self.inner.send(bytes)
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        self.count()?;
        self.inner.receive(into, wait)
    }

    fn draw(&mut self) -> u64 {
        self.inner.draw()
    }

    fn describe(&self) -> String {
        "breaking link".to_owned()
    }

    fn reopen(&mut self, _: u64) -> Result<Reopened, LinkError> {
        Ok(if self.how == Break::ForGood { Reopened::Never } else { Reopened::Yes })
    }
}
