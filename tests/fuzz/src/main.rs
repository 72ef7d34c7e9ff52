//! Plays a target many times from a seed and says what was seen: `celltriage-fuzz frames|bench COUNT [SEED]`; each thread has
//! a seed of its own. `celltriage-fuzz frames|bench again HEX` plays one finding again.
#![forbid(unsafe_code)]

use celltriage_fuzz::{bench, frames};
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::ops::AddAssign;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::time::Instant;

const USAGE: &str = "celltriage-fuzz frames|bench COUNT [SEED], or celltriage-fuzz frames|bench again HEX";

/// What many runs of a target have shown.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    runs: u64,
    candidates: u64,
    messages: u64,
    loaded: u64,
    tripped: u64,
    virtual_us: u64,
    findings: u64,
}

impl AddAssign for Sum {
    fn add_assign(&mut self, other: Self) {
        self.runs += other.runs;
        self.candidates += other.candidates;
        self.messages += other.messages;
        self.loaded += other.loaded;
        self.tripped += other.tripped;
        self.virtual_us += other.virtual_us;
        self.findings += other.findings;
    }
}

/// Which target, and how many bytes it draws from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Target {
    Frames,
    Bench,
}

impl Target {
    fn once(self, bytes: &[u8], sum: &mut Sum) {
        match self {
            Target::Frames => {
                let seen = frames::read(bytes);
                sum.candidates += seen.candidates;
                sum.messages += seen.messages;
                sum.runs += seen.candidates;
            }
            Target::Bench => {
                let told = bench::play(bytes);
                sum.runs += 1;
                sum.loaded += u64::from(told.loaded);
                sum.tripped += u64::from(told.tripped);
                sum.virtual_us += told.lasted.get();
            }
        }
    }

    fn many(self, count: u64, seed: u64) -> Sum {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut bytes = vec![0; if self == Target::Frames { 600 } else { 512 }];
        let mut sum = Sum::default();
        while sum.runs < count {
            rng.fill_bytes(&mut bytes);
            let before = sum.runs;
            if catch_unwind(AssertUnwindSafe(|| self.once(&bytes, &mut sum))).is_err() {
                let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
                eprintln!("found with seed {seed}, {before} runs in; play it again with these bytes:\n{hex}");
                sum.findings += 1;
                sum.runs += 1;
            }
        }
        sum
    }
}

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let target = match words.first() {
        Some(&"frames") => Target::Frames,
        Some(&"bench") => Target::Bench,
        _ => return usage(),
    };
    if let [_, "again", hex] = words[..] {
        let Some(bytes) = read_hex(hex) else { return usage() };
        target.once(&bytes, &mut Sum::default());
        println!("nothing was found");
        return ExitCode::SUCCESS;
    }
    let number = |at: usize| words.get(at).and_then(|word| word.replace('_', "").parse::<u64>().ok());
    let Some(count) = number(1) else { return usage() };
    let seed = number(2).unwrap_or(1);
    let began = Instant::now();
    let threads = std::thread::available_parallelism().map_or(1, |count| count.get() as u64);
    let mut sum = Sum::default();
    std::thread::scope(|scope| {
        let shares: Vec<_> = (0..threads)
            .map(|thread| {
                let share = count / threads + u64::from(thread < count % threads);
                scope.spawn(move || target.many(share, seed.wrapping_mul(1_000).wrapping_add(thread)))
            })
            .collect();
        for share in shares {
            match share.join() {
                Ok(part) => sum += part,
                Err(_) => sum.findings += 1,
            }
        }
    });
    let share = |part: u64| 100.0 * part as f64 / sum.runs.max(1) as f64;
    match target {
        Target::Frames => println!(
            "{} candidates, {} of them messages ({:.1} %)",
            sum.runs,
            sum.messages,
            share(sum.messages)
        ),
        Target::Bench => println!(
            "{} stories of {:.1} h in all; {:.1} % with a load, {:.1} % with a trip",
            sum.runs,
            sum.virtual_us as f64 / 3.6e9,
            share(sum.loaded),
            share(sum.tripped)
        ),
    }
    println!(
        "{} found, in {:.0} s on {threads} threads, seed {seed}",
        sum.findings,
        began.elapsed().as_secs_f64()
    );
    if sum.findings == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn usage() -> ExitCode {
    eprintln!("{USAGE}");
    ExitCode::from(2)
}

fn read_hex(hex: &str) -> Option<Vec<u8>> {
    let digits: Option<Vec<u8>> =
        hex.chars().map(|digit| digit.to_digit(16).map(|value| value as u8)).collect();
    let digits = digits?;
    digits.len().is_multiple_of(2).then(|| digits.chunks(2).map(|pair| pair[0] << 4 | pair[1]).collect())
}
