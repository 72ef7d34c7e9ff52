//! What a fixture on a USB port says of itself before a word of the protocol is spoken.
//!
//! Numbers alone do not tell a fixture: the pair below belongs to every serial port made of the board's chip. The maker of
//! the chip has leave to let others use its vendor number with that chip, keeps one product number for ports that
//! every operating system serves with its own driver, and asks that such devices be told apart by their texts (the
//! vendor's list of product numbers, github.com/raspberrypi/usb-pid, "Use of the IDs" and entry 0x0009, seen
//! November 2026). So a host compares numbers *and* [`PRODUCT`], as whole texts, and then still asks the fixture to
//! identify itself.

/// Vendor number of the chip's maker.
pub const VENDOR_ID: u16 = 0x2E8A;
/// Its product number for serial ports of the standard class (CDC ACM).
pub const PRODUCT_ID: u16 = 0x0009;
/// Text that tells the maker.
pub const MANUFACTURER: &str = "celltriage";
/// Text that tells the product.
pub const PRODUCT: &str = "celltriage fixture";
/// Characters of the serial number's text.
pub const SERIAL_LENGTH: usize = 16;

/// Returns the text of a serial number, which [`Identity`](crate::reply::Identity) tells as a number: sixteen
/// hexadecimal digits, capital letters.
///
/// ```
/// assert_eq!(&celltriage_protocol::usb::serial_text(0x12_34AB), b"00000000001234AB");
/// ```
pub fn serial_text(serial: u64) -> [u8; SERIAL_LENGTH] {
    let mut text = [0; SERIAL_LENGTH];
    for (place, digit) in text.iter_mut().rev().enumerate() {
        let value = (serial >> (4 * place)) as u8 & 0xF;
        *digit = if value < 10 { b'0' + value } else { b'A' + value - 10 };
    }
    text
}

#[cfg(test)]
mod tests {
    extern crate std;

    use super::*;
    use std::format;
    use std::string::String;

    #[test]
    fn the_text_is_the_number_in_sixteen_digits() {
        for serial in [0, 1, 0x9ABC_DEF0_1234_5678, u64::MAX] {
            let text = String::from_utf8(serial_text(serial).to_vec()).unwrap();
            assert_eq!(text, format!("{serial:016X}"));
            assert_eq!(u64::from_str_radix(&text, 16).unwrap(), serial);
        }
    }
}
