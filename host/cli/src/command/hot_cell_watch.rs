//! `hot-cell-watch`: a cell left on the fixture without a load, watched for hours, told at once where it warms.

use super::known_first;
use crate::arguments::{BookPath, SettingArguments};
use crate::cell_name::cell_name;
use crate::clock_check::warn_beside;
use crate::danger_first;
use crate::error::{EXIT_ALARM, EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::fixture_arguments::FixtureArguments;
use crate::io::{Io, fitted};
use celltriage_instrument::hot_cell::alarm::{Alarm, AlarmLimits};
use celltriage_instrument::hot_cell::keeper::Keeper;
use celltriage_instrument::hot_cell::record::Ended;
use celltriage_instrument::hot_cell::unkept::Unkept;
use celltriage_instrument::hot_cell::watch::{HotCellWatch, Terms, WatchEvent};
use celltriage_instrument::live::Live;
use celltriage_instrument::simulated::BOARD;
use celltriage_link::Attendant;
use celltriage_protocol::limits as guard;
use celltriage_protocol::units::MilliCelsius;
use celltriage_rules::emergency_texts;
use celltriage_workshop::admission::not_mixed_in;
use clap::Args;
use serde_json::json;
use std::time::{Duration, Instant};

/// Largest fall of the voltage that `--fall-mv` may wait for (judged: a cell that has lost half a volt at rest is past
/// warning of anything).
const WIDEST_FALL_MV: f64 = 500.0;
/// An alarm that lasts rings again after this time.
const RING_AGAIN: Duration = Duration::from_secs(10);

/// Options of `hot-cell-watch`.
#[derive(Debug, Args)]
pub struct HotCellWatchArguments {
    /// The shop's own name for the cell, as on its tag.
    #[arg(long, value_name = "NAME", value_parser = cell_name)]
    pub id: String,
    /// How long; by default until Ctrl-C.
    #[arg(long, value_name = "HOURS")]
    pub hours: Option<f64>,
    /// Seconds between readings.
    #[arg(long, value_name = "S", default_value_t = 2.0)]
    pub every: f64,
    /// Minutes between the lines that are printed; alarms are printed at once.
    #[arg(long, value_name = "MIN", default_value_t = 5.0)]
    pub print_every: f64,
    /// End at the first alarm; by default the watch goes on, for what happens then is worth knowing.
    #[arg(long)]
    pub end_on_alarm: bool,
    /// Alarm at this temperature of the cell in °C.
    #[arg(long, value_name = "C", help_heading = "Alarms")]
    pub hottest_c: Option<f64>,
    /// Alarm where the cell is this much warmer than the air, in K.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub over_air_k: Option<f64>,
    /// Alarm where the cell warms this fast, in K/min.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub warming_k_per_min: Option<f64>,
    /// Alarm where the cell has warmed this much over the air since it was coolest, in K.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub growth_k: Option<f64>,
    /// Alarm where the voltage has fallen this much since it was highest, in mV.
    #[arg(long, value_name = "MV", help_heading = "Alarms")]
    pub fall_mv: Option<f64>,
    /// One JSON object on each line: readings, alarms, and the whole at the end.
    #[arg(long)]
    pub json: bool,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Which fixture.
    #[command(flatten)]
    pub fixture: FixtureArguments,
    /// Whose emergency text.
    #[command(flatten)]
    pub setting: SettingArguments,
}

/// Runs `hot-cell-watch`.
///
/// # Errors
/// Input and measurement errors, each with what to do. Neither the book nor the rules end a watch: what they lack is told.
pub fn run(arguments: &HotCellWatchArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let terms = terms(arguments, io)?;
    let emergency = emergency(arguments, io);
    let path = &arguments.book.path;
    let keeper = Keeper::open(path, &terms.cell, terms.began);
    if let Some(book) = keeper.book() {
        known_first::told_beside(book, &arguments.id, io);
        // A wrong clock holds up no watch and ends none.
        warn_beside(book, io);
    }
    let connected = match keeper.book() {
        Some(book) => arguments.fixture.choice(1).connect(Some(&book))?,
        None => arguments.fixture.choice(1).connect(None)?,
    };
    if let Some(book) = keeper.book() {
        not_mixed_in(book, &arguments.id, connected.identity.board.as_str() == BOARD)?;
    }
    io.note(&format!("{}. No load is put on the cell", connected.describe()));
    io.note("keep the cell where it can burn without harm, and stay within hearing; Ctrl-C ends the watch");
    let watch = HotCellWatch::begin(connected, terms, keeper)?;
    let print_every = arguments.print_every * 60.0;
    let mut desk = Desk { io, json: arguments.json, emergency, print_every, next_line: 0.0, rang: None };
    let (record, keeper, at) = watch.run(&mut desk);
    let kept = keeper.finish(&record, at);
    let number = kept.as_ref().ok().map(|entry| entry.number);
    if arguments.json {
        let mut value = json!({ "watch": record, "entry": number });
        if let (Err(unkept), Some(members)) = (&kept, value.as_object_mut()) {
            members.insert("not_kept".to_owned(), unkept.why.clone().into());
        }
        io.say(&value.to_string());
    } else {
        let summary = fitted(record.summary(&arguments.id).trim(), io.width);
        io.say(&summary);
    }
    match &kept {
        Ok(entry) => io.note(&format!("written as entry {} of {}", entry.number, path.display())),
        Err(unkept) => tell_unkept(unkept, io),
    }
    Ok(match (record.alarms.is_empty(), record.ended) {
        (false, _) => EXIT_ALARM,
        _ if kept.is_err() => Error::book("").exit_code(),
        (true, Ended::Time) => EXIT_DONE,
        (true, Ended::Stopped) if record.planned_s.is_none() => EXIT_DONE,
        _ => EXIT_UNFINISHED,
    })
}

/// Returns what to tell when the cell turns hot: the general text, and what the rules of the place add where they can be
/// read.
fn emergency(arguments: &HotCellWatchArguments, io: &mut Io<'_>) -> Vec<String> {
    match crate::case::read_setting(&arguments.setting, io) {
        Ok(setting) => {
            emergency_texts(&setting.packs, setting.place.as_ref()).into_iter().map(str::to_owned).collect()
        }
        Err(error) => {
            io.note(&format!(
                "warning: {}. The watch goes on with the emergency text that holds everywhere",
                error.message
            ));
            danger_first::general()
        }
    }
}

/// Tells that the book did not take the watch, and where it is.
fn tell_unkept(unkept: &Unkept, io: &mut Io<'_>) {
    let error = Error::book(format!("the watch is not in the book: {}", unkept.why));
    let error = match unkept.put_beside() {
        Ok(file) => {
            error.hint(format!("what was seen is kept in {}; keep that file with the book", file.display()))
        }
        Err(why) => error.hint(format!(
            "it could not be put beside the book either ({why}); what stands above is all there is"
        )),
    };
    io.note(&error.to_string());
}

fn terms(arguments: &HotCellWatchArguments, io: &Io<'_>) -> Result<Terms, Error> {
    let usual = AlarmLimits::default();
    let limit = |given: Option<f64>, usual: f64, highest: f64, option: &str| match given {
        None => Ok(usual),
        Some(value) if value > 0.0 && value <= highest => Ok(value),
        Some(value) => Err(Error::input(format!("{option} {value} is no alarm limit"))
            .hint(format!("give more than 0 and at most {highest}; without it, {usual}"))),
    };
    let kelvins = |limit: MilliCelsius| f64::from(limit.get()) / 1e3;
    let (rise, warming) = (kelvins(guard::LARGEST_RISE), kelvins(guard::FASTEST_LOADED_WARMING));
    let limits = AlarmLimits {
        // Nobody may move the alarm above what the fixture's own guard bears.
        hottest_c: limit(arguments.hottest_c, usual.hottest_c, usual.hottest_c, "--hottest-c")?,
        over_air_k: limit(arguments.over_air_k, usual.over_air_k, rise, "--over-air-k")?,
        warming_k_per_min: limit(
            arguments.warming_k_per_min,
            usual.warming_k_per_min,
            warming,
            "--warming-k-per-min",
        )?,
        growth_k: limit(arguments.growth_k, usual.growth_k, rise, "--growth-k")?,
        fall_v: limit(arguments.fall_mv, usual.fall_v * 1e3, WIDEST_FALL_MV, "--fall-mv")? / 1e3,
        blind_s: usual.blind_s,
    };
    let span = |given: f64, option: &str, least: f64, most: f64| match Duration::try_from_secs_f64(given) {
        Ok(span) if given >= least && given <= most => Ok(span),
        _ => Err(Error::input(format!("{option}: {given} s is no usable span"))
            .hint(format!("between {least} s and {most} s"))),
    };
    Ok(Terms {
        cell: arguments.id.clone(),
        span: arguments
            .hours
            .map(|hours| span(hours * 3_600.0, "--hours", 1.0, 31.0 * 86_400.0))
            .transpose()?,
        every: span(arguments.every, "--every", 0.5, 10.0)?,
        limits,
        began: io.now,
        end_on_alarm: arguments.end_on_alarm,
    })
}

/// Where the watch is told to people and machines.
struct Desk<'a, 'io> {
    io: &'a mut Io<'io>,
    json: bool,
    emergency: Vec<String>,
    print_every: f64,
    next_line: f64,
    rang: Option<Instant>,
}

impl Desk<'_, '_> {
    fn reading(&mut self, at_s: f64, live: &Live) {
        if at_s < self.next_line {
            return;
        }
        self.next_line = at_s + self.print_every;
        if self.json {
            let value = json!({ "at_s": at_s, "reading": live });
            self.io.say(&value.to_string());
            return;
        }
        let rise = live.rise_k().map_or("unknown".to_owned(), |rise| format!("{rise:+.2} K"));
        self.io.say(&format!(
            "{:>6.1} min  cell {}  {rise} over the air  {}",
            at_s / 60.0,
            live.cell_c.words(2, "°C"),
            live.voltage_v.words(4, "V")
        ));
    }

    fn alarm(&mut self, alarm: &Alarm, first: bool) {
        let again = self.rang.is_none_or(|rang| rang.elapsed() >= RING_AGAIN);
        let ring = first || again && self.io.live;
        if !ring {
            return;
        }
        self.rang = Some(Instant::now());
        // The bell: a person who stands near a warm cell does not watch the screen.
        self.io.ring();
        self.io.note(&format!("ALARM after {:.1} min: {}", alarm.at_s / 60.0, alarm.words()));
        if first && alarm.cause.is_about_the_cell() {
            // Once more for each cause: hours may lie between them.
            self.io.emergency_again(self.emergency.iter().map(String::as_str));
        }
        if first && self.json {
            let value = json!({ "alarm": alarm });
            self.io.say(&value.to_string());
        }
    }
}

impl Attendant<WatchEvent> for Desk<'_, '_> {
    fn sees(&mut self, event: &WatchEvent) {
        match event {
            WatchEvent::Reading { at_s, live } => self.reading(*at_s, live),
            WatchEvent::Alarm { alarm, first } => self.alarm(alarm, *first),
            WatchEvent::Remark(text) => self.io.note(&format!("warning: {text}")),
        }
    }

    fn stop_wanted(&self) -> bool {
        self.io.stop_wanted()
    }
}
