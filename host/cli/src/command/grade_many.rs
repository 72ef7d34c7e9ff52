//! `grade --many`: a long file with the traces of many cells, graded while it is read; one line of JSON for each cell.

use crate::arguments::SettingArguments;
use crate::error::{EXIT_DONE, EXIT_UNFINISHED, Error};
use crate::io::{Io, bar_in};
use celltriage_assessment::case::Case;
use celltriage_assessment::history::History;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_workshop::Fault;
use celltriage_workshop::grade_many::{GradedCell, grade_many};
use indicatif::ProgressBar;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::time::{Duration, Instant};

/// How often progress is reported where no bar can be drawn.
const TELL_EVERY: Duration = Duration::from_secs(10);

/// Runs `grade --many`.
///
/// # Errors
/// An input error for unusable files and options, and where the file cannot be read on.
pub fn run(
    path: &Path,
    nameplate: Nameplate,
    setting: &SettingArguments,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let setting = crate::case::read_setting(setting, io)?;
    for warning in &nameplate.warnings {
        io.note(&format!("warning: label: {warning}"));
    }
    let name = if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() };
    let (input, length): (Box<dyn Read + Send>, u64) = if path == Path::new("-") {
        (Box::new(std::io::stdin()), 0)
    } else {
        let file = File::open(path)
            .map_err(|error| Error::input(format!("cannot read the traces {name}: {error}")))?;
        let length = file.metadata().map_or(0, |about| about.len());
        (Box::new(file), length)
    };
    let case = Case {
        id: String::new(),
        nameplate,
        observations: Observations::default(),
        setting,
        history: History::default(),
        files: Vec::new(),
    };
    let stop = io.stop;
    let mut tally = Tally::new(length, io);
    let done = grade_many(input, &name, &case, stop, &mut |cell| tally.take(&cell));
    let nothing_read = matches!(&done, Err(Fault::Trace { .. } | Fault::NoCellColumn { .. }));
    let code = if nothing_read { EXIT_DONE } else { tally.sum_up() };
    done?;
    Ok(code)
}

/// Writes the lines in order, reports the progress and counts.
struct Tally<'a, 'io> {
    io: &'a mut Io<'io>,
    length: u64,
    bar: Option<ProgressBar>,
    began: Instant,
    told_at: Instant,
    cells: u64,
    unreadable: u64,
    fates: BTreeMap<&'static str, u64>,
}

impl<'a, 'io> Tally<'a, 'io> {
    fn new(length: u64, io: &'a mut Io<'io>) -> Self {
        let (began, bar) = (Instant::now(), io.draws().then(|| bar(length)));
        let fates = BTreeMap::new();
        Self { io, length, bar, began, told_at: began, cells: 0, unreadable: 0, fates }
    }

    fn take(&mut self, cell: &GradedCell) {
        self.cells += 1;
        match cell.fate {
            Some(fate) => *self.fates.entry(fate.key()).or_default() += 1,
            None => self.unreadable += 1,
        }
        self.io.say(&cell.text);
        let counted = format!("{} cells, {} unreadable", self.cells, self.unreadable);
        if let Some(bar) = &self.bar {
            bar.set_position(cell.end);
            bar.set_message(counted);
        } else if self.told_at.elapsed() >= TELL_EVERY {
            self.told_at = Instant::now();
            let share = (cell.end * 100).checked_div(self.length);
            let share = share.map_or_else(String::new, |percent| format!(", {percent} % of the file"));
            self.io.note(&format!("  {counted}{share}"));
        }
    }

    /// Returns the exit code.
    fn sum_up(self) -> u8 {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
        let (cells, unreadable, seconds) = (self.cells, self.unreadable, self.began.elapsed().as_secs_f64());
        let fates: String = self.fates.iter().map(|(fate, count)| format!(", {count} {fate}")).collect();
        self.io.note(&format!(
            "{cells} cells in {seconds:.1} s ({:.0} a second){fates}, {unreadable} unreadable",
            cells as f64 / seconds.max(1e-9)
        ));
        if self.io.stop_wanted() {
            self.io.note("stopped before the end of the file; the cells above were graded");
            return EXIT_UNFINISHED;
        }
        if unreadable > 0 { Error::input("").exit_code() } else { EXIT_DONE }
    }
}

fn bar(length: u64) -> ProgressBar {
    bar_in(
        length,
        if length > 0 { "  [{bar:30}] {percent:>3} %  {eta} left  {wide_msg}" } else { "  {wide_msg}" },
    )
}
