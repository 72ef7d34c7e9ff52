//! Pairs of visits: how often one cell asks whether it is itself, and how often two cells of one model are told apart.
//!
//! Both cells of a pair bear one label, as if its file were the same; they differ in what use has made of them. The visits are
//! independent: instrument, air, state of charge, readings. Thickness is left out, since the gauge of this population draws a cell's
//! growth anew for each visit.

use crate::cell::Cell;
use crate::trial::{self, Kind};
use celltriage_assessment::same_cell::{Earlier, Facts, contradictions};
use jiff::civil::{Date, date};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How many sorts of pairs there are.
pub const SORTS: u64 = 3;
const DAY: Date = date(2026, 11, 25);
/// What was done at the first visit, and at the second.
const KINDS: [[Kind; 2]; SORTS as usize] =
    [[Kind::Screen, Kind::Screen], [Kind::Screen, Kind::Full], [Kind::Full, Kind::Full]];

/// Runs so many pairs of each sort, prints the shares, and returns how many cells asked about themselves.
pub fn print(seed: u64, pairs: u64) -> u64 {
    let mut about_themselves = 0;
    println!("visits               one cell asks      two cells of a model are told apart");
    for (sort, kinds) in KINDS.into_iter().enumerate() {
        let [mut same, mut other] = [0; 2];
        for index in 0..pairs {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            random.set_stream(1_000_000 + index * KINDS.len() as u64 + sort as u64);
            let (asks, apart) = pair(&mut random, kinds);
            same += u64::from(asks);
            other += u64::from(apart);
        }
        let share = |count: u64| 100.0 * count as f64 / pairs as f64;
        let what = format!("{:?}, {:?}", kinds[0], kinds[1]);
        println!("{what:<20} {:>5.2} %            {:>5.1} %   of {pairs}", share(same), share(other));
        about_themselves += same;
    }
    about_themselves
}

fn pair(random: &mut ChaCha8Rng, [before, now]: [Kind; 2]) -> (bool, bool) {
    let first = Cell::draw(random, |random| before.start(random));
    let again =
        Cell { start_soc: now.start(random), air_c: random.random_range(17.0..29.0), ..first.clone() };
    let other = Cell::draw(random, |random| now.start(random)).of_the_model_of(&first);
    let seen = trial::facts(random, &first, before);
    let mut asks = |cell: &Cell| {
        let later = trial::facts(random, cell, now);
        let now = Facts { nameplate: seen.nameplate.clone(), ..later };
        let earlier = [Earlier { entry: 1, on: DAY, facts: seen.clone(), said_same: false }];
        !contradictions(&earlier, &now, DAY, None).is_empty()
    };
    (asks(&again), asks(&other))
}
