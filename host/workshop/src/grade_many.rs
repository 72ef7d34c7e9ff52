//! A long file with the traces of many cells, graded while it is read.
//!
//! One thread cuts the file into cells, as many as there are processors grade them, the caller takes the answers. Every
//! cell's answer has its own little channel, and these wait in a queue of limited length in the order of the file: so
//! answers come in that order, and neither a slow caller nor a long trace makes the memory grow.

use crate::fault::{Fault, NoTrace, Result};
use celltriage_assessment::case::{Case, Origin};
use celltriage_measure::bdf::{Header, Piece, Pieces};
use celltriage_verdict::Fate;
use serde::Serialize;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Mutex, PoisonError};

/// Cells that may wait for their turn, for each thread that grades.
const WAITING: usize = 4;

/// A cell of the file as it was graded.
#[derive(Clone, Debug, PartialEq)]
pub struct GradedCell {
    /// The assessment as one line of JSON; for rows that are not a trace `celltriage.unreadable/1`.
    pub text: String,
    /// Its fate, if it got one.
    pub fate: Option<Fate>,
    /// How many bytes of the file are read by its end.
    pub end: u64,
}

/// What is written if a cell's rows are not a trace.
#[derive(Serialize)]
struct Unreadable<'a> {
    schema: &'static str,
    cell: Option<&'a str>,
    first_line: u64,
    last_line: u64,
    error: String,
}

/// A cell to be graded and where its answer goes.
struct Job {
    piece: Piece,
    end: u64,
    answer: SyncSender<GradedCell>,
}

/// Grades every cell of a file; `case` has label and setting of all. `stop` ends it early.
///
/// # Errors
/// The file has no usable header, or cannot be read on; the cells before that were graded.
pub fn grade_many(
    input: impl Read + Send,
    name: &str,
    case: &Case,
    stop: &AtomicBool,
    graded: &mut dyn FnMut(GradedCell),
) -> Result<()> {
    let cannot = |error: std::io::Error, begun: bool| Fault::ManyUnreadable {
        file: name.to_owned(),
        error: error.to_string(),
        begun,
    };
    let mut input = BufReader::with_capacity(1 << 20, input);
    let mut first = Vec::new();
    (&mut input).take(1 << 20).read_until(b'\n', &mut first).map_err(|error| cannot(error, false))?;
    let header = Header::read(&first, name).map_err(|error| Fault::Trace {
        file: PathBuf::from(name),
        what: error.to_string(),
        why: NoTrace::Rows,
    })?;
    let Some(column) = header.cell_id() else {
        return Err(Fault::NoCellColumn { file: name.to_owned() });
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let (jobs, to_do) = sync_channel::<Job>(threads * WAITING);
    let (order, answers) = sync_channel::<Receiver<GradedCell>>(threads * WAITING);
    let to_do = Mutex::new(to_do);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            let (case, header, to_do) = (case.clone(), &header, &to_do);
            scope.spawn(move || work(case, header, name, to_do));
        }
        let reader = scope.spawn(move || {
            let mut pieces = Pieces::new(input, column);
            while let Some(piece) = pieces.next() {
                let (answer, line) = sync_channel(1);
                let job = Job { piece: piece?, end: pieces.bytes(), answer };
                let gone = order.send(line).is_err() || jobs.send(job).is_err();
                if gone || stop.load(Ordering::Relaxed) {
                    break;
                }
            }
            Ok::<(), std::io::Error>(())
        });
        for answer in answers {
            let Ok(cell) = answer.recv() else { break };
            graded(cell);
        }
        match reader.join() {
            Ok(Ok(())) => Ok(()),
            Ok(Err(error)) => Err(cannot(error, true)),
            Err(_) => Err(Fault::ReaderEnded { file: name.to_owned() }),
        }
    })
}

/// Grades cells until there are no more.
fn work(mut case: Case, header: &Header, name: &str, to_do: &Mutex<Receiver<Job>>) {
    loop {
        let next = to_do.lock().unwrap_or_else(PoisonError::into_inner).recv();
        let Ok(Job { piece, end, answer }) = next else { return };
        let (text, fate) = grade(&mut case, header, name, &piece);
        let _the_writer_may_have_stopped = answer.send(GradedCell { text, fate, end });
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
