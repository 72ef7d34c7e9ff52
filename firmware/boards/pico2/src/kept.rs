//! What the board keeps over a reset with the power on: the number of its start, and where the program failed.
//!
//! The number lies in two of the watchdog's scratch registers, which a reset by the watchdog leaves and power-up clears (RP2350
//! data sheet, 12.9.5; the last four belong to the boot program). The place of a failure needs more room: it lies in memory
//! that start-up does not clear, which a reset leaves as it is too (pico-sdk, `__uninitialized_ram`); where it does not, its
//! CRC is wrong and nothing is told. Why the chip started: WATCHDOG_REASON and POWMAN_CHIP_RESET.

use celltriage_protocol::description::ResetCause;
use celltriage_store::entry::{Entry, What, calls_on_stack};
use celltriage_store::keep::Keep;
use core::sync::atomic::{AtomicU32, Ordering};
use embassy_rp::pac;

#[allow(unsafe_code)]
// SAFETY: the section holds nothing but this place, and start-up does not clear it.
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

/// Takes what was kept over a reset: the number of the start before and the failure that ended it.
pub fn take() -> (Option<u32>, Option<Entry>, Option<ResetCause>) {
    let before = pac::WATCHDOG.scratch0().read();
    let is_whole = pac::WATCHDOG.scratch1().read() == !before;
    (is_whole.then_some(before), FAILURE.take(), cause())
}

/// Why the chip started, as far as it says. A reset that the program asked for is told by what it left behind.
fn cause() -> Option<ResetCause> {
    let reason = pac::WATCHDOG.reason().read();
    let chip = pac::POWMAN.chip_reset().read();
    if reason.timer() {
        Some(ResetCause::Watchdog)
    } else if reason.force() {
        Some(ResetCause::Request)
    } else if chip.had_dp_reset_req() || chip.had_rescue() {
        Some(ResetCause::Debugger)
    } else if chip.had_run_low() {
        Some(ResetCause::Pin)
    } else if chip.had_bor() {
        Some(ResetCause::BrownOut)
    } else if chip.had_por() {
        Some(ResetCause::PowerOn)
    } else {
        None
    }
}

/// Keeps the number of this start.
pub fn number(boot: u32) {
    BOOT.store(boot, Ordering::Relaxed);
    pac::WATCHDOG.scratch0().write_value(boot);
    pac::WATCHDOG.scratch1().write_value(!boot);
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
