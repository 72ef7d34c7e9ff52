//! Calls into the emulator: two byte streams and nothing else.
//!
//! A debugger's calls by the breakpoint 0xAB (ARM's semihosting specification); the emulator carries them out on the
//! computer it runs on. The streams are its standard input and output, which are pipes to the process that plays the
//! bench. A call takes microseconds, many times less than as many bytes through an emulated serial port.

use core::arch::asm;

const OPEN: usize = 0x01;
const WRITE: usize = 0x05;
const READ: usize = 0x06;
const READ_BYTES: usize = 1;
const WRITE_BYTES: usize = 5;

/// One direction of the pipe.
#[derive(Clone, Copy, Debug)]
pub struct Stream(usize);

impl Stream {
    /// Opens the stream on which the bench answers.
    pub fn input() -> Self {
        Self(open("/dev/stdin\0", READ_BYTES))
    }

    /// Opens the stream on which the fixture asks.
    pub fn output() -> Self {
        Self(open("/dev/stdout\0", WRITE_BYTES))
    }

    /// Returns the number that [`Stream::from_number`] takes.
    pub const fn number(self) -> usize {
        self.0
    }

    /// Returns the open stream of this number.
    pub const fn from_number(number: usize) -> Self {
        Self(number)
    }

    /// Writes all bytes; returns whether the other end took them.
    pub fn write(self, bytes: &[u8]) -> bool {
        call(WRITE, &[self.0, bytes.as_ptr().addr(), bytes.len()]) == 0
    }

    /// Waits until the buffer is full; returns false where the other end is gone.
    pub fn read(self, mut into: &mut [u8]) -> bool {
        while !into.is_empty() {
            let left = call(READ, &[self.0, into.as_mut_ptr().expose_provenance(), into.len()]);
            let got = into.len().saturating_sub(left);
            if got == 0 {
                return false;
            }
            into = into.get_mut(got..).unwrap_or_default();
        }
        true
    }
}

/// Opens a file by its name, which ends with a zero.
fn open(name: &str, mode: usize) -> usize {
    call(OPEN, &[name.as_ptr().addr(), mode, name.len() - 1])
}

fn call(operation: usize, arguments: &[usize; 3]) -> usize {
    let result;
    // SAFETY: the emulator reads the arguments and, for a read, writes no more bytes than the length given to a buffer
    // that the caller holds mutably. It keeps every register but r0.
    #[allow(unsafe_code)]
    unsafe {
        asm!("bkpt 0xAB", inout("r0") operation => result, in("r1") arguments.as_ptr(), options(nostack));
    }
    result
}
