//! A fixture on a serial port (USB serial, or a pseudo-terminal in tests).

use super::{Link, LinkError, Reopened, ports};
use std::hash::{BuildHasher, RandomState};
use std::io::{ErrorKind, Read, Write};
use std::time::Duration;

/// Line rate. A USB serial port ignores it; a real line of this rate carries the fixture's 1 kHz samples.
const BAUD: u32 = 115_200;

/// An open serial port.
pub struct SerialLink {
    /// Nothing between the break of a link and its next opening: a port held open cannot come back under its name.
    port: Option<Box<dyn serialport::SerialPort>>,
    name: String,
}

impl SerialLink {
    /// Opens a port by its name, e.g. `/dev/ttyACM0` or `COM5`.
    ///
    /// # Errors
    /// [`LinkError::Busy`], [`LinkError::Forbidden`] or [`LinkError::Open`] with the system's reason.
    pub fn open(name: &str) -> Result<Self, LinkError> {
        let open_error = |error: serialport::Error| {
            let (port, reason) = (name.to_owned(), error.to_string());
            match error.kind() {
                // How the library tells a port that is locked by another opener.
                serialport::ErrorKind::NoDevice => LinkError::Busy { port, reason },
                serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => {
                    LinkError::Forbidden { port, reason }
                }
                _ => LinkError::Open { port, reason },
            }
        };
        let mut port =
            serialport::new(name, BAUD).timeout(Duration::from_millis(50)).open().map_err(open_error)?;
        // Some boards send only with "data terminal ready" set; a pseudo-terminal has no such line and refuses.
        let _no_such_line = port.write_data_terminal_ready(true);
        port.clear(serialport::ClearBuffer::Input).map_err(open_error)?;
        Ok(Self { port: Some(port), name: name.to_owned() })
    }

    fn gone(&self, reason: impl ToString) -> LinkError {
        LinkError::Gone { link: self.describe(), reason: reason.to_string() }
    }
}

impl Link for SerialLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let Some(port) = &mut self.port else { return Err(self.gone("closed")) };
        let sent = port.write_all(bytes).and_then(|()| port.flush());
        sent.map_err(|error| self.gone(error))
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let Some(port) = &mut self.port else { return Err(self.gone("closed")) };
        if port.timeout() != wait
            && let Err(error) = port.set_timeout(wait)
        {
            return Err(self.gone(error));
        }
        let mut buffer = [0u8; 4096];
        match port.read(&mut buffer) {
            Ok(0) => Err(self.gone("end of stream")),
            Ok(count) => {
                into.extend_from_slice(&buffer[..count]);
                Ok(count)
            }
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => Ok(0),
            Err(error) => Err(self.gone(error)),
        }
    }

    fn draw(&mut self) -> u64 {
        // The standard library seeds each of these from the system's random numbers.
        RandomState::new().hash_one(&self.name)
    }

    fn describe(&self) -> String {
        format!("serial port {}", self.name)
    }

    fn reopen(&mut self, serial: u64) -> Result<Reopened, LinkError> {
        self.port = None;
        // A fixture that comes back may get another name; without USB texts (a pseudo-terminal, an adapter) the old name
        // is all there is to go by, and who answers there is asked afterwards.
        let name = ports::port_of(serial)?.unwrap_or_else(|| self.name.clone());
        match Self::open(&name) {
            Ok(link) => {
                *self = link;
                Ok(Reopened::Yes)
            }
            Err(LinkError::Open { .. } | LinkError::Busy { .. } | LinkError::Forbidden { .. }) => {
                Ok(Reopened::NotYet)
            }
            Err(error) => Err(error),
        }
    }
}
