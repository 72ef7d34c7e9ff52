//! The bus: each transaction goes through the tunnel to the simulated chips, as one question.
//!
//! A bus that someone holds low is given up after the longest time that a transfer may take; the bench says when that is.

use crate::tunnel::Tunnel;
use crate::words::{LONGEST, flag, kind};
use celltriage_firmware::bus::{Freeable, Lines};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};

const WRITE: u8 = 0;
const READ: u8 = 1;
/// The bus.
#[derive(Debug)]
pub struct Bus {
    tunnel: &'static Tunnel,
}

impl Bus {
    /// Returns the bus at the far end of a tunnel.
    pub const fn new(tunnel: &'static Tunnel) -> Self {
        Self { tunnel }
    }
}

impl Freeable for Bus {
    fn free(&mut self) -> Lines {
        let mut pulses = [0];
        let answer = self.tunnel.ask(kind::FREE, &[], &mut pulses);
        if answer.says(flag::HELD) || answer.says(flag::REFUSED) {
            return Lines::Held;
        }
        Lines::Free { pulses: pulses[0] }
    }
}

impl ErrorType for Bus {
    type Error = ErrorKind;
}

impl I2c for Bus {
    fn transaction(&mut self, address: u8, operations: &mut [Operation<'_>]) -> Result<(), ErrorKind> {
        let mut question = Bytes { bytes: [0; LONGEST], length: 0 };
        question.push(&[address])?;
        let mut wanted = 0;
        for operation in operations.iter() {
            match operation {
                Operation::Write(bytes) => {
                    question.push(&[WRITE, length_of(bytes)?])?;
                    question.push(bytes)?;
                }
                Operation::Read(into) => {
                    question.push(&[READ, length_of(into)?])?;
                    wanted += into.len();
                }
            }
        }
        let mut read = [0; LONGEST];
        let read = read.get_mut(..wanted).ok_or(ErrorKind::Other)?;
        let answer = self.tunnel.ask(kind::BUS, &[question.get()], read);
        if answer.says(flag::HELD) {
            return Err(ErrorKind::Bus);
        }
        if answer.says(flag::REFUSED) {
            return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown));
        }
        let mut bytes = read.iter();
        for operation in operations {
            if let Operation::Read(into) = operation {
                for (place, byte) in into.iter_mut().zip(&mut bytes) {
                    *place = *byte;
                }
            }
        }
        Ok(())
    }
}

fn length_of(bytes: &[u8]) -> Result<u8, ErrorKind> {
    u8::try_from(bytes.len()).map_err(|_| ErrorKind::Other)
}

/// Bytes that are put together.
struct Bytes {
    bytes: [u8; LONGEST],
    length: usize,
}

impl Bytes {
    fn push(&mut self, more: &[u8]) -> Result<(), ErrorKind> {
        let place = self.bytes.get_mut(self.length..self.length + more.len()).ok_or(ErrorKind::Other)?;
        place.copy_from_slice(more);
        self.length += more.len();
        Ok(())
    }

    fn get(&self) -> &[u8] {
        self.bytes.get(..self.length).unwrap_or_default()
    }
}
