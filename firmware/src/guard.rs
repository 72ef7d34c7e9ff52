//! The guard: decides at every pass whether the load may be on, and latches a trip when it may not.
//!
//! Takes the time, all readings and what the plan wants next; gives the outputs. It has no effects: one caller
//! ([`crate::fixture`]) applies what it says. Each pass first analyses everything (`checks`), then acts in one
//! match. Integers only, so no comparison can be undecided; the default outputs are the safe ones; what is not known
//! is judged as the worst case.

mod checks;
mod finding;
mod gone;
mod second_look;
mod sink_heat;
#[cfg(test)]
mod tests;
mod unchanged;
mod values;
mod warming;

use crate::readings::Readings;
use celltriage_protocol::event::Trip;
use celltriage_protocol::limits;
use celltriage_protocol::plan::Permit;
use celltriage_protocol::reply::{Reject, RejectCause};
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, MilliCelsius};
use finding::Finding;

use heapless::Deque;
use second_look::SecondLook;
use sink_heat::SinkHeat;
use unchanged::Unchanged;
pub(crate) use values::{oldest_electrical, oldest_slow};
use warming::Warming;

/// How many sense voltages at rest the contact is judged by before a load.
pub const REST_READINGS: usize = 8;

/// What the guard looks at.
#[derive(Clone, Copy, Debug, Default)]
pub struct Inputs {
    /// The newest readings with their ages.
    pub readings: Readings,
    /// What the polarity comparator says.
    pub reversed: bool,
    /// When the host was last heard.
    pub last_word: Micros,
    /// The chip that is not set up, if any.
    pub not_set_up: Option<u8>,
}

/// What the plan under way says about the cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Terms {
    /// Whether the cell may be loaded at all.
    pub permit: Permit,
    /// The cell's charge-limit voltage from its label.
    pub charge_limit: MicroVolts,
    /// Below this the load is dropped: the label's floor under the current of the step under way.
    pub floor: MicroVolts,
    /// Time between samples in the step under way.
    pub period: Micros,
}

/// What is wanted of the load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Demand {
    /// No plan runs.
    Idle,
    /// A plan runs, without a load now.
    Rest(Terms),
    /// A plan runs and wants this current.
    Load(Terms, MicroAmps),
}

/// What shall be done with the load. The default is the safe state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Outputs {
    /// Level of the load-enable pin.
    pub load_on: bool,
    /// Set point of the sink.
    pub set_point: MicroAmps,
    /// A trip that was latched in this pass.
    pub tripped: Option<Trip>,
}

/// Where the guard is.
///
/// ```text
///            plan runs                 load wanted, every check before a load passes
///   Idle ───────────────▶ Resting ─────────────────────────────────────────▶ Loaded
///    ▲ ▲ ◀───────────────    │  ◀────────────────────────────────────────────  │ │
///    │ │    plan over        │               rest wanted                       │ │
///    │ └─────────────────────│──────────── plan over ──────────────────────────┘ │
///    │                       │                                                   │
///    │ acknowledged,         ▼  any check of the state fails (also in Idle)      │
///    └────────────────── Latched ◀───────────────────────────────────────────────┘
///       cause gone
/// ```
/// A load may also be wanted straight from `Idle` (a plan whose first step is a load).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum State {
    /// No plan; only a sink that conducts by itself is looked for.
    #[default]
    Idle,
    /// A plan runs, load off.
    Resting,
    /// Load on.
    Loaded(Load),
    /// A trip is latched; load off.
    Latched(Trip),
}

/// A load that is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Load {
    set_point: MicroAmps,
    /// Set point before this one; zero after a rest.
    before: MicroAmps,
    /// When it was changed last.
    since: Micros,
}

/// The guard.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    state: State,
    trips: u32,
    off_since: Micros,
    heat: SinkHeat,
    warming: Warming,
    unchanged: Unchanged,
    second_look: SecondLook,
    /// Sense voltages at rest, newest last.
    rest_voltages: Deque<MicroVolts, REST_READINGS>,
    /// When the newest electrical reading that was looked at was taken.
    seen: Micros,
    /// Warmth left by a load of this plan: the smallest rise over the air since then; nothing before the first load.
    left_warm: Option<MilliCelsius>,
}

impl Guard {
    /// Returns a guard that goes on holding a trip from before this start of the program, which nobody has acknowledged.
    pub fn holding(trip: Option<Trip>) -> Self {
        trip.map_or_else(Self::default, |trip| Self {
            state: State::Latched(trip),
            trips: trip.number,
            ..Self::default()
        })
    }

    /// Looks at everything and says what to do now. May be called as often as one likes: the same inputs again change
    /// nothing but the time.
    pub fn step(&mut self, now: Micros, inputs: &Inputs, demand: Demand) -> Outputs {
        self.observe(now, inputs);
        let finding = match (self.state, demand) {
            (State::Latched(_), _) => Ok(()),
            (_, Demand::Idle) => self.check_idle(now, inputs),
            (_, Demand::Rest(terms)) => self.check_rest(now, inputs, terms),
            (State::Loaded(load), Demand::Load(terms, current)) => {
                self.check_under_load(now, inputs, terms, current, load)
            }
            (_, Demand::Load(terms, current)) => self.check_before_load(now, inputs, terms, current),
        };
        self.seen = inputs.readings.current.last().map_or(self.seen, |(_, at)| at);
        // Analysis is complete; from here on things are done.
        match (self.state, finding, demand) {
            (State::Latched(_), _, _) => Outputs::default(),
            (_, Err(finding), _) => self.trip(now, finding),
            (_, Ok(()), Demand::Idle) => self.switch_off(now, State::Idle),
            (_, Ok(()), Demand::Rest(_)) => self.switch_off(now, State::Resting),
            (state, Ok(()), Demand::Load(_, current)) => self.switch_on(now, state, current),
        }
    }

