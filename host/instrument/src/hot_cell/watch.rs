//! The hours of a watch: ask the fixture, judge, keep what was said, tell at once what is wrong.
//!
//! Every answer goes to the [`Keeper`], which brings it into the book within seconds, so that what was seen survives the end of
//! this program; a book that does not take it ends no watch and holds up none. A link that breaks is waited for as long as the watch lasts; from a minute on
//! that nobody can see the cell is an alarm by itself.

use super::alarm::{Alarm, AlarmLimits, Cause};
use super::judge::Judge;
use super::keeper::Keeper;
use super::record::{Ended, Extremes, SCHEMA, WatchRecord};
use crate::connected::Connected;
use crate::error::Result;
use crate::live::Live;
use crate::readings::{Wanted, plan};
use celltriage_link::{Attendant, LinkError, RunEvent};
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use jiff::{SignedDuration, Timestamp};
use std::time::{Duration, Instant};

/// From so long without the fixture on, that is an alarm.
const LOST: Duration = Duration::from_secs(60);
/// Number of the plan that bars every load.
const BAR: u32 = 7_777;

/// What is wanted of a watch.
#[derive(Clone, Debug)]
pub struct Terms {
    /// The cell.
    pub cell: String,
    /// How long; `None` if only a person ends it.
    pub span: Option<Duration>,
    /// Time between readings.
    pub every: Duration,
    /// Where alarms begin.
    pub limits: AlarmLimits,
    /// When it begins.
    pub began: Timestamp,
    /// Whether the first alarm ends it.
    pub end_on_alarm: bool,
}

/// What happens during a watch.
#[derive(Clone, Debug, PartialEq)]
pub enum WatchEvent {
    /// A reading.
    Reading {
        /// Seconds since the watch began.
        at_s: f64,
        /// The reading.
        live: Live,
    },
    /// An alarm, each time it is seen: who attends is woken.
    Alarm {
        /// The alarm.
        alarm: Alarm,
        /// Whether it is the first of its cause, or graver than those before.
        first: bool,
    },
    /// Something is odd, in words.
    Remark(String),
}

/// Who attends a watch.
type Listener<'a> = dyn Attendant<WatchEvent> + 'a;

/// A watch under way.
pub struct HotCellWatch {
    connected: Connected,
    terms: Terms,
    keeper: Keeper,
    started: Instant,
    judge: Judge,
    record: WatchRecord,
}

impl HotCellWatch {
    /// Bars every load and begins a recording.
    ///
    /// # Errors
    /// A plan runs on the fixture, or the link breaks.
    pub fn begin(mut connected: Connected, terms: Terms, mut keeper: Keeper) -> Result<Self> {
        if connected.state.activity != Activity::Tripped {
            connected.must_be_idle()?;
            match connected.client.ask(&Request::Load(bar())) {
                // On a fixture with older firmware this program loads nothing, and still sees the cell.
                Ok(_) | Err(LinkError::NoOwnership { .. }) => {}
                Err(error) => return Err(error.into()),
            }
        }
        keeper.on(&connected.name());
        let record = WatchRecord {
            schema: SCHEMA,
            fixture: connected.name(),
            planned_s: terms.span.map(|span| span.as_secs_f64()),
            lasted_s: 0.0,
            ended: Ended::default(),
            every_s: terms.every.as_secs_f64(),
            limits: terms.limits,
            readings: 0,
            seen: Extremes::default(),
            alarms: Vec::new(),
            remarks: Vec::new(),
        };
        let judge = Judge::new(terms.limits);
        let watch = Self { connected, terms, keeper, started: Instant::now(), judge, record };
        let identity = Reply::Identity(watch.connected.identity.clone());
        watch.keep(&identity);
        if let Some(description) = watch.connected.client.description() {
            watch.keep(&Reply::Description(description.clone()));
        }
        Ok(watch)
    }

