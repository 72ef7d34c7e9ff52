//! The real terminal around [`celltriage_host::run`].

use celltriage_host::io::{Io, Loudness, fitted};
use celltriage_host::settings::surroundings::Surroundings;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use std::io::{BufRead, IsTerminal, Write};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Width where none can be found out: that of the usual terminal.
const USUAL_WIDTH: usize = 80;

fn main() -> ExitCode {
    // The shell asks what may follow what was typed so far: answered, and nothing else is done.
    if celltriage_host::completing::answered() {
        return ExitCode::SUCCESS;
    }
    let stop = Arc::new(AtomicBool::new(false));
    let wish = Arc::clone(&stop);
    // The first wish ends a run with the load off and the cell recorded; a second one ends the program at once, and
    // the fixture drops the load by itself when the host falls silent.
    // While a question stands there is no run to end: the first one ends the program.
    let asking = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&asking);
    let handler = ctrlc::set_handler(move || {
        if wish.swap(true, Ordering::Relaxed) || asked.load(Ordering::Relaxed) {
            eprintln!(
                "\nstopped; what was answered of a cell is kept for a day, and nothing more is written"
            );
            std::process::exit(130);
        }
    });
    let (mut out, mut err) = (std::io::stdout(), std::io::stderr());
    if let Err(error) = handler {
        let _nobody_may_read_it =
            writeln!(err, "warning: Ctrl-C cannot be caught ({error}); end a test by unplugging");
    }
    let somebody_is_there = std::io::stdin().is_terminal() && err.is_terminal();
    let live = err.is_terminal();
    let colour = out.is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    // The variable by which programs for the terminal are asked for lines that are read aloud.
    let in_words = std::env::var_os("ACCESSIBLE").is_some_and(|value| !value.is_empty());
    let width = std::env::var("COLUMNS").ok().and_then(|text| text.parse().ok());
    let size = terminal_size::terminal_size();
    let width = width.or(size.map(|(columns, _)| columns.0.into())).unwrap_or(USUAL_WIDTH);
    let mut question = |text: &str| -> Option<String> {
        let mut screen = std::io::stderr();
        let text = fitted(text.trim_end(), width);
        let _nobody_may_read_it = write!(screen, "{text} ").and_then(|()| screen.flush());
        let mut line = String::new();
        asking.store(true, Ordering::Relaxed);
        let answered = matches!(std::io::stdin().lock().read_line(&mut line), Ok(count) if count > 0);
        asking.store(false, Ordering::Relaxed);
        if !answered {
            let _nobody_may_read_it = writeln!(screen);
        }
        answered.then_some(line)
    };
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        ask: if somebody_is_there { Some(&mut question) } else { None },
        now: Timestamp::now(),
        stated_day: None,
        bench: celltriage_book::BENCH.to_owned(),
        zone: TimeZone::system(),
        width,
        height: size.map(|(_, lines)| lines.0.into()),
        colour,
        live,
        bars: None,
        told: Vec::new(),
        loudness: Loudness::Usual,
        in_words,
        screen: std::io::stdout().is_terminal(),
        stop: &stop,
    };
    ExitCode::from(celltriage_host::run(std::env::args_os(), &Surroundings::of_this_process(), &mut io))
}
