//! `grade --many`: a long file with the traces of many cells, graded while it is read; one line of JSON for each cell.
//!
//! One thread cuts the file into cells, as many as there are processors grade them, this one writes. Every cell's
//! answer has its own little channel, and these stand in a queue of limited length in the order of the file: so lines
//! come out in that order, and neither a slow reader of the output nor a long trace makes the memory grow.

use crate::arguments::SettingArguments;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_assessment::case::{Case, Origin};
use celltriage_assessment::history::History;
use celltriage_measure::bdf::{Header, Piece, Pieces};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_verdict::Fate;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Cells that may wait for their turn, for each thread that grades.
const WAITING: usize = 4;
/// How often progress is told where no bar can be drawn.
const TELL_EVERY: Duration = Duration::from_secs(10);

/// What stands in place of an assessment where a cell's rows are no trace.
#[derive(Serialize)]
struct Unreadable<'a> {
    schema: &'static str,
    cell: Option<&'a str>,
    first_line: u64,
    last_line: u64,
    error: String,
}

/// A cell's line of output, and its fate where it got one.
struct Line {
    text: String,
    fate: Option<Fate>,
    end: u64,
}

/// A cell to be graded and where its line goes.
struct Job {
    piece: Piece,
    end: u64,
    answer: SyncSender<Line>,
}

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
    let cannot = |error: std::io::Error| Error::input(format!("cannot read the traces {name}: {error}"));
    let (input, length): (Box<dyn Read + Send>, u64) = if path == Path::new("-") {
        (Box::new(std::io::stdin()), 0)
    } else {
        let file = File::open(path).map_err(cannot)?;
        let length = file.metadata().map_or(0, |about| about.len());
        (Box::new(file), length)
    };
    let mut input = BufReader::with_capacity(1 << 20, input);
    let mut first = Vec::new();
    (&mut input).take(1 << 20).read_until(b'\n', &mut first).map_err(cannot)?;
    let header = Header::read(&first, &name).map_err(|error| Error::input(error.to_string()))?;
    let Some(column) = header.cell_id() else {
        return Err(Error::input(format!("{name}: line 1: column `Cell ID` is missing")).hint(
            "name the column that tells the cells apart `Cell ID`; without it, grade one cell a file",
        ));
    };

    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let case = Case {
        id: String::new(),
        nameplate,
        observations: Observations::default(),
        setting,
        history: History::default(),
        files: Vec::new(),
    };
    let (jobs, to_do) = sync_channel::<Job>(threads * WAITING);
    let (order, answers) = sync_channel::<Receiver<Line>>(threads * WAITING);
    let to_do = Mutex::new(to_do);
    let stop = io.stop;
    std::thread::scope(|scope| {
        for _ in 0..threads {
            let (case, header, name, to_do) = (case.clone(), &header, &name, &to_do);
            scope.spawn(move || work(case, header, name, to_do));
        }
        let reader = scope.spawn(move || {
            let mut pieces = Pieces::new(input, column);
            while let Some(piece) = pieces.next() {
                let (answer, line) = sync_channel(1);
                let job = Job { piece: piece?, end: pieces.bytes(), answer };
                let gone = order.send(line).is_err() || jobs.send(job).is_err();
                if gone || stop.load(std::sync::atomic::Ordering::Relaxed) {
                    break;
                }
            }
            Ok::<(), std::io::Error>(())
        });
        let told = write_out(&answers, length, io);
        drop(answers);
        match reader.join() {
            Ok(Ok(())) => Ok(told),
            Ok(Err(error)) => Err(cannot(error).hint("the cells read so far were graded")),
            Err(_) => Err(Error::input(format!("{name}: the reader ended unexpectedly"))),
        }
    })
}

/// Grades cells until there are no more.
fn work(mut case: Case, header: &Header, name: &str, to_do: &Mutex<Receiver<Job>>) {
    loop {
        let next = to_do.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok(Job { piece, end, answer }) = next else { return };
        let (text, fate) = grade(&mut case, header, name, &piece);
        let _the_writer_may_have_stopped = answer.send(Line { text, fate, end });
    }
}

