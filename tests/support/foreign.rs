//! Frames as another build may send them, made without the protocol's own encoder.

/// Returns an intact frame of any version with any body: header, body, CRC-32, stuffing, zero (the layout described in
/// `protocol/src/frame.rs`, made here by other means).
pub fn foreign_frame(version: u8, channel: u8, sequence: u32, body: &[u8]) -> Vec<u8> {
    let mut plain = vec![version, channel];
    plain.extend(sequence.to_le_bytes());
    plain.extend(body);
    let crc = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(&plain);
    plain.extend(crc.to_le_bytes());
    let mut frame = vec![0; plain.len() + plain.len() / 254 + 2];
    let length = cobs::encode(&plain, &mut frame);
    frame.truncate(length);
    frame.push(0);
    frame
}
