//! The whole fixture: one pass over link, sensors, guard, plan and outputs.
//!
//! Takes the time and the board, gives when it wants to be called again. [`Fixture::new`] sets the safe state before
//! anything else. A pass that is due a sample reads voltage and current, lets the guard judge and switches the load
//! accordingly, lets the sequencer go on and the guard judge that, and only then reads what is slow and tells the
//! host: from a bad reading to the load being off lies nothing but the guard. Outputs are applied in one place.
//!
//! The host comes last: a pass hears at most one request, and one that has taken a sample leaves it to the next, so that
//! no flood of requests, however expensive, makes a sample late by more than one answer.

mod answer;
mod course;
mod describe;
#[cfg(test)]
mod fault_tests;
mod inbox;
mod tell;
#[cfg(test)]
mod tests;

use crate::board::{Board, Boot};
use crate::bus::Help;
use crate::convert;
use crate::guard::{Demand, Guard, Inputs, Outputs, Terms};
use crate::history::History;
use crate::instruments::Instruments;
use crate::link::{Heard, Link};
use crate::ownership::Ownership;
use crate::readings::Readings;
use crate::recorder::Recorder;
use crate::roll_call::Part;
use crate::sequencer::{IDLE_PERIOD, Sequencer};
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::Trip;
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::floors::Floors;
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, Reject, RejectCause, Reply};
use celltriage_protocol::units::{MicroAmps, Micros};
use inbox::Inbox;

/// A pass hears at most this many bytes, so that rubbish without an end cannot keep it from sampling. Our choice: at a
/// thousand passes a second twenty times what 115,200 bit/s bring.
const MOST_BYTES: usize = 256;
/// What could not be sent at once is tried again after this time.
const SEND_AGAIN: Micros = Micros::from_millis(1);
const TICK: Micros = Micros::new(1);

/// The fixture.
#[derive(Clone, Debug)]
pub struct Fixture {
    calibration: Calibration,
    instruments: Instruments,
    bus: Help,
    readings: Readings,
    guard: Guard,
    sequencer: Sequencer,
    recorder: Recorder,
    history: History,
    link: Link,
    inbox: Inbox,
    /// Whether the pass before has taken a sample and left what the host has sent to this one.
    owes_hearing: bool,
    /// Whose run it is, and when its owner was heard last. Nobody else counts: a program that only asks would else keep
    /// the load on after the one that watches over it is gone.
    ownership: Ownership,
    boot: Boot,
    /// The adapter that a person has told of since the start.
    adapter: Adapter,
    /// Calibrations stored since the start.
    stored: u32,
    /// When to leave for the boot loader.
    leave_at: Option<Micros>,
    next_idle: Micros,
    load_is_on: bool,
}

// The smallest board has 264 KiB; the fixture shall be a small part of that.
const _: () = assert!(size_of::<Fixture>() <= 16 * 1_024);

impl Fixture {
    /// Sets the safe state, then makes the fixture: nothing loaded, the stored calibration if it can be believed.
    /// Chips that cannot be set up now are tried again at every pass without a plan.
    pub fn new(board: &mut impl Board) -> Self {
        board.set_load_enable(false);
        let mut instruments = Instruments::default();
        let mut bus = Help::default();
        instruments.set_up(&mut bus.on(board.bus()), Micros::ZERO);
        let boot = board.boot();
        let stored = board.stored_calibration().filter(|stored| convert::check(stored).is_ok());
        Self {
            calibration: stored.unwrap_or_default(),
            instruments,
            bus,
            readings: Readings::default(),
            guard: Guard::holding(boot.latched),
            sequencer: Sequencer::default(),
            recorder: Recorder::default(),
            history: History::new(),
            link: Link::default(),
            inbox: Inbox::default(),
            owes_hearing: false,
            ownership: Ownership::of(boot.number),
            boot,
            adapter: Adapter::NONE,
            stored: 0,
            leave_at: None,
            next_idle: Micros::ZERO,
            load_is_on: false,
        }
    }

    /// Makes one pass; returns when the next one is wanted at the latest, always later than `now`. A pass in between
    /// does no harm; one that comes late leaves a gap in the samples and may trip.
    pub fn serve(&mut self, now: Micros, board: &mut impl Board) -> Micros {
        let mut has_sampled = true;
        if let Some(at) = self.sequencer.take_sample(now) {
            self.sample(at, now, board);
        } else if self.sequencer.current().is_none() && now >= self.next_idle {
            self.idle(now, board);
        } else {
            self.watch(now, board);
            has_sampled = false;
        }
        // Once in two passes the host is heard, however late the samples come.
        self.owes_hearing = has_sampled && !self.owes_hearing && self.inbox.has_more(board);
        if !self.owes_hearing {
            self.listen(now, board);
        }
        self.link.send(board, &mut self.history);
        self.leave_where_asked(now, board);
        board.check_in(Part::Link);
        self.next_call(now, board)
    }

