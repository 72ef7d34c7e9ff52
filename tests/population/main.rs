//! Coverage of the intervals and risk of the decisions over a population of simulated cells.
//!
//! usage: population [--cells N] [--seed N] [--picture FILE.svg] [--reasons yes] [--show ESTIMATE]
//!
//! Draws cells and fixtures (`cell.rs`, `meter.rs`), runs a screen and a full test on each through the program's
//! estimators and its built-in policy, and compares with what is true (`trial.rs`). Prints, for each estimate, how often
//! the nominal 95 % interval holds the truth, and how often a cell below a limit would be used again. Exit code 0: all
//! within bounds; 1: not.

mod cell;
mod curve;
mod meter;
mod picture;
mod tally;
mod trial;

use celltriage_host::estimate::Quantity;
use celltriage_host::verdict::Policy;
use std::io::IsTerminal;
use std::sync::atomic::{AtomicU64, Ordering};
use tally::{Coverage, Tally, WANTED};
use trial::Kind;

/// Largest share of cells below a limit that may be used again: the risk that the built-in policy states.
const STATED_RISK: f64 = 0.05;
/// Fewer cells say nothing about a coverage.
const FEWEST: u64 = 500;
/// An estimate that is wider than these cells call for, and up to which share that is known: it leaves half the slope
/// of the voltage curve open for local bends, and the curves drawn here are smooth. Too narrow stays a fault.
const KNOWN_WIDE: (Quantity, f64) = (Quantity::Resistance10SecondsWithoutCharge, 0.985);

struct Wish {
    cells: u64,
    seed: u64,
    picture: Option<String>,
    reasons: bool,
    show: Option<Quantity>,
}

fn main() -> std::process::ExitCode {
    let wish = match wish(std::env::args().skip(1)) {
        Ok(wish) => wish,
        Err(why) => {
            eprintln!(
                "{why}\nusage: population [--cells N] [--seed N] [--picture FILE.svg] [--reasons yes] [--show ESTIMATE]"
            );
            return std::process::ExitCode::from(2);
        }
    };
    let tally = run_all(&wish);
    let good = print(&tally, wish.cells);
    if wish.reasons {
        print_reasons(&tally);
    }
    if let Some(path) = &wish.picture {
        if let Err(error) = std::fs::write(path, picture::draw(&tally)) {
            eprintln!("cannot write {path}: {error}");
            return std::process::ExitCode::FAILURE;
        }
        println!("picture: {path}");
    }
    if good { std::process::ExitCode::SUCCESS } else { std::process::ExitCode::FAILURE }
}

