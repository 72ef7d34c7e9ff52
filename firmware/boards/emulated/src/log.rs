//! The log: `defmt`'s bytes go through the tunnel and are decoded by whoever plays the bench.

use crate::semihosting::Stream;
use crate::tunnel::send;
use crate::words::{LONGEST, kind};
use core::cell::RefCell;
use core::sync::atomic::{AtomicUsize, Ordering};
use critical_section::Mutex;
use defmt::Encoder;

/// Number of the open stream plus one; zero = none.
static STREAM: AtomicUsize = AtomicUsize::new(0);
static ENCODER: Mutex<RefCell<Encoder>> = Mutex::new(RefCell::new(Encoder::new()));
static WAITING: Mutex<RefCell<Waiting>> =
    Mutex::new(RefCell::new(Waiting { bytes: [0; LONGEST], length: 0 }));

/// A log frame that is being put together.
struct Waiting {
    bytes: [u8; LONGEST],
    length: usize,
}

/// Says where the log goes.
pub fn to(stream: Stream) {
    STREAM.store(stream.number() + 1, Ordering::Relaxed);
}

/// Tells the bench that the program has failed.
pub fn tell_failure() {
    tell(kind::FAILED, &[]);
}

fn tell(kind: u8, bytes: &[u8]) {
    if let Some(number) = STREAM.load(Ordering::Relaxed).checked_sub(1) {
        send(Stream::from_number(number), kind, 0, &[bytes]);
    }
}

/// Keeps bytes until the frame is whole; what does not fit is cut off, which the decoder sees.
fn keep(bytes: &[u8]) {
    critical_section::with(|token| {
        let waiting = &mut *WAITING.borrow_ref_mut(token);
        for byte in bytes {
            if let Some(place) = waiting.bytes.get_mut(waiting.length) {
                *place = *byte;
                waiting.length += 1;
            }
        }
    });
}

#[defmt::global_logger]
struct Log;

// SAFETY: one program without interrupts or threads: a frame is never begun inside another.
#[allow(unsafe_code)]
unsafe impl defmt::Logger for Log {
    fn acquire() {
        critical_section::with(|token| ENCODER.borrow_ref_mut(token).start_frame(keep));
    }

    unsafe fn flush() {}

    unsafe fn release() {
        critical_section::with(|token| {
            ENCODER.borrow_ref_mut(token).end_frame(keep);
            let waiting = &mut *WAITING.borrow_ref_mut(token);
            tell(kind::LOG, waiting.bytes.get(..waiting.length).unwrap_or_default());
            waiting.length = 0;
        });
    }

    unsafe fn write(bytes: &[u8]) {
        critical_section::with(|token| ENCODER.borrow_ref_mut(token).write(bytes, keep));
    }
}
