//! `hot-cell-watch`: a cell left on the fixture without a load, watched for hours, told at once where it warms.

use super::known_first;
use crate::arguments::{BookPath, SettingArguments};
use crate::beside;
use crate::clock_check::warn_beside;
use crate::danger_first;
use crate::error::{EXIT_ALARM, EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::fixture_arguments::FixtureArguments;
use crate::io::{Io, fitted};
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_instrument::hot_cell::alarm::{Alarm, Level};
use celltriage_instrument::hot_cell::record::Ended;
use celltriage_instrument::hot_cell::watch::WatchEvent;
use celltriage_instrument::live::Live;
use celltriage_link::Attendant;
use celltriage_rules::{Severity, emergency_texts};
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::hot_cell::{Kept, Prepared, Watched};
use celltriage_workshop::hot_cell_figure::{AlarmLimit, WatchSpan};
use celltriage_workshop::hot_cell_terms::{LimitsWanted, Wanted};
use clap::Args;
use serde_json::json;
use std::time::{Duration, Instant};

/// An alarm that lasts rings again after this time.
const RING_AGAIN: Duration = Duration::from_secs(10);
/// What to do about a cell that is warm and not seen to react (our choice, after the NFPA lithium-ion tip sheet).
const HANDS_OFF: &str = "Hands off. Leave it where it is, watch it from a distance, keep the way out free. Look again in 10 min: the \
     watch goes on, and tells you to leave should the cell heat up. Noise, smoke, smell or gas: leave at once.";

/// Options of `hot-cell-watch`.
#[derive(Debug, Args)]
pub struct HotCellWatchArguments {
    /// The shop's own name for the cell, or its tag as scanned.
    #[arg(long, value_name = "NAME", value_parser = new_cell)]
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
    /// Alarm at this temperature of the cell in °C: everybody out.
    #[arg(long, value_name = "C", help_heading = "Alarms")]
    pub hottest_c: Option<f64>,
    /// Alarm where the cell is this much warmer than the air and does not cool, in K: hands off.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub over_air_k: Option<f64>,
    /// Alarm where the cell, above the air, warms this fast, in K/min: everybody out.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub warming_k_per_min: Option<f64>,
    /// Alarm where the cell has warmed this much over the air since it was coolest, however slowly, in K: hands off.
    #[arg(long, value_name = "K", help_heading = "Alarms")]
    pub growth_k: Option<f64>,
    /// Alarm where the voltage has fallen this much since it was highest, in mV: hands off, and with heat everybody out.
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
    let terms = wanted(arguments).terms(&HeldClock::at(io.now))?;
    let emergency = emergency(arguments, io);
    let path = &arguments.book.path;
    let prepared = Prepared::open(path, terms);
    if let Some(book) = prepared.book() {
        known_first::told_beside(book, &arguments.id, io);
        // A wrong clock holds up no watch and ends none.
        warn_beside(book, io);
    }
    let reached = prepared.reach(&arguments.fixture.choice(1))?;
    if let Some(why) = reached.unread() {
        io.note(&format!("warning: {why}. The watch goes on without what the book has of the cell"));
    }
    io.note(&format!("{}. No load is put on the cell", reached.describe()));
    io.note("keep the cell where it can burn without harm, and stay within hearing; Ctrl-C ends the watch");
    let print_every = arguments.print_every * 60.0;
    let json = arguments.json;
    let mut desk = Desk { io, json, emergency, print_every, next_line: 0.0, rang: None, all_out: false };
    let Watched { record, kept } = reached.watch(&mut desk)?;
    let number = kept.entry();
    if arguments.json {
        let mut value = json!({ "watch": record, "entry": number });
        if let (Some(why), Some(members)) = (kept.not_kept(), value.as_object_mut()) {
            members.insert("not_kept".to_owned(), why.into());
        }
        io.say(&value.to_string());
    } else {
        let summary = fitted(record.summary(&arguments.id).trim(), io.width);
        io.say(&summary);
    }
    match &kept {
        Kept::InBook(_) => {
            beside::tell_entry(&kept, path, io);
            // Not before: nothing may hold up a watch.
            beside::take_in(path, io);
        }
        Kept::Beside { .. } | Kept::Nowhere { .. } => beside::tell_not_in_book("the watch", &kept, io),
    }
    Ok(match (record.alarms.is_empty(), record.ended) {
        (false, _) => EXIT_ALARM,
        _ if kept.not_kept().is_some() => beside::exit_code(&kept, EXIT_DONE),
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

fn wanted(arguments: &HotCellWatchArguments) -> Wanted {
    Wanted {
        cell: arguments.id.clone(),
        hours: arguments.hours,
        every_s: arguments.every,
        limits: LimitsWanted {
            hottest_c: arguments.hottest_c,
            over_air_k: arguments.over_air_k,
            warming_k_per_min: arguments.warming_k_per_min,
            growth_k: arguments.growth_k,
            fall_mv: arguments.fall_mv,
        },
        end_on_alarm: arguments.end_on_alarm,
    }
}

/// Returns the option that sets a limit.
pub(crate) const fn alarm_option(of: AlarmLimit) -> &'static str {
    match of {
        AlarmLimit::Hottest => "--hottest-c",
        AlarmLimit::OverAir => "--over-air-k",
        AlarmLimit::Warming => "--warming-k-per-min",
        AlarmLimit::Growth => "--growth-k",
        AlarmLimit::Fall => "--fall-mv",
    }
}

/// Returns the option that sets a span.
pub(crate) const fn span_option(of: WatchSpan) -> &'static str {
    match of {
        WatchSpan::Length => "--hours",
        WatchSpan::Every => "--every",
    }
}

/// Where the watch is told to people and machines.
struct Desk<'a, 'io> {
    io: &'a mut Io<'io>,
    json: bool,
    emergency: Vec<String>,
    print_every: f64,
    next_line: f64,
    rang: Option<Instant>,
    /// Whether everybody was told to go out: nothing milder is told after that.
    all_out: bool,
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
        if first && alarm.is_reacting() {
            // Before everything else, and once more for each cause: hours may lie between them.
            self.io.emergency_again(self.emergency.iter().map(String::as_str));
            self.all_out = true;
        }
        // The bell: a person who stands near a warm cell does not watch the screen.
        self.io.ring();
        let after = format!("ALARM after {:.1} min", alarm.at_s / 60.0);
        self.io.note(&alarm.words_after(&after));
        if first && alarm.level_of_cell() == Some(Level::Warm) && !self.all_out {
            self.io.alarm(Severity::Warning, HANDS_OFF);
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
