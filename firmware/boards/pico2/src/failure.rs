//! What happens where the program fails: the enable pin goes low, then the chip resets.
//!
//! A fault that even this does not survive (the core locks up) is ended by the watchdog.

use crate::pins;
use core::arch::naked_asm;
use core::panic::PanicInfo;
use core::sync::atomic::{AtomicBool, Ordering};
use embassy_rp::pac;

/// Whether this is the second failure, in the midst of the first.
static FAILED: AtomicBool = AtomicBool::new(false);

#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    fail()
}

extern "C" fn fail() -> ! {
    cortex_m::interrupt::disable();
    pins::load_off();
    // The log may be what has failed.
    if !FAILED.swap(true, Ordering::Relaxed) {
        defmt::error!("the program has failed; load off, reset");
    }
    // Everything but the oscillators, as the watchdog would.
    pac::PSM.wdsel().write_value(pac::psm::regs::Wdsel(0x0001_FFFC));
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
        "movs r0, #0",
        "msr msplim, r0",
        "ldr r0, =_stack_start",
        "msr msp, r0",
        "b {fail}",
        fail = sym fail
    )
}
