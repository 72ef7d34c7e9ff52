//! What the emulated board keeps over a reset: the number of its start, and where the program failed.
//!
//! The emulator, like the chip, leaves the memory as it is over a reset; start-up does not touch this section of it.

use celltriage_protocol::description::ResetCause;
use celltriage_store::entry::{Entry, What, calls_on_stack};
use celltriage_store::keep::Keep;
use core::sync::atomic::{AtomicU32, Ordering};

#[allow(unsafe_code)]
// SAFETY: the section holds nothing but such places, and start-up does not clear it.
#[unsafe(link_section = ".uninit.START")]
static START: Keep = Keep::new();

#[allow(unsafe_code)]
// SAFETY: as above.
#[unsafe(link_section = ".uninit.FAILURE")]
static FAILURE: Keep = Keep::new();

#[allow(unsafe_code)]
// SAFETY: both are addresses that the linker script sets; nothing is read through these declarations.
unsafe extern "C" {
    static _stack_start: u32;
    static _stack_end: u32;
}

/// Where the program lies (memory.x).
const PROGRAM: core::ops::Range<u32> = 0x1000_0000..0x1010_0000;

/// Number of this start, for whoever fails.
static BOOT: AtomicU32 = AtomicU32::new(0);

/// What was kept over a reset: the number of the start before and the failure that ended it. Nothing after power-up.
pub fn take() -> (Option<u32>, Option<Entry>, ResetCause) {
    let before = START.take().map(|entry| entry.boot);
    let cause = if before.is_some() { ResetCause::Watchdog } else { ResetCause::PowerOn };
    (before, FAILURE.take(), cause)
}

/// Keeps the number of this start.
pub fn number(boot: u32) {
    BOOT.store(boot, Ordering::Relaxed);
    START.put(&Entry { boot, what: What::Start });
}

/// Keeps which calls were under way when the program failed, from the stack at `from` on.
pub fn failure(from: u32) {
    let (top, end) = (&raw const _stack_start, &raw const _stack_end);
    let inside = (from as usize).saturating_sub(end.addr()) / 4;
    let words = (top.addr() - end.addr()) / 4;
    let calls = calls_on_stack(inside..words, &PROGRAM, |word| {
        // SAFETY: the word lies between the end of the stack and its start, is aligned and is memory of this program.
        #[allow(unsafe_code)]
        unsafe {
            end.add(word).read_volatile()
        }
    });
    let what = What::Panic(calls);
    FAILURE.put(&Entry { boot: BOOT.load(Ordering::Relaxed), what });
}

/// Forgets everything, as the memory does where the power fails.
pub fn power_failed() {
    let _ = take();
}
