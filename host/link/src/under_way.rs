//! What the host knows of a run under way: whose it is, and how far it was followed.

use super::clock::{Clock, Moment};
use super::deadline::{Deadline, Stopping};
use super::order::Order;
use celltriage_protocol::event::Trip;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::reply::Reject;
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;

/// What is known of a run under way, kept over a break of the link.
#[derive(Clone, Debug)]
pub(super) struct Run {
    pub plan: u32,
    pub loading: u32,
    /// Drawn for this run: what its owner shows.
    pub token: Token,
    /// Number that the next event had when the plan was loaded: none before it is of this run.
    pub first_event: u32,
    /// Whether an event of the run has come; another start is then another run's.
    pub begun: bool,
    /// Whether the fixture has said that another run is under way.
    pub taken_over: bool,
    /// Whether the fixture has said that no run is under way any more.
    pub over: bool,
    /// Whether the fixture has taken the start, as far as is known.
    pub started: bool,
    pub start: Order,
    /// What a later try of the start was answered: an earlier one may have been taken, and its answer lost.
    pub refused: Option<Reject>,
    pub trip: Option<Trip>,
    pub stopping: Option<Stopping>,
    pub deadline: Deadline,
    /// The keep-alives.
    pub words: Order,
    pub last_event: Moment,
    pub polls: Order,
}

impl Run {
    /// Returns that of a plan which was just loaded under this number.
    pub fn begin(plan: &Plan, loading: u32, first_event: u32, token: Token, clock: &Clock) -> Self {
        Self {
            plan: plan.number,
            loading,
            token,
            first_event,
            begun: false,
            taken_over: false,
            over: false,
            started: false,
            start: Order::default(),
            refused: None,
            trip: None,
            stopping: None,
            deadline: Deadline::of(plan, clock),
            words: Order::default(),
            last_event: clock.now(),
            polls: Order::default(),
        }
    }

    pub const fn start_request(&self) -> Request {
        Request::StartRun { plan: self.plan, loading: self.loading, token: self.token }
    }

    /// The fixture runs the plan. What it said of itself before tells nothing about that.
    pub fn take_start(&mut self) {
        if !self.started {
            self.started = true;
            self.polls = Order::default();
        }
    }
}

/// A run whose link broke for good, for [`Client::take_over`](super::Client::take_over) of another conversation.
#[derive(Clone, Debug)]
pub struct Owned {
    pub(super) run: Run,
    pub(super) serial: u64,
    pub(super) boot: u32,
    /// The first event that was not seen.
    pub(super) next: u32,
}
