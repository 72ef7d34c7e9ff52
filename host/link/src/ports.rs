//! The serial ports of this computer, and which of them carry the fixture's USB identity.

use super::LinkError;
use celltriage_protocol::usb;
use serialport::{SerialPortInfo, SerialPortType};

/// What a USB port says of itself before a word of the protocol is spoken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsbTexts {
    /// Vendor number.
    pub vendor: u16,
    /// Product number.
    pub product: u16,
    /// Text of the product.
    pub name: Option<String>,
    /// Text of the serial number.
    pub serial: Option<String>,
}

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// Its name, as it is opened.
    pub name: String,
    /// What it says over USB; nothing for a port of another kind.
    pub usb: Option<UsbTexts>,
}

impl Port {
    /// Returns whether the port carries the fixture's USB identity: both numbers and the whole text of the product.
    pub fn is_fixture(&self) -> bool {
        self.usb.as_ref().is_some_and(|texts| {
            (texts.vendor, texts.product) == (usb::VENDOR_ID, usb::PRODUCT_ID)
                && texts.name.as_deref() == Some(usb::PRODUCT)
        })
    }

    /// Returns whether the port says that it is the fixture with this serial number.
    pub fn has_serial(&self, serial: u64) -> bool {
        let text = self.usb.as_ref().and_then(|texts| texts.serial.as_deref());
        text.is_some_and(|text| text.as_bytes() == usb::serial_text(serial))
    }

    /// Returns name, product and serial number in a few words.
    pub fn describe(&self) -> String {
        match &self.usb {
            Some(UsbTexts { name, serial, .. }) => {
                let name = name.as_deref().unwrap_or("USB device without a name");
                let serial = serial.as_ref().map_or(String::new(), |serial| format!(", serial {serial}"));
                format!("{} ({name}{serial})", self.name)
            }
            None => format!("{} (not USB)", self.name),
        }
    }
}

impl From<SerialPortInfo> for Port {
    fn from(info: SerialPortInfo) -> Self {
        let usb = match info.port_type {
            SerialPortType::UsbPort(usb) => Some(UsbTexts {
                vendor: usb.vid,
                product: usb.pid,
                name: usb.product,
                serial: usb.serial_number,
            }),
            _ => None,
        };
        Self { name: info.port_name, usb }
    }
}

/// Lists this computer's serial ports, by name.
///
/// # Errors
/// [`LinkError::Ports`] where the system does not tell them.
pub fn ports() -> Result<Vec<Port>, LinkError> {
    // Without this folder (a bare container) the library would panic; there are no ports then.
    if cfg!(target_os = "linux") && !std::path::Path::new("/sys/class/tty").is_dir() {
        return Ok(Vec::new());
    }
    let mut ports: Vec<Port> = serialport::available_ports()
        .map_err(|error| LinkError::Ports(error.to_string()))?
        .into_iter()
        .map(Port::from)
        .collect();
    // Elsewhere than on Linux each device may have two names; one of them waits for a carrier that never comes.
    ports.retain(|port| !port.name.starts_with("/dev/tty."));
    ports.sort_by(|one, other| one.name.cmp(&other.name));
    Ok(ports)
}

/// Returns the name of the port that says that it is the fixture with this serial number.
///
/// # Errors
/// [`LinkError::Ports`] where the system does not tell its ports.
pub fn port_of(serial: u64) -> Result<Option<String>, LinkError> {
    let found = ports()?.into_iter().find(|port| port.is_fixture() && port.has_serial(serial));
    Ok(found.map(|port| port.name))
}
