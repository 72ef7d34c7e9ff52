//! A fixture on a serial port (USB serial, or a pseudo-terminal in tests).

use super::{Link, LinkError};
use std::io::{ErrorKind, Read, Write};
use std::time::Duration;

/// Line rate. A USB serial port ignores it; a real line of this rate carries the fixture's 1 kHz samples.
const BAUD: u32 = 115_200;

/// An open serial port.
pub struct SerialLink {
    port: Box<dyn serialport::SerialPort>,
    name: String,
}

impl SerialLink {
    /// Opens a port by its name, e.g. `/dev/ttyACM0` or `COM5`.
    ///
    /// # Errors
    /// [`LinkError::Open`] with the system's reason.
    pub fn open(name: &str) -> Result<Self, LinkError> {
        let open_error =
            |error: serialport::Error| LinkError::Open { port: name.to_owned(), reason: error.to_string() };
        let mut port =
            serialport::new(name, BAUD).timeout(Duration::from_millis(50)).open().map_err(open_error)?;
        // Some boards send only with "data terminal ready" set; a pseudo-terminal has no such line and refuses.
        let _no_such_line = port.write_data_terminal_ready(true);
        port.clear(serialport::ClearBuffer::Input).map_err(open_error)?;
        Ok(Self { port, name: name.to_owned() })
    }

    fn gone(&self, error: &std::io::Error) -> LinkError {
        LinkError::Gone { link: self.describe(), reason: error.to_string() }
    }
}

impl Link for SerialLink {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.port.write_all(bytes).and_then(|()| self.port.flush()).map_err(|error| self.gone(&error))
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        if self.port.timeout() != wait {
            self.port
                .set_timeout(wait)
                .map_err(|error| LinkError::Gone { link: self.describe(), reason: error.to_string() })?;
        }
        let mut buffer = [0u8; 4096];
        match self.port.read(&mut buffer) {
            Ok(0) => Err(LinkError::Gone { link: self.describe(), reason: "end of stream".to_owned() }),
            Ok(count) => {
                into.extend_from_slice(&buffer[..count]);
                Ok(count)
            }
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => Ok(0),
            Err(error) => Err(self.gone(&error)),
        }
    }

    fn describe(&self) -> String {
        format!("serial port {}", self.name)
    }
}
