//! The hours of a watch: ask the fixture, judge, keep what was said, tell at once what is wrong.
//!
//! Every answer is kept as a frame in a recording of the book, brought to the disk every two seconds, so that what was
//! seen survives the end of this program. A link that breaks is waited for as long as the watch lasts; from a minute on
//! that nobody can see the cell is an alarm by itself.

use super::alarm::{Alarm, AlarmLimits, Cause, Judge};
use super::record::{AlarmRecord, Extremes, SCHEMA, WatchRecord, write_alarm};
use crate::book::{Book, RecordingNumber};
use crate::error::Error;
use crate::fixture::live::Live;
use crate::fixture::readings::{Wanted, plan};
use crate::fixture::target::Connected;
use crate::link::{LinkError, Watch};
use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::limits;
use celltriage_protocol::plan::Plan;
use celltriage_protocol::reply::{Activity, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use jiff::{SignedDuration, Timestamp};
use std::time::{Duration, Instant};

/// How often the recording is brought to the disk.
const FLUSH_EVERY: Duration = Duration::from_secs(2);
/// A recording that grows faster than this is brought to the disk earlier.
const FLUSH_BYTES: usize = 64 * 1024;
/// From so long without the fixture on, that is an alarm.
const LOST: Duration = Duration::from_secs(60);
/// Number of the plan that bars every load.
const BAR: u32 = 7_777;

/// What is wanted of a watch.
#[derive(Clone, Debug)]
pub struct Terms {
    /// The cell.
    pub cell: String,
    /// How long; nothing where only a person ends it.
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

/// Who is told.
pub trait Listener {
    /// Sees a reading, with the seconds since the watch began.
    fn reading(&mut self, at_s: f64, live: &Live);
    /// Is woken: at the first alarm of a kind, and again while any lasts.
    fn alarm(&mut self, alarm: &Alarm, first: bool);
    /// Hears what is odd.
    fn remark(&mut self, text: &str);
    /// Returns whether the person wants to stop.
    fn stop_wanted(&self) -> bool;
}

/// A watch under way.
pub struct HotCellWatch<'a> {
    connected: Connected,
    terms: Terms,
    book: &'a mut Book,
    recording: RecordingNumber,
    frames: Vec<u8>,
    started: Instant,
    flushed_at: Instant,
    judge: Judge,
    record: WatchRecord,
}

impl<'a> HotCellWatch<'a> {
    /// Bars every load and begins a recording.
    ///
    /// # Errors
    /// A measurement error where a plan runs on the fixture, a book error.
    pub fn begin(mut connected: Connected, terms: Terms, book: &'a mut Book) -> Result<Self, Error> {
        if connected.state.activity != Activity::Tripped {
            connected.must_be_idle()?;
            connected.client.ask(&Request::LoadPlan(bar()))?;
        }
        let recording = book.begin_recording(&terms.cell, terms.began).map_err(Error::book)?;
        let record = WatchRecord {
            schema: SCHEMA,
            fixture: connected.name(),
            planned_s: terms.span.map(|span| span.as_secs_f64()),
            lasted_s: 0.0,
            ended: String::new(),
            every_s: terms.every.as_secs_f64(),
            limits: terms.limits,
            readings: 0,
            seen: Extremes::default(),
            alarms: Vec::new(),
            remarks: Vec::new(),
        };
        let judge = Judge::new(terms.limits);
        let mut watch = Self {
            connected,
            terms,
            book,
            recording,
            frames: Vec::new(),
            started: Instant::now(),
            flushed_at: Instant::now(),
            judge,
            record,
        };
        let identity = Reply::Identity(watch.connected.identity.clone());
        watch.keep(&identity)?;
        watch.flush()?;
        Ok(watch)
    }

    /// Watches to the end and returns what to write: the record, its recording, and when it ended.
    ///
    /// # Errors
    /// A book error: what cannot be kept is not watched. A lost link is no error but told, and waited for.
    pub fn run(
        mut self,
        listener: &mut dyn Listener,
    ) -> Result<(WatchRecord, RecordingNumber, Timestamp), Error> {
        // Chips and thermometers of a fixture that was just powered have told nothing yet.
        let started = self.connected.client.pass(Duration::from_millis(500), || listener.stop_wanted());
        let mut clock = Clock::default();
        let mut state = started.and_then(|()| self.connected.client.state());
        let ended = loop {
            match state {
                Ok(now) => {
                    self.connected.state = now.clone();
                    self.keep(&Reply::State(now.clone()))?;
                    let at_s = clock.take(&now);
                    self.see(at_s, &Live::from(&now), listener)?;
                    self.record.lasted_s = at_s;
                }
                Err(broken) => match self.regain(broken, &mut clock, listener)? {
                    Some(now) => {
                        state = Ok(now);
                        continue;
                    }
                    None => break "link_lost",
                },
            }
            if self.terms.span.is_some_and(|span| clock.elapsed_s >= span.as_secs_f64()) {
                break "time";
            }
            if listener.stop_wanted() {
                break "stopped";
            }
            if self.terms.end_on_alarm && !self.record.alarms.is_empty() {
                break "alarm";
            }
            let passed = self.connected.client.pass(self.terms.every, || listener.stop_wanted());
            state = passed.and_then(|()| self.connected.client.state());
        };
        self.flush()?;
        self.record.ended = ended.to_owned();
        let at = self.now();
        Ok((self.record, self.recording, at))
    }

    fn see(&mut self, at_s: f64, live: &Live, listener: &mut dyn Listener) -> Result<(), Error> {
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
        listener.reading(at_s, live);
        for alarm in self.judge.take(at_s, live) {
            self.raise(alarm, listener)?;
        }
        Ok(())
    }

    /// Tells an alarm; the first of its kind is also in the book before anything else happens.
    fn raise(&mut self, alarm: Alarm, listener: &mut dyn Listener) -> Result<(), Error> {
        let first = !self.record.alarms.iter().any(|known| known.cause == alarm.cause);
        listener.alarm(&alarm, first);
        if first {
            self.record.alarms.push(alarm);
            let record = AlarmRecord {
                schema: SCHEMA,
                fixture: self.record.fixture.clone(),
                alarm,
                recording: self.recording.into(),
            };
            let at = self.now();
            self.flush()?;
            write_alarm(self.book, &self.terms.cell, &record, at)?;
        }
        Ok(())
    }

    /// Waits for a fixture that cannot be reached; nothing where the person gives up or it can never come back.
    fn regain(
        &mut self,
        broken: LinkError,
        clock: &mut Clock,
        listener: &mut dyn Listener,
    ) -> Result<Option<State>, Error> {
        self.flush()?;
        let text = format!("{broken}. The watch waits for it; Ctrl-C ends it");
        listener.remark(&text);
        self.record.remarks.push(text);
        let (began, mut broken, mut told) = (Instant::now(), broken, false);
        loop {
            let again = self.connected.client.regain(broken, &mut Waiting { listener: &*listener });
            let gone_s = began.elapsed().as_secs_f64();
            match again {
                Ok(state) => {
                    let text = format!("the fixture is back after {gone_s:.0} s; nothing was seen meanwhile");
                    listener.remark(&text);
                    self.record.remarks.push(text);
                    clock.skip(gone_s);
                    return Ok(Some(state));
                }
                Err(LinkError::Restarted { .. }) => {
                    let text = format!("the fixture restarted; nothing was seen for {gone_s:.0} s");
                    listener.remark(&text);
                    self.record.remarks.push(text);
                    clock.skip(gone_s);
                    match self.connected.client.begin_anew() {
                        Ok(state) => return Ok(Some(state)),
                        Err(error) => broken = error,
                    }
                }
                Err(error @ (LinkError::Gone { .. } | LinkError::Silent { .. })) => broken = error,
                Err(error) => {
                    listener.remark(&error.to_string());
                    self.record.remarks.push(error.to_string());
                    return Ok(None);
                }
            }
            let in_vain = began.elapsed() < Duration::from_millis(10);
            if !told && (began.elapsed() >= LOST || listener.stop_wanted() || in_vain) {
                told = true;
                let at_s = clock.elapsed_s + gone_s;
                self.raise(
                    Alarm { cause: Cause::LinkLost, value: gone_s, limit: LOST.as_secs_f64(), at_s },
                    listener,
                )?;
            }
            // A link inside this process never comes back.
            if listener.stop_wanted() || in_vain {
                return Ok(None);
            }
        }
    }

    /// Now, by the clock of this computer: the fixture's may run ahead of it, as a simulated one does.
    fn now(&self) -> Timestamp {
        let passed = SignedDuration::try_from(self.started.elapsed()).unwrap_or_default();
        self.terms.began.saturating_add(passed).unwrap_or(self.terms.began)
    }

    fn keep(&mut self, reply: &Reply) -> Result<(), Error> {
        let mut out = [0u8; MAX_ENCODED + 1];
        if let Ok(frame) = frame::encode_reply(self.record.readings, reply, &mut out) {
            self.frames.extend_from_slice(frame);
        }
        if self.flushed_at.elapsed() >= FLUSH_EVERY || self.frames.len() >= FLUSH_BYTES {
            self.flush()?;
        }
        Ok(())
    }

    fn flush(&mut self) -> Result<(), Error> {
        if !self.frames.is_empty() {
            self.book.append_recording(self.recording, &self.frames).map_err(Error::book)?;
            self.frames.clear();
        }
        self.flushed_at = Instant::now();
        Ok(())
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
    listener: &'a dyn Listener,
}

impl Watch for Waiting<'_> {
    fn keep(&mut self, _: &[u8]) -> Result<(), String> {
        Ok(())
    }

    fn event(&mut self, _: &Event) {}

    fn stop_wanted(&mut self) -> bool {
        self.listener.stop_wanted()
    }
}

/// A plan that may never be loaded: whatever plan the fixture held before can no longer be started by mistake.
fn bar() -> Plan {
    let rest =
        Wanted { duration: Micros::from_secs(1), period_us: limits::LONGEST_REST_PERIOD_US, ..Wanted::REST };
    plan(&[rest], BAR)
}
