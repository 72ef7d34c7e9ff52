//! The owner's side of a conversation, for test hosts: address, request numbers, loading and token.
//!
//! Tests name what they want of a plan by the short requests `LoadPlan`, `Start` and `KeepAlive`; what is said are `Load`,
//! `StartRun` and `KeepRunning` of version 2. Each start that is said draws a new token; the one that is taken counts.

use celltriage_protocol::address::Address;
use celltriage_protocol::frame::{MAX_ENCODED, encode_addressed};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::reply::{RejectCause, Reply};
use celltriage_protocol::request::{Kind, Request};
use celltriage_protocol::run::Token;

/// What an owner knows.
#[derive(Clone, Copy, Debug)]
pub struct Owner {
    /// The fixture's boot number.
    pub boot: u32,
    /// The last request number said.
    pub number: u32,
    /// Number of the last loading.
    pub loading: u32,
    /// Token of the last run.
    pub token: Token,
    drawn: u64,
}

impl Owner {
    /// Knows the boot number; other owners draw other tokens where the seeds differ.
    pub const fn of(boot: u32, seed: u64) -> Self {
        Self { boot, number: 0, loading: 0, token: Token(0), drawn: seed }
    }

    /// Returns what is said for a request, in version 2.
    pub fn meant(&mut self, request: &Request) -> Request {
        match request {
            Request::LoadPlan(plan) => Request::Load(CellPlan::from(plan)),
            Request::Start { plan } => {
                self.drawn = self.drawn.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(99);
                Request::StartRun { plan: *plan, loading: self.loading, token: Token(self.drawn) }
            }
            Request::KeepAlive => Request::KeepRunning { token: self.token },
            other => other.clone(),
        }
    }

    /// Writes what was meant, with the next number where it acts.
    pub fn encode<'a>(
        &mut self,
        sequence: u32,
        meant: &Request,
        out: &'a mut [u8; MAX_ENCODED + 1],
    ) -> &'a [u8] {
        self.number += u32::from(meant.kind() == Kind::Act);
        let address = Address { boot: self.boot, number: self.number };
        encode_addressed(sequence, address, meant, out).unwrap()
    }

    /// Takes the reply to what was meant; a loading that was taken is "done", as in version 1.
    pub fn hear(&mut self, meant: &Request, reply: Reply) -> Reply {
        match (meant, reply) {
            (_, Reply::Loaded { loading, .. }) => {
                self.loading = loading;
                Reply::Done
            }
            (Request::StartRun { token, .. }, Reply::Done) => {
                self.token = *token;
                Reply::Done
            }
            (_, reply) => reply,
        }
    }

    /// Returns whether a request is to be said again: the fixture has restarted, or another host has used numbers.
    pub fn must_say_again(&mut self, reply: &Reply) -> bool {
        match reply {
            Reply::Rejected(reject) if reject.cause == RejectCause::OtherBoot => {
                (self.boot, self.number) = (reject.limit as u32, 0);
                true
            }
            Reply::Rejected(reject) if reject.cause == RejectCause::NotAbove => {
                self.number = reject.limit as u32;
                true
            }
            _ => false,
        }
    }
}
