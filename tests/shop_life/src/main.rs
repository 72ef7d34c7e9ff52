//! Plays weeks of the shop's life: `celltriage-shop-life weeks COUNT [SEED]`, `seconds COUNT [SEED]`, or `again SEED` for one week in
//! plain words; `stories` plays those by hand. A broken promise is shrunk and told; `first COUNT [SEED]` plays the stories by hand and then
//! weeks, ends at the first and tells it as it was met. Exit code 1 then, 2 for a wrong call.
#![forbid(unsafe_code)]

use celltriage_shop_life::draw::story;
use celltriage_shop_life::life::{Broken, play};
use celltriage_shop_life::room;
use celltriage_shop_life::shrink::{in_words, shrunk};
use celltriage_shop_life::stories::by_hand;
use celltriage_shop_life::tally::Tally;
use std::collections::BTreeMap;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

const USAGE: &str = "celltriage-shop-life weeks COUNT [SEED] | seconds COUNT [SEED] | first COUNT [SEED] | again SEED | stories";
/// Findings of one promise are told once: the others are most often the same.
type Found = BTreeMap<&'static str, (u64, u64, Broken)>;

fn main() -> ExitCode {
    if let Some(error) = room::enter() {
        eprintln!("no full disk is played here, since nothing can be mounted ({error})");
    }
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let number = |at: usize| words.get(at).and_then(|word: &&str| word.replace('_', "").parse::<u64>().ok());
    let (first, count) = (words.first().copied(), number(1));
    match (first, count) {
        (Some("again"), Some(seed)) => again(seed),
        (Some("weeks"), Some(weeks)) => many(number(2).unwrap_or(1), weeks, Duration::MAX, false),
        (Some("stories"), None) if by_hand_hold(false) => ExitCode::SUCCESS,
        (Some("first"), Some(weeks)) if by_hand_hold(true) => {
            many(number(2).unwrap_or(1), weeks, Duration::MAX, true)
        }
        (Some("stories"), None) | (Some("first"), Some(_)) => ExitCode::FAILURE,
        (Some("seconds"), Some(seconds)) => {
            many(number(2).unwrap_or(1), u64::MAX, Duration::from_secs(seconds), false)
        }
        _ => {
            eprintln!("{USAGE}");
            ExitCode::from(2)
        }
    }
}

fn again(seed: u64) -> ExitCode {
    let story = story(seed);
    match play(&story) {
        Ok(tally) => {
            story.iter().enumerate().for_each(|(at, step)| println!("{:>3}. {step}", at + 1));
            println!("every promise held; {tally:?}");
            ExitCode::SUCCESS
        }
        Err(broken) => {
            let (story, broken) = shrunk(&story, &broken);
            println!("{}", in_words(&story, &broken));
            ExitCode::FAILURE
        }
    }
}

/// Plays the stories by hand, all or up to the first in which a promise is broken; returns whether every promise held.
fn by_hand_hold(only_first: bool) -> bool {
    let mut all_held = true;
    for story in by_hand() {
        match play(&story.steps) {
            Ok(_) if only_first => {}
            Ok(tally) => println!("{}: every promise held; {tally:?}", story.name),
            Err(broken) => {
                println!("{}:\n{}", story.name, in_words(&story.steps, &broken));
                all_held = false;
                if only_first {
                    break;
                }
            }
        }
    }
    all_held
}

fn many(first: u64, weeks: u64, within: Duration, only_first: bool) -> ExitCode {
    let (began, next) = (Instant::now(), AtomicU64::new(0));
    let all: Mutex<(Tally, u64, Found)> = Mutex::default();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let work = || {
        loop {
            let week = next.fetch_add(1, Ordering::Relaxed);
            if week >= weeks || began.elapsed() >= within {
                return;
            }
            let seed = first.wrapping_add(week);
            let came = play(&story(seed));
            let Ok(mut all) = all.lock() else { return };
            all.1 += 1;
            match came {
                Ok(tally) => all.0 += tally,
                Err(broken) => {
                    if only_first {
                        next.store(weeks, Ordering::Relaxed);
                    }
                    let found = all.2.entry(broken.promise).or_insert((seed, 0, *broken));
                    found.1 += 1;
                }
            }
        }
    };
    std::thread::scope(|scope| (0..threads).for_each(|_| drop(scope.spawn(work))));
    let (tally, played, found) = all.into_inner().unwrap_or_default();
    println!("{played} weeks in {:.0} s: {tally:?}", began.elapsed().as_secs_f64());
    for (seed, times, broken) in found.values() {
        if only_first {
            println!("seed {seed}: {}", in_words(&[], broken));
            continue;
        }
        let (story, broken) = shrunk(&story(*seed), broken);
        println!("\nseed {seed}, {times} weeks:\n{}", in_words(&story, &broken));
    }
    if found.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
