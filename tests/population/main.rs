//! Coverage of the intervals and risk of the decisions over a population of simulated cells.
//!
//! usage: population [--cells N] [--seed N] [--picture FILE.svg] [--reasons yes] [--by-run yes] [--show ESTIMATE] [--pairs N]
//!                    [--faults N] [--proofs N]
//!
//! Draws cells and instruments (`cell.rs`, `meter.rs`), puts each through a run (`run.rs`) and the program's estimators
//! and its built-in policy, and compares with what is true (`truth.rs`). Prints, for every estimate there is, how often
//! the nominal 95 % interval holds the truth, and how often a cell below a limit would be used again. Exit code 0: all
//! within bounds; 1: not.

mod cell;
mod curve;
mod fault_report;
mod faults;
mod gauge;
mod meter;
mod open_voltage;
mod pairs;
mod picture;
mod proof;
mod proof_report;
mod report;
mod response;
mod risk;
mod run;
mod tally;
mod threads;
mod trial;
mod truth;

use celltriage_measure::estimate::Quantity;
use celltriage_verdict::Policy;
use std::io::IsTerminal;
use std::process::ExitCode;
use tally::Tally;
use threads::spread;
use trial::Kind;

const USAGE: &str = "usage: population [--cells N] [--seed N] [--picture FILE.svg] [--reasons yes] [--by-run yes] \
                     [--show ESTIMATE] [--pairs N] [--faults N] [--proofs N]";

struct Wish {
    cells: u64,
    seed: u64,
    picture: Option<String>,
    reasons: bool,
    by_run: bool,
    show: Option<Quantity>,
    pairs: Option<u64>,
    faults: Option<u64>,
    proofs: Option<u64>,
}

fn main() -> ExitCode {
    let wish = match wish(std::env::args().skip(1)) {
        Ok(wish) => wish,
        Err(why) => {
            eprintln!("{why}\n{USAGE}");
            return ExitCode::from(2);
        }
    };
    if let Some(count) = wish.pairs {
        let asked = pairs::print(wish.seed, count);
        // At most one in a hundred may ask about itself (our choice).
        return if asked * 100 <= count * pairs::SORTS { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    if let Some(count) = wish.faults {
        let good = fault_report::print(wish.seed, count);
        return if good { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    if let Some(count) = wish.proofs {
        let good = proof_report::print(wish.seed, count);
        return if good { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    let tally = run_all(&wish);
    let good = report::print(&tally, wish.cells);
    if wish.by_run {
        report::print_by_kind(&tally);
    }
    if wish.reasons {
        report::print_reasons(&tally);
    }
    if let Some(path) = &wish.picture {
        if let Err(error) = std::fs::write(path, picture::draw(&tally)) {
            eprintln!("cannot write {path}: {error}");
            return ExitCode::FAILURE;
        }
        println!("picture: {path}");
    }
    if good { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn wish(mut typed: impl Iterator<Item = String>) -> Result<Wish, String> {
    let mut wish = Wish {
        cells: 2000,
        seed: 20_261_125,
        picture: None,
        reasons: false,
        by_run: false,
        show: None,
        pairs: None,
        faults: None,
        proofs: None,
    };
    while let Some(option) = typed.next() {
        let value = typed.next().ok_or_else(|| format!("{option} needs a value"))?;
        let number = || value.parse::<u64>().map_err(|error| format!("{option} {value}: {error}"));
        match option.as_str() {
            "--cells" => wish.cells = number()?,
            "--seed" => wish.seed = number()?,
            "--picture" => wish.picture = Some(value),
            "--faults" => wish.faults = Some(number()?),
            "--proofs" => wish.proofs = Some(number()?),
            "--pairs" => wish.pairs = Some(number()?),
            "--reasons" => wish.reasons = value == "yes",
            "--by-run" => wish.by_run = value == "yes",
            "--show" => {
                let named = Quantity::ALL.into_iter().find(|quantity| quantity.key() == value);
                wish.show = Some(named.ok_or_else(|| format!("{value} is no estimate"))?);
            }
            _ => return Err(format!("{option} is no option")),
        }
    }
    Ok(wish)
}

/// Runs all trials on all processors; each trial has its own stream of random numbers, whatever thread it falls to.
fn run_all(wish: &Wish) -> Tally {
    let policy = Policy::built_in().expect("the built-in policy");
    let live = std::io::stderr().is_terminal();
    let tallies = spread(wish.cells, Tally::default, |tally, index| {
        for kind in Kind::ALL {
            let trial = trial::run(wish.seed, index, kind, &policy);
            if let Some(quantity) = wish.show {
                report::show(quantity, index, kind, &trial);
            }
            tally.count(kind, &trial);
        }
        if live && index.is_multiple_of(20) {
            eprint!("\r  {index} of {} cells", wish.cells);
        }
    });
    if live {
        eprint!("\r\x1b[K");
    }
    let mut sum = Tally::default();
    tallies.into_iter().for_each(|tally| sum.add(tally));
    sum
}