    /// Watches to the end and returns what to write: the record, who keeps it, and when it ended. A lost link is no error but
    /// told, and waited for; so is a book that takes nothing.
    pub fn run(mut self, listener: &mut Listener<'_>) -> (WatchRecord, Keeper, Timestamp) {
        self.keeper.wait_for_first_word();
        self.tell_of_the_book(listener);
        // Chips and thermometers of a fixture that was just powered have told nothing yet.
        let started = self.connected.client.pass(Duration::from_millis(500), || listener.stop_wanted());
        let mut clock = Clock::default();
        let mut state = started.and_then(|()| self.connected.client.state());
        let ended = loop {
            match state {
                Ok(now) => {
                    self.connected.state = now.clone();
                    self.keep(&Reply::State(now.clone()));
                    self.tell_of_the_book(listener);
                    let at_s = clock.take(&now);
                    self.see(at_s, &Live::from(&now), listener);
                    self.record.lasted_s = at_s;
                }
                Err(broken) => match self.regain(broken, &mut clock, listener) {
                    Some(now) => {
                        state = Ok(now);
                        continue;
                    }
                    None => break Ended::LinkLost,
                },
            }
            if self.terms.span.is_some_and(|span| clock.elapsed_s >= span.as_secs_f64()) {
                break Ended::Time;
            }
            if listener.stop_wanted() {
                break Ended::Stopped;
            }
            if self.terms.end_on_alarm && !self.record.alarms.is_empty() {
                break Ended::Alarm;
            }
            let passed = self.connected.client.pass(self.terms.every, || listener.stop_wanted());
            state = passed.and_then(|()| self.connected.client.state());
        };
        self.record.ended = ended;
        let at = self.now();
        (self.record, self.keeper, at)
    }

    fn see(&mut self, at_s: f64, live: &Live, listener: &mut Listener<'_>) {
        self.record.readings = self.record.readings.saturating_add(1);
        let seen = &mut self.record.seen;
        let larger = |before: Option<f64>, now: Option<f64>| match (before, now) {
            (Some(before), Some(now)) => Some(before.max(now)),
            (before, now) => before.or(now),
        };
        seen.hottest_c = larger(seen.hottest_c, live.cell_c.read());
        seen.over_air_k = larger(seen.over_air_k, live.rise_k());
        seen.first_v = seen.first_v.or(live.voltage_v.read());
        seen.last_v = live.voltage_v.read().or(seen.last_v);
        for alarm in self.judge.take(at_s, live) {
            self.raise(alarm, listener);
        }
        listener.sees(&WatchEvent::Reading { at_s, live: live.clone() });
    }

    /// Tells an alarm, before anything else; the first of its kind, and one that is graver than before, goes into the book at
    /// once, as far as the book takes it.
    fn raise(&mut self, alarm: Alarm, listener: &mut Listener<'_>) {
        let told = |known: &Alarm| known.cause == alarm.cause && known.level >= alarm.level;
        let first = !self.record.alarms.iter().any(told);
        listener.sees(&WatchEvent::Alarm { alarm, first });
        if first {
            self.record.alarms.push(alarm);
            let at = self.now();
            self.keeper.alarm(alarm, at);
            self.tell_of_the_book(listener);
        }
    }

    /// Tells what is new of the book.
    fn tell_of_the_book(&mut self, listener: &mut Listener<'_>) {
        for text in self.keeper.news() {
            listener.sees(&WatchEvent::Remark(text.clone()));
            self.record.remarks.push(text);
        }
    }

