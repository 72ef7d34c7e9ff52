//! Finds the fixture among this computer's serial ports: by its USB identity first, then by asking it who it is.
//!
//! A port without the fixture's USB identity is never opened unasked: what hangs there may not bear strange bytes.

use super::{Client, LinkError, SerialLink};
use celltriage_protocol::reply::{Identity, State};
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

/// Picks the one fixture among ports, without opening any.
///
/// # Errors
/// [`LinkError::NoFixture`] and [`LinkError::Several`], each with what is there. Which of several fixtures holds the cell
/// only the person knows, so none is taken, also where all but one are busy.
pub fn the_fixture(ports: &[Port]) -> Result<&Port, LinkError> {
    let fixtures: Vec<&Port> = ports.iter().filter(|port| port.is_fixture()).collect();
    match fixtures.as_slice() {
        [] => Err(LinkError::NoFixture { others: ports.iter().map(Port::describe).collect() }),
        [one] => Ok(one),
        several => Err(LinkError::Several { found: several.iter().map(|port| port.describe()).collect() }),
    }
}

/// Opens the fixture on a port, or the only one there is where no port is named.
///
/// # Errors
/// [`LinkError`] with what to do.
pub fn open(port: Option<&str>) -> Result<SerialLink, LinkError> {
    match port {
        Some(name) => SerialLink::open(name),
        None => SerialLink::open(&the_fixture(&ports()?)?.name),
    }
}

/// Asks what is behind a port, and lets it go again.
///
/// # Errors
/// [`LinkError`]: busy, silent, older, newer, not ours.
pub fn ask(name: &str) -> Result<(Identity, State), LinkError> {
    let (_, identity, state) = Client::connect(SerialLink::open(name)?)?;
    Ok((identity, state))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(name: &str, product: &str, serial: u64) -> Port {
        let serial = String::from_utf8(usb::serial_text(serial).to_vec()).expect("hexadecimal digits");
        let usb = UsbTexts {
            vendor: usb::VENDOR_ID,
            product: usb::PRODUCT_ID,
            name: Some(product.to_owned()),
            serial: Some(serial),
        };
        Port { name: name.to_owned(), usb: Some(usb) }
    }

    fn not_usb(name: &str) -> Port {
        Port { name: name.to_owned(), usb: None }
    }

    #[test]
    fn the_only_port_with_the_fixtures_numbers_and_text_is_taken() {
        let ports = [
            not_usb("/dev/ttyS0"),
            port("/dev/ttyACM0", "another thing", 1),
            port("/dev/ttyACM1", usb::PRODUCT, 7),
        ];
        let found = the_fixture(&ports).expect("one fixture");
        assert_eq!(found.name, "/dev/ttyACM1");
        assert!(found.has_serial(7) && !found.has_serial(8));
    }

    #[test]
    fn other_numbers_with_the_same_text_are_not_taken() {
        let mut other = port("/dev/ttyACM0", usb::PRODUCT, 1);
        if let Some(texts) = &mut other.usb {
            texts.vendor ^= 1;
        }
        assert!(!other.is_fixture());
    }

    #[test]
    fn without_a_fixture_it_is_told_what_else_is_there() {
        let text = the_fixture(&[not_usb("/dev/ttyS0")]).expect_err("none").to_string();
        assert!(text.contains("no fixture") && text.contains("/dev/ttyS0"), "{text}");
        let text = the_fixture(&[]).expect_err("none").to_string();
        assert!(text.contains("no serial port at all"), "{text}");
    }

    #[test]
    fn of_several_fixtures_none_is_taken_and_all_are_named() {
        let ports = [port("/dev/ttyACM0", usb::PRODUCT, 1), port("/dev/ttyACM1", usb::PRODUCT, 2)];
        let text = the_fixture(&ports).expect_err("two").to_string();
        assert!(text.contains("/dev/ttyACM0") && text.contains("0000000000000002"), "{text}");
    }
}