/// Grades one cell.
fn grade(case: &mut Case, header: &Header, name: &str, piece: &Piece) -> (String, Option<Fate>) {
    let cell = piece.name();
    match judged(case, header, name, piece, &cell) {
        Ok((text, fate)) => (text, Some(fate)),
        Err(error) => {
            let (first_line, last_line) = (piece.first_line, piece.last_line());
            let cell = (!cell.is_empty()).then_some(cell.as_str());
            let schema = "celltriage.unreadable/1";
            let unreadable = Unreadable { schema, cell, first_line, last_line, error };
            // Strings and numbers only: this cannot fail; an empty line would still be one line for one cell.
            (serde_json::to_string(&unreadable).unwrap_or_default(), None)
        }
    }
}

fn judged(
    case: &mut Case,
    header: &Header,
    name: &str,
    piece: &Piece,
    cell: &str,
) -> Result<(String, Fate), String> {
    if cell.is_empty() {
        return Err(format!("{name}: line {}: no row tells its cell in `Cell ID`", piece.first_line));
    }
    if piece.is_too_long {
        return Err(format!(
            "{name}: line {}: the rows of cell `{cell}` are more than can be held; grade it in a file of its own",
            piece.first_line
        ));
    }
    let trace =
        header.read_rows(&piece.text, piece.first_line - 1, name).map_err(|error| error.to_string())?;
    let file = Path::new(name).file_name().unwrap_or_default().to_string_lossy();
    let origin = Origin::elsewhere(format!("file {file}"));
    cell.clone_into(&mut case.id);
    let assessment = case.judge(Some(&trace), origin);
    let text = serde_json::to_string(&assessment).map_err(|error| format!("cannot write JSON: {error}"))?;
    Ok((text, assessment.verdict.fate))
}

/// Writes the lines in order, tells the progress and sums up; returns the exit code.
fn write_out(answers: &Receiver<Receiver<Line>>, length: u64, io: &mut Io<'_>) -> u8 {
    let began = Instant::now();
    let mut told_at = began;
    let bar = io.live.then(|| bar(length));
    let (mut cells, mut unreadable) = (0u64, 0u64);
    let mut fates: BTreeMap<&'static str, u64> = BTreeMap::new();
    for answer in answers {
        let Ok(line) = answer.recv() else { break };
        cells += 1;
        match line.fate {
            Some(fate) => *fates.entry(fate.key()).or_default() += 1,
            None => unreadable += 1,
        }
        io.say(&line.text);
        if let Some(bar) = &bar {
            bar.set_position(line.end);
            bar.set_message(format!("{cells} cells, {unreadable} unreadable"));
        } else if told_at.elapsed() >= TELL_EVERY {
            told_at = Instant::now();
            let share = (line.end * 100).checked_div(length);
            let share = share.map_or_else(String::new, |percent| format!(", {percent} % of the file"));
            io.note(&format!("  {cells} cells, {unreadable} unreadable{share}"));
        }
    }
    if let Some(bar) = &bar {
        bar.finish_and_clear();
    }
    let seconds = began.elapsed().as_secs_f64();
    let fates: String = fates.iter().map(|(fate, count)| format!(", {count} {fate}")).collect();
    io.note(&format!(
        "{cells} cells in {seconds:.1} s ({:.0} a second){fates}, {unreadable} unreadable",
        cells as f64 / seconds.max(1e-9)
    ));
    if io.stop_wanted() {
        io.note("stopped before the end of the file; the cells above were graded");
        return crate::error::EXIT_UNFINISHED;
    }
    if unreadable > 0 { Error::input("").exit_code() } else { EXIT_DONE }
}

fn bar(length: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(length), ProgressDrawTarget::stderr_with_hz(5));
    let template =
        if length > 0 { "  [{bar:30}] {percent:>3} %  {eta} left  {wide_msg}" } else { "  {wide_msg}" };
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("#> "));
    }
    bar
}
