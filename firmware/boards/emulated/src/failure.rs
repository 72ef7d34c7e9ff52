//! What happens where the program fails: the enable pin falls, then the machine resets.

use crate::log;
use core::arch::naked_asm;
use core::panic::PanicInfo;

#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    fail()
}

extern "C" fn fail() -> ! {
    log::tell_failure();
    cortex_m::peripheral::SCB::sys_reset()
}

/// The watchdog's first expiry, half its time before it bites; the real board's does not say anything beforehand.
#[cortex_m_rt::exception]
#[allow(unsafe_code)]
unsafe fn NonMaskableInt() {}

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
