//! One copy of the calibration as it lies in flash.
//!
//! ```text
//! mark "CAL1" | number u32 | length u8 | calibration in postcard's format | ones | CRC-32 of all before
//! ```
//! 64 bytes, little endian. The CRC is CRC-32/ISO-HDLC (ISO/IEC 13239), as on the wire. Erased flash is all ones,
//! which no record is.

use celltriage_protocol::calibration::Calibration;
use crc::{CRC_32_ISO_HDLC, Crc};
use postcard::experimental::max_size::MaxSize;

/// Size in bytes.
pub const SIZE: usize = 64;

const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);
const MARK: [u8; 4] = *b"CAL1";
const BODY: usize = SIZE - 13;
const _: () = assert!(Calibration::POSTCARD_MAX_SIZE <= BODY, "the calibration outgrew its record");

/// A calibration and how many saves came before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Record {
    /// Counts up from 1 with each save; the higher one is the newer.
    pub number: u32,
    /// The calibration.
    pub calibration: Calibration,
}

impl Record {
    /// Returns the record as bytes; `None` if the calibration does not fit, which the size check above excludes.
    pub fn to_bytes(self) -> Option<[u8; SIZE]> {
        let mut body = [0xFF; BODY];
        let length = postcard::to_slice(&self.calibration, &mut body).ok()?.len();
        let mut bytes = [0xFF; SIZE];
        let number = self.number.to_le_bytes();
        let length = [u8::try_from(length).ok()?];
        let before = MARK.iter().chain(&number).chain(&length).chain(&body);
        for (place, byte) in bytes.iter_mut().zip(before) {
            *place = *byte;
        }
        let (before, crc) = bytes.split_last_chunk_mut::<4>()?;
        *crc = CRC.checksum(before).to_le_bytes();
        Some(bytes)
    }

    /// Reads a record; `None` if the bytes are not one, whole and undamaged.
    pub fn from_bytes(bytes: &[u8; SIZE]) -> Option<Self> {
        let (before, crc) = bytes.split_last_chunk::<4>()?;
        if CRC.checksum(before) != u32::from_le_bytes(*crc) {
            return None;
        }
        let (mark, rest) = before.split_first_chunk::<4>()?;
        let (number, rest) = rest.split_first_chunk::<4>()?;
        let (length, body) = rest.split_first()?;
        let (calibration, left) = postcard::take_from_bytes(body.get(..usize::from(*length))?).ok()?;
        (*mark == MARK && left.is_empty())
            .then_some(Self { number: u32::from_le_bytes(*number), calibration })
    }
}
