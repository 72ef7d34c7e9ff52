//! What happens where the program fails: the enable pin falls, then the machine resets.

use crate::{kept, log};
use core::arch::naked_asm;
use core::panic::PanicInfo;

#[panic_handler]
fn panicked(_: &PanicInfo<'_>) -> ! {
    kept::failure(cortex_m::register::msp::read());
    restart()
}

/// A fault of the processor, with the stack as it was.
extern "C" fn fail(stack: u32) -> ! {
    kept::failure(stack);
    restart()
}

fn restart() -> ! {
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
        "mrs r0, msp",
        "movs r1, #0",
        "msr msplim, r1",
        "ldr r1, =_stack_start",
        "msr msp, r1",
        "b {fail}",
        fail = sym fail
    )
}
