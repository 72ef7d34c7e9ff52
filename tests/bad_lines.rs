//! Runs over bad lines, beside other hosts, stopped and killed: each ends, is recorded as far as it came and says so, and the
//! load is off.
//!
//! Each test makes a hundred runs in virtual time; `CELLTRIAGE_TEST_ROUNDS=1000` makes a thousand.

use celltriage_assessment::recorded::Recorded;
use celltriage_link::{Client, LinkError, RunEnd, read_recording};
use celltriage_protocol::event::Outcome;
use celltriage_protocol::units::Micros;
use celltriage_tests::{BadLine, Line, SharedBench, StopAt, Stranger, rounds, short_plan};
use celltriage_verdict::RunOutcome;
use rand::{Rng, RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;

/// 7 s of steps, 2 s before the first, 30 s, and at most 9 s for getting through before the start.
const LONGEST: Micros = Micros::from_secs(7 + 2 + 30 + 9);
/// From the last word of its owner on the load is off by then, whoever else talks.
const OFF: Micros = Micros::from_millis(3_100);

struct Ran {
    end: Result<RunEnd, LinkError>,
    recorded: Recorded,
    bench: SharedBench,
    said: Vec<Vec<u8>>,
}

/// Runs the short plan, for a person who wants to stop at a time, if any.
fn run(line: Line, seed: u64, stop_at: Option<Micros>) -> Ran {
    let bench = SharedBench::sound(11);
    let link = BadLine::to(&bench, line, seed);
    let said = link.said();
    let mut watch = StopAt::new(&bench, stop_at.unwrap_or(Micros::MAX));
    let mut plan = short_plan(10_000);
    if line.cut_at.is_some() {
        // The load of a killed host would go on for a minute.
        plan.steps[1].duration = Micros::from_secs(60);
    }
    let end = Client::connect(link).and_then(|(mut client, ..)| client.run(&plan, &mut watch));
    assert!(bench.0.borrow().now() <= LONGEST, "seed {seed}: {:?}", bench.0.borrow().now());
    let numbers: Vec<u32> =
        read_recording(&watch.inner.frames).events.iter().map(|(number, _)| *number).collect();
    assert!(numbers.windows(2).all(|pair| pair[1] > pair[0]), "seed {seed}: {numbers:?}");
    let lost = end.as_ref().err().map(ToString::to_string);
    let recorded = Recorded::read(&watch.inner.frames, lost.as_deref());
    let said = said.borrow().clone();
    Ran { end, recorded, bench, said }
}

/// Sees that what was recorded is what the host was told, and that the load goes off while strangers go on talking and
/// repeat all that the owner has said. Returns after which time it was off.
fn assert_honest_and_off(ran: &Ran, seed: u64) -> Micros {
    let complete = matches!(&ran.end, Ok(end) if end.outcome == Outcome::Complete);
    assert_eq!(ran.recorded.run == RunOutcome::Complete, complete, "seed {seed}: {:?}", ran.end);
    assert_eq!(ran.recorded.run.is_finished(), ran.end.is_ok() && ran.recorded.run.is_finished());
    let (mut stranger, mut random) = (Stranger::new(seed), ChaCha8Rng::seed_from_u64(seed));
    for said in &ran.said {
        stranger.overhears(said);
    }
    let mut bench = ran.bench.0.borrow_mut();
    let left = bench.now();
    while bench.load_is_on() {
        let words = match random.random_range(0..3) {
            0 => stranger.says(),
            1 => ran.said[random.random_range(0..ran.said.len())].clone(),
            _ => {
                let mut garbage = vec![0; 20];
                random.fill_bytes(&mut garbage);
                garbage
            }
        };
        // A stop among what is repeated puts the load off, which proves nothing here.
        if !is_stop(&words) {
            bench.send(&words);
        }
        bench.receive(Micros::from_millis(7), &mut Vec::new());
        assert!(bench.now().saturating_sub(left) <= OFF, "seed {seed}: the load is still on");
    }
    bench.now().saturating_sub(left)
}

fn is_stop(words: &[u8]) -> bool {
    use celltriage_protocol::frame::{Message, decode};
    use celltriage_protocol::request::Request;
    let mut candidate = words.strip_suffix(&[0]).unwrap_or(words).to_vec();
    decode(&mut candidate).is_ok_and(|frame| frame.message.bare() == Message::Request(Request::Stop))
}

/// In a word or two, how a run ended.
fn kind(end: &Result<RunEnd, LinkError>) -> String {
    match end {
        Ok(end) => format!("{:?}", end.outcome),
        Err(LinkError::Refused { reject, .. }) => format!("refused: {:?}", reject.cause),
        Err(error) => format!("{error:?}").split([' ', '{']).next().unwrap_or_default().to_owned(),
    }
}

/// Makes the runs; prints how they ended; returns how many were complete, and after which time at most the load was off.
fn figures(what: &str, runs: u64, line: impl Fn(&mut ChaCha8Rng) -> (Line, Option<Micros>)) -> (u64, Micros) {
    let (mut kinds, mut latest) = (BTreeMap::<String, u64>::new(), Micros::ZERO);
    for seed in 0..runs {
        let (line, stop_at) = line(&mut ChaCha8Rng::seed_from_u64(seed));
        let ran = run(line, seed, stop_at);
        latest = latest.max(assert_honest_and_off(&ran, seed));
        *kinds.entry(kind(&ran.end)).or_default() += 1;
    }
    println!("{what}: {runs} runs, 0 hangs, load off after {latest} at most: {kinds:?}");
    (kinds.get("Complete").copied().unwrap_or(0), latest)
}

const LOSSY: Line = Line { lost: 10, garbled: 0, repeated: 0, strangers: 0, cut_at: None };
const BAD: Line = Line { lost: 10, garbled: 10, repeated: 20, strangers: 0, cut_at: None };

/// Some time in the course of the plan.
fn some_time(random: &mut ChaCha8Rng) -> Micros {
    Micros::from_millis(random.random_range(0..9_000))
}

#[test]
fn one_frame_in_a_hundred_lost() {
    let runs = rounds(100);
    let (complete, _) = figures("1 % lost", runs, |_| (LOSSY, None));
    assert!(complete * 100 >= runs * 99, "{complete} of {runs}");
}

#[test]
fn garbage_flips_cuts_and_repeated_frames_on_top_of_that() {
    let runs = rounds(100);
    let (complete, _) = figures("lost, garbled, repeated", runs, |_| (BAD, None));
    assert!(complete * 100 >= runs * 95, "{complete} of {runs}");
}

#[test]
fn another_host_at_the_same_fixture() {
    let runs = rounds(100);
    // It may load a plan of its own between the loading and the start, which is then refused.
    let (complete, _) = figures("two hosts", runs, |_| (Line { strangers: 100, ..BAD }, None));
    assert!(complete * 100 >= runs * 80, "{complete} of {runs}");
}

#[test]
fn a_person_who_stops_at_any_time() {
    figures("stopped", rounds(100), |random| (Line { strangers: 20, ..BAD }, Some(some_time(random))));
}

#[test]
fn a_host_that_is_killed_at_any_time_while_everybody_else_talks() {
    let (_, latest) = figures("killed", rounds(100), |random| {
        (Line { strangers: 20, cut_at: Some(some_time(random)), ..BAD }, None)
    });
    assert!(latest > Micros::from_secs(2), "in some of them the load was on: {latest}");
}
