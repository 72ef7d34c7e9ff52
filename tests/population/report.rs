//! Says in tables how the intervals and the decisions did, and whether that is within bounds.

use crate::risk::Risk;
use crate::tally::{Coverage, Tally, WANTED};
use crate::trial::{Kind, Trial};
use celltriage_measure::estimate::Quantity;

/// Largest share of cells below a limit that may be used again: the risk that the built-in policy states.
const STATED_RISK: f64 = 0.05;
/// Fewer runs say nothing about a coverage: its standard deviation would be more than a per cent.
const FEWEST: u64 = 500;
/// A share that is outside by fewer standard deviations of counting than this cannot be distinguished from one inside.
const COUNTING: f64 = 2.0;
/// Estimates that need not be judged, each with the reason. All others must have a truth and [`FEWEST`] values.
const NOT_JUDGED: [(Quantity, &str); 2] = [
    (Quantity::CapacityAtLeast, "a lower bound: see --proofs"),
    (Quantity::CapacityFractionAtLeast, "a lower bound: see --proofs"),
];
/// Estimates that may hold the truth more often than wanted, up to which share, and why. Too narrow stays a fault.
const WIDE: [(Quantity, f64, &str); 1] = [(
    Quantity::CapacityFromPart,
    0.985,
    "WIDE, as known: half of its variance is a rectangular doubt (ageing), which 1.96 u hold whole",
)];

/// Prints the tables; returns whether all is within bounds.
pub fn print(tally: &Tally, cells: u64) -> bool {
    let mut good = true;
    println!(
        "{cells} cells of each kind of trial, each on an instrument of its own: a screen at 3 to 99 % charge, a full"
    );
    println!(
        "test, a fast recorder, a part of a discharge, two rest voltages in storage, a full test after storage"
    );
    println!(
        "coverage of the nominal 95 % interval, wanted {:.0} to {:.0} %, give or take two standard deviations of counting",
        WANTED[0] * 100.0,
        WANTED[1] * 100.0
    );
    println!(
        "{:<33} {:>6} {:>8} {:>8}  {:>6} {:>6} {:>8} {:>7}",
        "estimate", "values", "refused", "held", "below", "above", "mean e/u", "rms e/u"
    );
    for quantity in Quantity::ALL {
        let coverage = tally.coverage(quantity);
        let verdict = judged(quantity, &coverage);
        good &= !verdict.starts_with("NOT");
        line(quantity.key(), &coverage, &verdict);
    }
    for (kind, risk) in &tally.risk {
        good &= print_risk(*kind, risk);
    }
    println!("{}", if good { "within bounds" } else { "NOT within bounds" });
    good
}

fn line(name: &str, coverage: &Coverage, verdict: &str) {
    let [mean, root] = coverage.ratio();
    println!(
        "{:<33} {:>6} {:>6.1} % {:>6.1} %  {:>6} {:>6} {:>+8.2} {:>7.2}  {verdict}",
        name,
        coverage.cells,
        coverage.refused_share() * 100.0,
        coverage.share() * 100.0,
        coverage.below,
        coverage.above,
        mean,
        root
    );
}

fn judged(quantity: Quantity, coverage: &Coverage) -> String {
    if let Some((_, why)) = NOT_JUDGED.iter().find(|(named, _)| *named == quantity) {
        return format!("not judged: {why}");
    }
    let slack = COUNTING * coverage.share_deviation();
    let verdict = match coverage.share() {
        _ if coverage.cells + coverage.refused == 0 => "NOT: nobody knows the truth of it here",
        _ if coverage.cells < FEWEST => "NOT: too few values to tell",
        share if share < WANTED[0] - slack => "NOT: too narrow",
        share if share > WANTED[1] + slack => {
            let known = WIDE.iter().find(|(named, most, _)| *named == quantity && share <= *most);
            known.map_or("NOT: too wide", |(_, _, why)| why)
        }
        _ => "good",
    };
    verdict.to_owned()
}

fn print_risk(kind: Kind, risk: &Risk) -> bool {
    let what = match kind {
        Kind::StoredFull => "two visits: a rest voltage, and some days later a full test",
        _ => "one visit: a full test",
    };
    let (consumer, closest, leaking) = (risk.consumer, risk.closest, risk.leaking);
    println!("decisions, nothing found by eye, {what}");
    println!(
        "  consumer's risk {:>5.2} %  reuse for {} of {} cells below a limit; stated {:.0} %",
        consumer.percent(),
        consumer.wrong,
        consumer.all,
        STATED_RISK * 100.0
    );
    println!(
        "                  {:>5.2} %  of the {} that have 78 to 80 % of their rated capacity",
        closest.percent(),
        closest.all
    );
    println!(
        "                  {:>5.2} %  of the {} that only lose more than 20 % a month in storage",
        leaking.percent(),
        leaking.all
    );
    let (producer, open) = (risk.producer, risk.storage_open);
    println!(
        "                  {:>5.2} %  of the {} reused whose decision says \"loss in storage is not proven\" lose that much",
        open.percent(),
        open.all
    );
    println!(
        "  producer's risk {:>5.2} %  no reuse for {} of {} cells that meet every limit",
        producer.percent(),
        producer.wrong,
        producer.all
    );
    for (criterion, count) in &risk.kept_from_reuse {
        if criterion.ends_with("Inconclusive") || criterion.ends_with("Fail") {
            let share = 100.0 * *count as f64 / producer.all.max(1) as f64;
            println!("                  {share:>5.2} %  {criterion}");
        }
    }
    let stated = STATED_RISK * 100.0;
    let all_judged = consumer.all > 0 && producer.all > 0;
    // One visit cannot tell what a cell loses in storage: then every decision must say so.
    let leaks_known = match kind {
        Kind::StoredFull => leaking.percent() <= stated,
        _ => leaking.all > 0 && open.all > 0 && open.wrong >= leaking.wrong,
    };
    all_judged && leaks_known && [consumer, closest].iter().all(|share| share.percent() <= stated)
}

/// Prints each kind of trial apart.
pub fn print_by_kind(tally: &Tally) {
    for ((quantity, kind), coverage) in &tally.by_kind {
        line(&format!("{} {kind:?}", quantity.key()), coverage, "");
    }
}

/// Prints why estimates were refused and what kept good cells from reuse.
pub fn print_reasons(tally: &Tally) {
    for quantity in Quantity::ALL {
        for (why, count) in &tally.coverage(quantity).reasons {
            println!("  no {}: {count} x {why}", quantity.key());
        }
    }
    for (kind, risk) in &tally.risk {
        for (criterion, count) in &risk.kept_from_reuse {
            println!("  kept from reuse, {kind:?}: {count} x {criterion}");
        }
    }
}

/// Prints one trial's number beside its truth, for those who look for the cause of an error.
pub fn show(quantity: Quantity, index: u64, kind: Kind, trial: &Trial) {
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
