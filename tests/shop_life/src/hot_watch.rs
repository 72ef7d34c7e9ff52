//! A cell watched on the fixture for heat: what it does there, what is told, and what stands against it then.

use crate::cells::{Kind, name};
use crate::job::{fixture_used, reached};
use crate::life::{Came, Life};
use crate::step::Heat;
use crate::told::{Held, Lies};
use celltriage_book::Subject;
use celltriage_instrument::hot_cell::record::{ALARM, AlarmRecord, Ended, WATCH, WatchRecord};
use celltriage_instrument::hot_cell::watch::WatchEvent;
use celltriage_link::Attendant;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fault::Fault;
use celltriage_workshop::hot_cell::{Prepared, Watched};
use celltriage_workshop::hot_cell_terms::{LimitsWanted, Wanted};
use jiff::{SignedDuration, Timestamp};

/// What a hot cell is at, in degrees Celsius: far above where any watch may be set to begin.
const HOT_C: f64 = 70.0;
/// What a cell that lay in the sun is at.
const SUNNED_C: f64 = 31.0;
/// Seconds between readings: the longest that there are.
const EVERY_S: f64 = 10.0;

/// So many readings in a row that a cell is hot are not believed yet.
const NOT_BELIEVED: u32 = 2;

/// Hears what a face would show: whether danger is told before anything else.
#[derive(Default)]
struct Heard {
    reacting: bool,
    /// Readings of a hot cell before its alarm: one alone is not believed.
    hot_before: u32,
}

impl Attendant<WatchEvent> for Heard {
    fn sees(&mut self, event: &WatchEvent) {
        match event {
            WatchEvent::Alarm { alarm, .. } => self.reacting |= alarm.is_reacting(),
            WatchEvent::Reading { live, .. } => {
                let hot = live.cell_c.read().is_some_and(|read| read > HOT_C - 15.0);
                self.hot_before += u32::from(hot && !self.reacting);
            }
            WatchEvent::Remark(_) => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

impl Life<'_> {
    /// A cell is watched on the fixture.
    pub(crate) fn hot_watched(&mut self, number: u8, hours: u8, heat: Heat) -> Came {
        let Some(kind) = self.kinds.get(&number).copied() else { return Ok(()) };
        let cell = name(number);
        if self.told.cells.get(&cell).is_some_and(|told| told.lies != Lies::Loose) {
            return Ok(());
        }
        let wanted = Wanted {
            cell: cell.clone(),
            hours: Some(f64::from(hours)),
            every_s: EVERY_S,
            limits: LimitsWanted::default(),
            end_on_alarm: false,
        };
        let (bench, mut options) = self.on_bench(kind)?;
        match heat {
            Heat::AsItIs => {}
            Heat::WarmBefore => options.cell_temperature_c = Some(SUNNED_C),
            Heat::HotAfter(minutes) => {
                let at = Micros::from_secs(60 * u64::from(minutes));
                options.faults.push(Fault::WarmCell { temperature_c: HOT_C }.at(at));
            }
        }
        let (mut heard, began) = (Heard::default(), self.clock.true_time.get());
        let terms = wanted.terms(self.clock);
        let door = reached(bench.parameters, options, None);
        let prepared = terms.map(|terms| Prepared::open(&self.path, terms));
        let watched = prepared.and_then(|prepared| prepared.reach(&door)?.watch(&mut heard));
        let _nothing_is_loaded = fixture_used();
        let Watched { record, kept } = match watched {
            Ok(watched) => watched,
            Err(fault) => return self.refused(&fault),
        };
        self.tally.hot_watches += 1;
        self.clock.pass(SignedDuration::from_secs(record.lasted_s as i64));
        danger_is_told(&cell, kind, (hours, heat), &record, &heard)?;
        if kept.entry().is_none() {
            return self.watch_not_taken(&cell, &kept, record, began);
        }
        self.watch_is_kept(&cell, &record, began)
    }

    /// Notes a watch that is in the book, with its alarms.
    pub(crate) fn watch_is_kept(&mut self, cell: &str, record: &WatchRecord, began: Timestamp) -> Came {
        self.touched = Some(cell.to_owned());
        let asked = |error: celltriage_book::BookError| ("the book can be asked", error.to_string());
        let (book, subject) = (self.shop.book(), Subject::cell(cell));
        let is_new = |number: &u32| !self.told.entries.contains(number);
        let watches: Vec<(u32, WatchRecord)> = book.records(WATCH, &subject).map_err(asked)?;
        let this = watches.into_iter().find(|(number, kept)| is_new(number) && kept == record);
        let mut new: Vec<(u32, AlarmRecord)> = book.records(ALARM, &subject).map_err(asked)?;
        new.retain(|(number, _)| is_new(number));
        let mut alarms = Vec::new();
        for alarm in &record.alarms {
            let at = new.iter().position(|(_, kept)| kept.alarm == *alarm);
            alarms.extend(at.map(|at| new.remove(at).0));
        }
        let (Some((watch, _)), true) = (this, alarms.len() == record.alarms.len()) else {
            let what = format!("{cell}: alarms in {alarms:?}, told {:?}", record.alarms);
            return Err(("every watch is in the book, with every alarm", what));
        };
        for entry in alarms.iter().chain([&watch]) {
            self.told.about(cell, *entry, began);
        }
        let told = self.told.cells.entry(cell.to_owned()).or_default();
        for (entry, alarm) in alarms.iter().zip(&record.alarms) {
            self.tally.alarms += 1;
            if alarm.is_reacting() {
                self.tally.reacting += 1;
                told.held.push((*entry, Held::ReactingAlarm));
                told.reacted = Some(began);
            } else if alarm.level_of_cell().is_some() {
                told.held.push((*entry, Held::WarmAlarm));
            }
        }
        if record.ended == Ended::Time && record.alarms.is_empty() {
            told.quiet.push((watch, began, record.lasted_s / 3_600.0));
        }
        Ok(())
    }
}

/// Danger is told first where a cell is hot, and nowhere else: not of a cell that only cools, or does nothing.
fn danger_is_told(
    cell: &str,
    kind: Kind,
    (hours, heat): (u8, Heat),
    record: &WatchRecord,
    heard: &Heard,
) -> Came {
    let told = format!("{cell}, a {kind} cell, {heat:?}: {:?}", record.alarms);
    let is_hot = matches!(heat, Heat::HotAfter(minutes) if minutes + 1 < u16::from(hours) * 60);
    if heard.hot_before > NOT_BELIEVED || (is_hot && !heard.reacting) {
        return Err(("danger words first", told));
    }
    if heard.reacting && !matches!(heat, Heat::HotAfter(_)) && kind != Kind::Warming {
        return Err(("danger words only where a cell reacts", told));
    }
    let quiet = heat == Heat::AsItIs && !matches!(kind, Kind::Warming | Kind::Dead | Kind::Reversed);
    if quiet && !record.alarms.is_empty() {
        return Err(("no alarm where nothing is", told));
    }
    Ok(())
}
