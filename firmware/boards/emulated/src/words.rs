//! The words of the tunnel between the emulated fixture and the bench that is simulated for it.
//!
//! The fixture asks, the bench answers; numbers are little endian. Both sides include this very file.
//!
//! ```text
//! question: kind u8 | fixture's clock in ns u64 | length of the rest u16 | rest
//! answer:   flags u8 | clock in ns when the wait is over u64 | rest, as long as the question implies
//! ```
//! The fixture's own timer counts what its instructions take. Where the fixture waits, for the bus or for its next
//! pass, the bench says what time it is afterwards; the clock in an answer is never earlier than in its question.

#![allow(dead_code, reason = "each side uses its half")]

/// Bytes before the rest of a question.
pub const QUESTION: usize = 11;
/// Bytes before the rest of an answer.
pub const ANSWER: usize = 9;
/// Longest rest of a question.
pub const LONGEST: usize = 256;

/// What a question is about.
pub mod kind {
    /// The program has started, after power-up or a reset. The enable pin has fallen with the reset.
    pub const AWAKE: u8 = 1;
    /// The enable pin is driven: one byte, 1 = on.
    pub const PIN: u8 = 2;
    /// A bus transaction: address, then for each part its direction (0 write, 1 read), its length and, if it is a
    /// write, its bytes. Answered with all bytes read.
    pub const BUS: u8 = 3;
    /// Nothing to do until a time (ns u64); with it the number of ends of frames taken from the
    /// link so far (u32).
    pub const WAIT: u8 = 4;
    /// Log bytes, as the `defmt` encoder made them. Not answered.
    pub const LOG: u8 = 5;
    /// Flash read: offset u32, length u16. Answered with the bytes.
    pub const FLASH_READ: u8 = 6;
    /// Flash erase: from u32, to u32.
    pub const FLASH_ERASE: u8 = 7;
    /// Flash write: offset u32, bytes.
    pub const FLASH_WRITE: u8 = 8;
    /// Stack that no program part has touched since power-up, in bytes: u32, of u32.
    pub const STACK: u8 = 9;
    /// The program has failed and is about to reset: the enable pin falls. Not answered.
    pub const FAILED: u8 = 10;
    /// The controller's own converter is read: answered with three codes (u16), of the force lead, the sink's sense resistor and
    /// the reference. Refused where conversions fail.
    pub const LOOK: u8 = 11;
    /// Free the bus's lines. Answered with the number of clock pulses that it took, u8, or with the flag for a held line.
    pub const FREE: u8 = 12;
}

/// What an answer says by the way.
pub mod flag {
    /// The polarity comparator sees a reversed cell.
    pub const REVERSED: u8 = 1;
    /// Not acknowledged, or the flash has refused.
    pub const REFUSED: u8 = 2;
    /// Someone holds a line of the bus low: not done, and the longest time that a transfer may take is over.
    pub const HELD: u8 = 4;
    /// In the answer to a wait: gather as many bytes from the host as the port can hold before the next pass.
    pub const HOARD: u8 = 4;
    /// Tell the stack.
    pub const TELL_STACK: u8 = 8;
    /// Panic, to show what becomes of it.
    pub const PANIC: u8 = 16;
    /// Use up the stack, to show what becomes of it.
    pub const OVERFLOW: u8 = 32;
    /// The power has failed in the midst of what was asked: nothing after it happens, the program restarts.
    pub const POWER_FAILED: u8 = 64;
    /// Let the main program say no more that it is alive, to show what becomes of it; all else goes on.
    pub const MUTE: u8 = 128;
}

/// Size of the flash in bytes: two sectors for the calibration, two for the journal.
pub const FLASH: usize = 16_384;
/// Size of its sectors.
pub const SECTOR: usize = 4_096;