    /// Returns whether the load-enable pin is driven on.
    pub const fn load_is_on(&self) -> bool {
        self.load_is_on
    }

    /// Returns what the fixture is doing.
    pub const fn activity(&self) -> Activity {
        match self.guard.latched() {
            Some(_) => Activity::Tripped,
            None => self.sequencer.activity(),
        }
    }

    /// Takes what the host has sent, up to the end of one request, and answers that.
    #[inline(never)]
    fn listen(&mut self, now: Micros, board: &mut impl Board) {
        for _ in 0..MOST_BYTES {
            let Some(byte) = self.inbox.take(board) else { return };
            let (sequence, addressed, reply) = match self.link.hear(byte) {
                None => continue,
                Some(Heard::Request(sequence, address, request)) => {
                    (sequence, address.is_some(), self.answer(address, &request, now, board))
                }
                Some(Heard::Unreadable(sequence, addressed)) => {
                    let reject = Reject { cause: RejectCause::Unreadable, asked: 0, limit: 0 };
                    (sequence, addressed, Reply::Rejected(reject))
                }
            };
            let boot = addressed.then_some(self.ownership.boot());
            self.link.reply(sequence, boot, &reply);
            return;
        }
    }

    /// Lets the guard judge and applies what it says; tells a trip. Returns whether there was one.
    fn watch(&mut self, now: Micros, board: &mut impl Board) -> bool {
        match self.drive(now, board) {
            Some(trip) => {
                self.tell_trip(trip, now, board);
                true
            }
            None => false,
        }
    }

    /// Lets the guard judge and applies what it says. Where that fails, the guard judges the failure at once.
    fn drive(&mut self, now: Micros, board: &mut impl Board) -> Option<Trip> {
        let first = self.guard.step(now, &self.inputs(board), self.demand());
        board.check_in(Part::Guard);
        if self.apply(first, board) || first.tripped.is_some() {
            return first.tripped;
        }
        let second = self.guard.step(now, &self.inputs(board), self.demand());
        self.apply(second, board);
        second.tripped
    }

    /// The one place where the load is switched. The pin goes off whatever becomes of the set point, and goes on
    /// only once the set point is right. Returns whether the converter has the set point.
    fn apply(&mut self, outputs: Outputs, board: &mut impl Board) -> bool {
        if !outputs.load_on {
            board.set_load_enable(false);
            self.load_is_on = false;
            return self.instruments.set_set_point(&mut self.bus.on(board.bus()), MicroAmps::ZERO);
        }
        if !self.instruments.set_set_point(&mut self.bus.on(board.bus()), outputs.set_point) {
            return false;
        }
        board.set_load_enable(true);
        self.load_is_on = true;
        true
    }

    fn inputs(&self, board: &mut impl Board) -> Inputs {
        Inputs {
            readings: self.readings,
            reversed: board.cell_is_reversed(),
            last_word: self.ownership.last_word(),
            not_set_up: self.instruments.not_set_up().map(|chip| chip as u8),
        }
    }

    fn demand(&self) -> Demand {
        let Some((_, step)) = self.sequencer.current() else { return Demand::Idle };
        let plan = self.sequencer.plan();
        let period = self.period();
        let current = step.action.current();
        let floor = Floors::of(self.sequencer.label(), current).loaded;
        let terms = Terms { permit: plan.permit, charge_limit: plan.charge_limit, floor, period };
        match current {
            MicroAmps::ZERO => Demand::Rest(terms),
            current => Demand::Load(terms, current),
        }
    }

    /// Time between samples at this moment.
    fn period(&self) -> Micros {
        self.sequencer
            .current()
            .map_or(IDLE_PERIOD, |(_, step)| Micros::new(u64::from(step.sample_period_us)))
    }

    fn next_call(&mut self, now: Micros, board: &mut impl Board) -> Micros {
        if self.inbox.has_more(board) {
            return now.saturating_add(TICK);
        }
        let mut next = self.next_idle;
        if let Some(sample) = self.sequencer.next_sample() {
            let silence =
                self.ownership.last_word().saturating_add(limits::HOST_SILENCE).saturating_add(TICK);
            next = sample.min(silence);
        }
        next = self.leave_at.map_or(next, |at| next.min(at));
        if self.link.has_unsent() || self.history.has_unsent() {
            next = next.min(now.saturating_add(SEND_AGAIN));
        }
        next.max(now.saturating_add(TICK))
    }
}
