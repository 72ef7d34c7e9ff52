//! A short run of each target from a seed, so that every run of the tests sees new code under it.

use crate::{bench, frames};
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Stories of one short run: a few seconds of the tests' build.
const STORIES: u32 = 1_500;

#[test]
fn whatever_comes_over_the_line_is_read_or_refused() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_129);
    let (mut candidates, mut messages) = (0, 0);
    let mut bytes = [0; 600];
    for _ in 0..30_000 {
        rng.fill_bytes(&mut bytes);
        let seen = frames::read(&bytes);
        candidates += seen.candidates;
        messages += seen.messages;
    }
    assert!(
        messages > 3_000 && candidates > 2 * messages,
        "both sorts are drawn: {messages} of {candidates}"
    );
}

#[test]
fn whatever_happens_at_the_bench_the_fixture_keeps_its_promises() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_129);
    let (mut loaded, mut tripped) = (0, 0);
    let mut bytes = [0; 512];
    for _ in 0..STORIES {
        rng.fill_bytes(&mut bytes);
        let told = bench::play(&bytes);
        loaded += u32::from(told.loaded);
        tripped += u32::from(told.tripped);
    }
    assert!(loaded * 10 >= STORIES * 3, "three in ten stories load the cell: {loaded} of {STORIES}");
    assert!(tripped * 10 >= STORIES, "one in ten trips: {tripped} of {STORIES}");
}
