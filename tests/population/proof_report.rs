//! The table of proofs: how long an answer takes, how often it is right, and whether what is told of the capacity holds.

use crate::proof::{End, Proof, run};
use crate::threads::spread;
use celltriage_verdict::{Fate, Policy};

/// Bounds: minutes of the median good cell, whose label was read twice and once, and of the median bad one; share of unfit cells that are reused, coverage of two-sided intervals and of bounds.
const GOOD_MIN: [f64; 2] = [120.0, 130.0];
const BAD_MIN: f64 = 110.0;
const CONSUMERS: f64 = 0.01;
const COVERED: [f64; 2] = [0.93, 0.98];
const BOUND_COVERED: f64 = 0.95;
/// A good cell has this much of its rated capacity or more, a bad one less, and both no other fault.
const LIMIT: f64 = 0.80;

/// Runs so many cells, once with the label read twice and once without, prints the tables, and returns whether every bound holds.
pub fn print(seed: u64, cells: u64) -> bool {
    let policy = Policy::built_in().expect("the built-in policy");
    println!("{cells} cells, full, through the plan proof; ended where the host would end it");
    let mut good = true;
    for (confirmed, words) in [(true, "label read twice"), (false, "label read once")] {
        let proofs = spread(cells, Vec::new, |all, index| all.push(run(seed, index, confirmed, &policy)));
        let proofs: Vec<Proof> = proofs.into_iter().flatten().collect();
        println!("{words}:");
        good &= table(&proofs, GOOD_MIN[usize::from(!confirmed)]);
    }
    good
}

fn table(proofs: &[Proof], good_min: f64) -> bool {
    let mut good = true;
    let mut check = |holds: bool, what: &str| {
        if !holds {
            println!("  BROKEN: {what}");
        }
        good &= holds;
    };
    let fit: Vec<&Proof> = proofs.iter().filter(|proof| proof.is_fit).collect();
    let worn: Vec<&Proof> = proofs.iter().filter(|proof| proof.true_share < LIMIT).collect();
    let unfit = proofs.iter().filter(|proof| !proof.is_fit);
    let reused = unfit.filter(|proof| proof.fate == Fate::Reuse).count();
    for (name, some) in [("good cells", &fit), ("below 80 %", &worn)] {
        let part = |end: End| some.iter().filter(|proof| proof.end == end).count();
        let share = |fate: Fate| percent(some.iter().filter(|proof| proof.fate == fate).count(), some.len());
        println!(
            "  {name:12}{:6}  median {:5.1} min, nine in ten by {:5.1}; reuse {:4.1} %, undecided {:4.1} %, recycle {:4.1} %, \
             quarantine {:4.1} %",
            some.len(),
            at(some, 0.5),
            at(some, 0.9),
            share(Fate::Reuse),
            share(Fate::Undecided),
            share(Fate::Recycle),
            share(Fate::Quarantine)
        );
        println!(
            "  {:18}  ended by the screen {}, in the first stage {}, after it {}, after both {}",
            "",
            part(End::Screen),
            part(End::FirstStage),
            part(End::AfterFirst),
            part(End::Whole)
        );
    }
    let whole: Vec<&Proof> = proofs.iter().filter(|proof| proof.end == End::Whole).collect();
    println!("  both stages: {} cells, median {:.1} min", whole.len(), at(&whole, 0.5));
    println!("  unfit cells that are reused: {reused} of {} proofs", proofs.len());
    check(!fit.is_empty() && !worn.is_empty(), "no good or no worn cell was drawn");
    check(at(&fit, 0.5) <= good_min, "the median good cell takes longer");
    check(at(&worn, 0.5) <= BAD_MIN, "the median cell below the limit takes longer");
    check(reused as f64 <= CONSUMERS * proofs.len() as f64, "more unfit cells are reused");

    let told = |is_bound: bool| {
        let with = proofs.iter().filter(move |proof| proof.is_bound == is_bound);
        with.filter_map(|proof| proof.told.as_ref().map(|told| (told, proof.true_share))).collect::<Vec<_>>()
    };
    let two_sided = told(false);
    let inside = |told: &celltriage_measure::estimate::Estimate, truth: f64| {
        (told.value - truth).abs() <= told.coverage() * told.standard_uncertainty
    };
    let held = two_sided.iter().filter(|(told, truth)| inside(told, *truth)).count();
    println!(
        "  capacity within its interval: {held} of {} ({:.1} %)",
        two_sided.len(),
        percent(held, two_sided.len())
    );
    let covered = held as f64 / two_sided.len().max(1) as f64;
    check((COVERED[0]..=COVERED[1]).contains(&covered), "the intervals of the capacity do not fit");
    let bounds = told(true);
    let kept = bounds
        .iter()
        .filter(|(told, truth)| told.value - 1.645 * told.standard_uncertainty <= *truth)
        .count();
    println!("  lower bounds kept: {kept} of {} ({:.1} %)", bounds.len(), percent(kept, bounds.len()));
    check(
        !bounds.is_empty() && kept as f64 >= BOUND_COVERED * bounds.len() as f64,
        "lower bounds are broken",
    );
    good
}

fn percent(part: usize, of: usize) -> f64 {
    part as f64 / of.max(1) as f64 * 100.0
}

/// The minutes that a share of some proofs took at most.
fn at(some: &[&Proof], share: f64) -> f64 {
    let mut minutes: Vec<f64> = some.iter().map(|proof| proof.minutes).collect();
    minutes.sort_by(f64::total_cmp);
    let index = (share * minutes.len() as f64) as usize;
    minutes.get(index.min(minutes.len().saturating_sub(1))).copied().unwrap_or(0.0)
}
