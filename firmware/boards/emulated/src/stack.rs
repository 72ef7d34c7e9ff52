//! The stack: how much of it was never touched, and what happens where it ends.
//!
//! Start-up fills the stack with a pattern (cortex-m-rt's `paint-stack`); the linker script puts it below everything
//! else; the processor's stack limit register stands at its end (`set-msplim`).

/// What start-up fills the stack with (cortex-m-rt's documentation).
const PAINT: u32 = 0xCCCC_CCCC;

#[allow(unsafe_code)]
// SAFETY: both are addresses that the linker script sets; nothing is read through these declarations.
unsafe extern "C" {
    static _stack_start: u32;
    static _stack_end: u32;
}

/// Returns how many bytes at the stack's end have never been touched, and its size.
pub fn untouched() -> (u32, u32) {
    let (top, end) = (&raw const _stack_start, &raw const _stack_end);
    let mut word = end;
    // SAFETY: the words lie between the end of the stack and its start, are aligned and are memory of this program.
    #[allow(unsafe_code)]
    while word < top && unsafe { word.read_volatile() } == PAINT {
        word = word.wrapping_add(1);
    }
    ((word.addr() - end.addr()) as u32, (top.addr() - end.addr()) as u32)
}

/// Uses up the stack.
#[inline(never)]
pub fn overflow() {
    fn deeper(depth: u32) -> u32 {
        let room = core::hint::black_box([depth; 64]);
        if depth == u32::MAX { 0 } else { deeper(depth + 1).wrapping_add(room.iter().sum()) }
    }
    core::hint::black_box(deeper(0));
}