    /// Returns the latched trip.
    pub const fn latched(&self) -> Option<Trip> {
        match self.state {
            State::Latched(trip) => Some(trip),
            State::Idle | State::Resting | State::Loaded(_) => None,
        }
    }

    /// Returns whether there are enough sense voltages at rest to judge the contact by.
    pub fn can_judge_contact(&self) -> bool {
        self.rest_voltages.is_full()
    }

    /// Forgets the latched trip, if it is the one with this number and its cause is gone.
    ///
    /// # Errors
    /// [`RejectCause::WrongTrip`] or [`RejectCause::CauseRemains`]; the trip is then still latched.
    pub fn acknowledge(&mut self, number: u32, now: Micros, inputs: &Inputs) -> Result<(), Reject> {
        let latched = self.latched().map_or(0, |trip| trip.number);
        let Some(trip) = self.latched().filter(|trip| trip.number == number) else {
            let (asked, limit) = (i64::from(number), i64::from(latched));
            return Err(Reject { cause: RejectCause::WrongTrip, asked, limit });
        };
        self.check_gone(&trip, now, inputs).map_err(|finding| Reject {
            cause: RejectCause::CauseRemains,
            asked: finding.value,
            limit: finding.limit,
        })?;
        self.state = State::Idle;
        Ok(())
    }

    /// Keeps what must be remembered between passes.
    fn observe(&mut self, now: Micros, inputs: &Inputs) {
        let readings = &inputs.readings;
        let (voltage, current) = (readings.voltage.last(), readings.current.last());
        self.heat.pass(now, voltage.map(|(voltage, _)| voltage), current.map(|(current, _)| current));
        match self.state {
            // Between plans cells are changed and touched: their temperatures say nothing.
            State::Idle => {
                self.warming.clear();
                self.left_warm = None;
            }
            State::Loaded(_) => self.left_warm = readings.rise(),
            State::Resting | State::Latched(_) => {
                self.left_warm =
                    self.left_warm.map(|left| readings.rise().map_or(left, |rise| rise.min(left)));
            }
        }
        self.warming.take(readings.cell.last());
        if let (Some((voltage, _)), Some((current, at))) = (voltage, current)
            && at > self.seen
        {
            match self.state {
                // Without a load the averaging may be so long that a working converter repeats itself.
                State::Idle | State::Resting => self.unchanged = Unchanged::default(),
                State::Loaded(_) => self.unchanged.take(voltage, current),
                State::Latched(_) => self.unchanged.compare(voltage, current),
            }
        }
        let (set_point, since) = match self.state {
            State::Loaded(load) => (load.set_point, load.since),
            State::Idle | State::Resting | State::Latched(_) => (MicroAmps::ZERO, self.off_since),
        };
        let settled = since.saturating_add(limits::SETTLE);
        if let (Some((look, looked)), Some((voltage, at))) = (readings.look.last(), voltage)
            && looked >= settled
            && at >= settled
        {
            self.second_look.take(looked, look, voltage, set_point);
        }
        if let Some((voltage, at)) = voltage
            && at > self.seen
            && !self.is_loaded()
            && at >= self.off_since.saturating_add(limits::SETTLE)
        {
            if self.rest_voltages.is_full() {
                self.rest_voltages.pop_front();
            }
            // There is room: one was just made free where there was none.
            let _ = self.rest_voltages.push_back(voltage);
        }
    }

    const fn is_loaded(&self) -> bool {
        matches!(self.state, State::Loaded(_))
    }

    fn trip(&mut self, now: Micros, finding: Finding) -> Outputs {
        self.trips = self.trips.saturating_add(1);
        let Finding { cause, value, limit } = finding;
        let trip = Trip { number: self.trips, cause, value, limit, at: now };
        Outputs { tripped: Some(trip), ..self.switch_off(now, State::Latched(trip)) }
    }

    fn switch_off(&mut self, now: Micros, state: State) -> Outputs {
        if self.is_loaded() {
            self.off_since = now;
        }
        self.state = state;
        Outputs::default()
    }

    fn switch_on(&mut self, now: Micros, state: State, current: MicroAmps) -> Outputs {
        // A checked plan never asks for more; this is the last line, not the first.
        let set_point = current.clamp(MicroAmps::ZERO, limits::LARGEST_PULSE);
        let load = match state {
            State::Loaded(load) if load.set_point == set_point => load,
            State::Loaded(load) => Load { set_point, before: load.set_point, since: now },
            _ => Load { set_point, before: MicroAmps::ZERO, since: now },
        };
        self.state = State::Loaded(load);
        self.rest_voltages.clear();
        Outputs { load_on: true, set_point, tripped: None }
    }
}