    /// Waits for a fixture that cannot be reached; `None` if the person gives up or it can never come back.
    fn regain(&mut self, broken: LinkError, clock: &mut Clock, listener: &mut Listener<'_>) -> Option<State> {
        self.tell_of_the_book(listener);
        let text = format!("{broken}. The watch waits for it; Ctrl-C ends it");
        listener.sees(&WatchEvent::Remark(text.clone()));
        self.record.remarks.push(text);
        let (began, mut broken, mut told) = (Instant::now(), broken, false);
        loop {
            let again = self.connected.client.regain(broken, &mut Waiting { listener: &*listener });
            let gone_s = began.elapsed().as_secs_f64();
            self.tell_of_the_book(listener);
            match again {
                Ok(state) => {
                    let text = format!("the fixture is back after {gone_s:.0} s; nothing was seen meanwhile");
                    listener.sees(&WatchEvent::Remark(text.clone()));
                    self.record.remarks.push(text);
                    clock.skip(gone_s);
                    return Some(state);
                }
                Err(LinkError::Restarted { .. }) => {
                    let text = format!("the fixture restarted; nothing was seen for {gone_s:.0} s");
                    listener.sees(&WatchEvent::Remark(text.clone()));
                    self.record.remarks.push(text);
                    clock.skip(gone_s);
                    match self.connected.client.begin_again() {
                        Ok(state) => return Some(state),
                        Err(error) => broken = error,
                    }
                }
                Err(error @ (LinkError::Gone { .. } | LinkError::Silent { .. })) => broken = error,
                Err(error) => {
                    let text = error.to_string();
                    listener.sees(&WatchEvent::Remark(text.clone()));
                    self.record.remarks.push(text);
                    return None;
                }
            }
            let in_vain = began.elapsed() < Duration::from_millis(10);
            if !told && (began.elapsed() >= LOST || listener.stop_wanted() || in_vain) {
                told = true;
                let at_s = clock.elapsed_s + gone_s;
                self.raise(
                    Alarm {
                        cause: Cause::LinkLost,
                        level: None,
                        value: gone_s,
                        limit: LOST.as_secs_f64(),
                        at_s,
                    },
                    listener,
                );
            }
            // A link inside this process never comes back.
            if listener.stop_wanted() || in_vain {
                return None;
            }
        }
    }

    /// Now, by the clock of this computer: the fixture's may run ahead of it, as a simulated one does.
    fn now(&self) -> Timestamp {
        let passed = SignedDuration::try_from(self.started.elapsed()).unwrap_or_default();
        self.terms.began.saturating_add(passed).unwrap_or(self.terms.began)
    }

    /// Hands a frame to the keeper.
    fn keep(&self, reply: &Reply) {
        let mut out = [0u8; MAX_ENCODED + 1];
        if let Ok(frame) = frame::encode_reply(self.record.readings, reply, &mut out) {
            self.keeper.frame(frame);
        }
    }
}

/// Seconds since the watch began, by the fixture's own clock, over its restarts.
#[derive(Default)]
struct Clock {
    last: Option<Micros>,
    elapsed_s: f64,
}

impl Clock {
    fn take(&mut self, state: &State) -> f64 {
        let step = self.last.map_or(Micros::ZERO, |last| state.now.saturating_sub(last));
        self.last = Some(state.now);
        self.elapsed_s += step.get() as f64 / 1e6;
        self.elapsed_s
    }

    /// Time passed that the fixture's clock does not tell of.
    fn skip(&mut self, seconds: f64) {
        self.last = None;
        self.elapsed_s += seconds;
    }
}

/// While the link is waited for, only the wish to stop counts.
struct Waiting<'a> {
    listener: &'a Listener<'a>,
}

impl Attendant<RunEvent> for Waiting<'_> {
    fn sees(&mut self, _: &RunEvent) {}

    fn stop_wanted(&self) -> bool {
        self.listener.stop_wanted()
    }
}

/// A plan that may never be loaded: whatever plan the fixture held before can no longer be started by mistake.
fn bar() -> CellPlan {
    let rest =
        Wanted { duration: Micros::from_secs(1), period_us: limits::LONGEST_REST_PERIOD_US, ..Wanted::REST };
    CellPlan::from(&plan(&[rest], BAR))
}
