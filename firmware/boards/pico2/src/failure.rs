//! What happens where the program fails: the enable pin goes low, then the chip resets.
//!
//! A fault that even this does not survive (the core locks up) is ended by the watchdog.

use crate::{kept, pins};
use core::arch::naked_asm;
use core::panic::PanicInfo;
use core::sync::atomic::{AtomicBool, Ordering};
use embassy_rp::pac;

/// What a reset by the watchdog takes along: all 25 parts of the RP2350 but its two oscillators, bits 2 and 3 (pico-sdk 2,
/// rp2350/hardware_regs/psm.h: 0x01FF_FFFF without 0x4 and 0x8, as its watchdog driver has it; the RP2040 has 17 parts in
/// another order). Among them are SIO and RESETS, and with RESETS the pads and the pins' functions: the enable pin is not
/// driven any more from then on, and the resistors outside hold it low, whatever the pin was before.
pub const EVERYTHING_BUT_OSCILLATORS: pac::psm::regs::Wdsel = pac::psm::regs::Wdsel(0x01FF_FFF3);

/// Whether this is the second failure, in the midst of the first.
static FAILED: AtomicBool = AtomicBool::new(false);

#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    pins::load_off();
    kept::failure(cortex_m::register::msp::read());
    restart()
}

/// A fault of the processor, with the stack as it was.
extern "C" fn fail(stack: u32) -> ! {
    cortex_m::interrupt::disable();
    pins::load_off();
    kept::failure(stack);
    restart()
}

fn restart() -> ! {
    // The log may be what has failed.
    if !FAILED.swap(true, Ordering::Relaxed) {
        defmt::error!("the program has failed; load off, reset");
    }
    pac::PSM.wdsel().write_value(EVERYTHING_BUT_OSCILLATORS);
    loop {
        pac::WATCHDOG.ctrl().modify(|control| control.set_trigger(true));
    }
}

/// Any fault, also of a stack that is used up: so the stack begins again, without a limit, before anything is pushed.
// SAFETY: called by the processor alone, and never returns, so what lay on the stack is not needed any more.
#[allow(unsafe_code)]
#[unsafe(naked)]
#[unsafe(export_name = "HardFault")]
extern "C" fn fault() -> ! {
    naked_asm!(
        "mrs r0, msp",
        "movs r1, #0",
        "msr msplim, r1",
        "ldr r1, =_stack_start",
        "msr msp, r1",
        "b {fail}",
        fail = sym fail
    )
}
