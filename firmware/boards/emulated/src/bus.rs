//! The bus: each transaction goes through the tunnel to the simulated chips, as one question.
//!
//! A bus that someone holds low makes a real controller wait for ever; so does this one, until the watchdog bites.

use crate::tunnel::Tunnel;
use crate::words::{LONGEST, flag, kind};
use embedded_hal::i2c::{ErrorKind, ErrorType, I2c, NoAcknowledgeSource, Operation};

const WRITE: u8 = 0;
const READ: u8 = 1;
/// How often a held bus is looked at.
const LOOK_AGAIN_NS: u64 = 100_000;

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

    fn wait_while_held(&self) {
        let until_ns = self.tunnel.now_ns() + LOOK_AGAIN_NS;
        while self.tunnel.now_ns() < until_ns {}
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
        loop {
            let answer = self.tunnel.ask(kind::BUS, &[question.get()], read);
            if answer.says(flag::HELD) {
                self.wait_while_held();
            } else if answer.says(flag::REFUSED) {
                return Err(ErrorKind::NoAcknowledge(NoAcknowledgeSource::Unknown));
            } else {
                break;
            }
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