fn wish(mut typed: impl Iterator<Item = String>) -> Result<Wish, String> {
    let mut wish = Wish { cells: 2000, seed: 20_261_125, picture: None, reasons: false, show: None };
    while let Some(option) = typed.next() {
        let value = typed.next().ok_or_else(|| format!("{option} needs a value"))?;
        let number = || value.parse::<u64>().map_err(|error| format!("{option} {value}: {error}"));
        match option.as_str() {
            "--cells" => wish.cells = number()?,
            "--seed" => wish.seed = number()?,
            "--picture" => wish.picture = Some(value),
            "--reasons" => wish.reasons = value == "yes",
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
    let next = AtomicU64::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let live = std::io::stderr().is_terminal();
    std::thread::scope(|scope| {
        let work = || {
            let mut tally = Tally::default();
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                if index >= wish.cells {
                    return tally;
                }
                for kind in [Kind::Screen, Kind::Full] {
                    let trial = trial::run(wish.seed, index, kind, &policy);
                    if let Some(quantity) = wish.show {
                        show(quantity, index, kind, &trial);
                    }
                    tally.count(&trial);
                }
                if live && index.is_multiple_of(20) {
                    eprint!("\r  {index} of {} cells", wish.cells);
                }
            }
        };
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        let mut sum = Tally::default();
        for worker in workers {
            sum.add(worker.join().expect("a worker ends well"));
        }
        if live {
            eprint!("\r\x1b[K");
        }
        sum
    })
}

/// Prints the tables; returns whether all is within bounds.
fn print(tally: &Tally, cells: u64) -> bool {
    let mut good = true;
    println!("{cells} cells, each on a fixture of its own: a screen at 3 to 99 % charge, and a full test");
    println!(
        "coverage of the nominal 95 % interval, wanted {:.0} to {:.0} %",
        WANTED[0] * 100.0,
        WANTED[1] * 100.0
    );
    println!(
        "{:<26} {:>6} {:>7} {:>8}  {:>6} {:>6} {:>8} {:>7}",
        "estimate", "cells", "refused", "held", "below", "above", "mean e/u", "rms e/u"
    );
    for (quantity, coverage) in &tally.coverage {
        let verdict = judged(*quantity, coverage);
        good &= verdict != "NOT";
        let [mean, root] = coverage.ratio();
        println!(
            "{:<26} {:>6} {:>7} {:>6.1} %  {:>6} {:>6} {:>+8.2} {:>7.2}  {}",
            quantity.key(),
            coverage.cells,
            coverage.refused,
            coverage.share() * 100.0,
            coverage.below,
            coverage.above,
            mean,
            root,
            verdict
        );
    }
    let unknown = tally.without_truth.iter().filter(|(quantity, _)| !tally.coverage.contains_key(quantity));
    for (quantity, count) in unknown {
        println!("{:<26} {count:>6}  not checked: no truth in this population", quantity.key());
    }
    let risk = &tally.risk;
    let [consumer, producer] = [risk.unfit, risk.fit].map(|[all, wrong]| wrong as f64 / all.max(1) as f64);
    println!("decisions on full tests, nothing found by eye:");
    println!(
        "  consumer's risk  {:>5.2} %  reuse for {} of {} cells below a limit; stated {:.0} %",
        consumer * 100.0,
        risk.unfit[1],
        risk.unfit[0],
        STATED_RISK * 100.0
    );
    println!(
        "  producer's risk  {:>5.2} %  no reuse for {} of {} cells that meet every limit",
        producer * 100.0,
        risk.fit[1],
        risk.fit[0]
    );
    good &= consumer <= STATED_RISK && risk.unfit[0] > 0 && risk.fit[0] > 0;
    println!("{}", if good { "within bounds" } else { "NOT within bounds" });
    good
}

/// Prints why estimates were refused and what kept good cells from reuse.
fn print_reasons(tally: &Tally) {
    for (quantity, coverage) in &tally.coverage {
        for (why, count) in &coverage.reasons {
            println!("  no {}: {count} x {why}", quantity.key());
        }
    }
    for (criterion, count) in &tally.risk.kept_from_reuse {
        println!("  kept from reuse: {count} x {criterion}");
    }
}

/// Prints one trial's number beside its truth, for those who look for the cause of an error.
fn show(quantity: Quantity, index: u64, kind: Kind, trial: &trial::Trial) {
    if let (Some(estimate), Some(truth)) = (trial.estimates.get(quantity), trial.truth.get(&quantity)) {
        println!(
            "{index} {kind:?} {:+.2} u: {:.6} for {truth:.6}, u {:.6}, at {:.3} charge, {:.1} degC, {}",
            (estimate.value - truth) / estimate.standard_uncertainty,
            estimate.value,
            estimate.standard_uncertainty,
            trial.truth.get(&Quantity::StateOfCharge).copied().unwrap_or(1.0),
            estimate.conditions.temperature_c.unwrap_or(f64::NAN),
            estimate.warnings.join("; ")
        );
    }
}

fn judged(quantity: Quantity, coverage: &Coverage) -> &'static str {
    match coverage.share() {
        _ if coverage.cells < FEWEST => "too few to tell",
        share if quantity == KNOWN_WIDE.0 && (WANTED[1]..=KNOWN_WIDE.1).contains(&share) => {
            "WIDE, as known: these curves bend less than it allows for"
        }
        share if !(WANTED[0]..=WANTED[1]).contains(&share) => "NOT",
        _ => "good",
    }
}
