//! The target `bench`, led by coverage.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _seen = celltriage_fuzz::bench::play(bytes);
});
