//! Finds the fixture among this computer's serial ports: by its USB identity first, then by asking it who it is.
//!
//! A port without the fixture's USB identity is never opened unasked: what hangs there may not bear strange bytes.

use super::ports::{Port, ports};
use super::{Client, LinkError, SerialLink};
use celltriage_protocol::reply::{Identity, State};
use std::path::Path;

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

/// Says whether the port is there, or the only fixture where none is named; opens nothing.
///
/// # Errors
/// [`LinkError`] with what to do.
pub fn is_there(port: Option<&str>) -> Result<(), LinkError> {
    let found = ports()?;
    match port {
        None => the_fixture(&found).map(|_| ()),
        Some(name) if Path::new(name).exists() || found.iter().any(|port| port.name == name) => Ok(()),
        Some(name) => {
            Err(LinkError::Open { port: name.to_owned(), reason: "there is no such port".to_owned() })
        }
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
    use crate::ports::UsbTexts;
    use celltriage_protocol::usb;

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
