//! What happens at each call of a database: it is counted, it may fail, and its random bytes may be known before.

use std::collections::BTreeSet;
use std::sync::Mutex;

use crate::{Digest, Problem};

/// What happens at each call.
#[derive(Debug, Default)]
pub(super) struct Calls(Mutex<State>);

#[derive(Debug, Default)]
struct State {
    /// Calls until the one that fails, and how it fails.
    failing: Option<(u32, Fault)>,
    failed: Option<&'static str>,
    names: BTreeSet<&'static str>,
    /// From where random bytes are drawn; `None`: from the database.
    seed: Option<u64>,
    drawn: u64,
}

/// How a call fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    Locked,
    Full,
    Damaged,
}

impl Fault {
    pub(super) const ALL: [Self; 3] = [Self::Locked, Self::Full, Self::Damaged];

    fn problem(self) -> Problem {
        match self {
            Self::Locked => Problem::Locked,
            Self::Full => Problem::DiskFull,
            Self::Damaged => Problem::Corrupt { detail: "this was played".into() },
        }
    }

    /// Returns whether a problem is this one.
    pub(super) fn is(self, problem: &Problem) -> bool {
        std::mem::discriminant(problem) == std::mem::discriminant(&self.problem())
    }
}

impl Calls {
    /// Draws random bytes from a seed, so that two databases get the same.
    pub(super) fn seeded(seed: u64) -> Self {
        Self(Mutex::new(State { seed: Some(seed), ..State::default() }))
    }

    /// Lets the call after so many others fail, once.
    pub(super) fn fail_after(&self, calls: u32, fault: Fault) {
        let mut state = self.0.lock().unwrap();
        (state.failing, state.failed) = (Some((calls, fault)), None);
    }

    /// Lets no call fail from now on; returns the one that has failed.
    pub(super) fn fail_no_more(&self) -> Option<&'static str> {
        let mut state = self.0.lock().unwrap();
        state.failing = None;
        state.failed.take()
    }

    /// The names of all calls that were made.
    pub(super) fn names(&self) -> BTreeSet<&'static str> {
        self.0.lock().unwrap().names.clone()
    }

    pub(super) fn call(&self, name: &'static str) -> Result<(), Problem> {
        let mut state = self.0.lock().unwrap();
        state.names.insert(name);
        match &mut state.failing {
            Some((0, fault)) => {
                let fault = *fault;
                (state.failing, state.failed) = (None, Some(name));
                Err(fault.problem())
            }
            Some((left, _)) => {
                *left -= 1;
                Ok(())
            }
            None => Ok(()),
        }
    }

    /// Returns the next bytes of the seed, if there is one.
    pub(super) fn random(&self) -> Option<[u8; 16]> {
        let mut state = self.0.lock().unwrap();
        let seed = state.seed?;
        state.drawn += 1;
        let digest = Digest::of(&[seed.to_le_bytes(), state.drawn.to_le_bytes()].concat());
        digest.as_ref().first_chunk().copied()
    }
}
