//! The stretches of a book: handed out to those who check them, and put together in the order of numbers.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use super::super::identity::Identity;
use super::super::store::Rows;
use super::super::{Digest, Problem, Sort};
use super::found::Verification;
use super::stretch::{STRETCH, Stretch};

/// The entries of a book up to one, in stretches.
pub(super) struct Stretches {
    identity: Identity,
    upto: i64,
    state: Mutex<State>,
}

#[derive(Default)]
struct State {
    /// The number after which the next stretch begins, and how many were handed out.
    after: i64,
    given: u64,
    /// Checked before the ones in front of them.
    waiting: BTreeMap<u64, Stretch>,
    joined: Joined,
}

/// What is put together so far.
#[derive(Default)]
struct Joined {
    stretches: u64,
    last: i64,
    heads: BTreeMap<i64, (i64, Digest)>,
    real: bool,
    simulated: bool,
    found: Verification,
}

impl Stretches {
    pub(super) fn new(identity: Identity, upto: i64) -> Self {
        Self { identity, upto, state: Mutex::default() }
    }

    /// Checks stretches as long as there are any; several may do so at once, each from rows of its own.
    pub(super) fn check(&self, rows: &dyn Rows) -> Result<(), Problem> {
        while let Some((place, first)) = self.next(rows)? {
            let last = first.saturating_add(STRETCH - 1).min(self.upto);
            let stretch = Stretch::of(rows, &self.identity, first, last)?;
            self.with(|state| {
                state.waiting.insert(place, stretch);
                while let Some(next) = state.waiting.remove(&state.joined.stretches) {
                    state.joined.join(&self.identity, next)?;
                }
                Ok(())
            })?;
        }
        Ok(())
    }

    fn next(&self, rows: &dyn Rows) -> Result<Option<(u64, i64)>, Problem> {
        self.with(|state| {
            let next = rows.number_after(state.after)?.filter(|number| *number <= self.upto);
            let Some(first) = next else { return Ok(None) };
            state.after = first.saturating_add(STRETCH - 1);
            state.given += 1;
            Ok(Some((state.given - 1, first)))
        })
    }

    fn with<T>(&self, change: impl FnOnce(&mut State) -> Result<T, Problem>) -> Result<T, Problem> {
        change(&mut self.state.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Returns what was found in all of them.
    pub(super) fn found(self) -> Verification {
        let state = self.state.into_inner().unwrap_or_else(PoisonError::into_inner);
        let Joined { real, simulated, mut found, stretches, .. } = state.joined;
        if stretches != state.given {
            found.fault(None, "not all entries could be looked at");
            state.waiting.into_values().for_each(|stretch| found.add(stretch.found));
        }
        if self.identity.sort != Sort::of_entries(real, simulated) {
            found.fault(
                None,
                "what it is for, real cells or simulated ones, is not what its entries are about",
            );
        }
        found
    }
}

impl Joined {
    fn join(&mut self, identity: &Identity, mut next: Stretch) -> Result<(), Problem> {
        self.stretches += 1;
        if next.first > 0 && next.first != self.last + 1 {
            next.found.fault(Some(next.first), format!("it does not follow entry {}", self.last));
        }
        for (chain, (number, form, position, previous)) in std::mem::take(&mut next.opens) {
            let head = match self.heads.get(&chain) {
                Some(head) => *head,
                None => (0, identity.chain_beginning(chain, form)?),
            };
            next.continues(number, (position, previous), head);
        }
        self.last = self.last.max(next.last);
        self.heads.append(&mut next.heads);
        self.real |= next.real;
        self.simulated |= next.simulated;
        self.found.add(next.found);
        Ok(())
    }
}
