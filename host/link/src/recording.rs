//! Our own recording of a measurement: the frames themselves, one after the other, as they stood on the wire.
//!
//! A recording is every event frame in its order of sequence, and every request and reply of the run but the
//! keep-alives. Frames end with a zero byte, so a file that was cut off loses at most its last frame, and says so.

use celltriage_protocol::event::Event;
use celltriage_protocol::frame::{self, Frame, Message};
use celltriage_protocol::request::Request;
use celltriage_protocol::splitter::{Split, Splitter};

/// Number under which a recording keeps the stop of a run that was ended since its answer was settled; every other request is kept
/// under the number that it was said with, which counts on from one that was drawn.
const SETTLED: u32 = 0;

/// Returns the stop of a run whose answer is settled, as a recording keeps it.
pub(super) fn settled_stop() -> Vec<u8> {
    let mut out = [0u8; frame::MAX_ENCODED + 1];
    frame::encode_request(SETTLED, &Request::Stop, &mut out).map_or_else(|_| Vec::new(), <[u8]>::to_vec)
}

/// What a recording holds.
#[derive(Debug, Default)]
pub struct Recording {
    /// Events with their sequence numbers, in the order of the file.
    pub events: Vec<(u32, Event)>,
    /// All other frames, in the order of the file.
    pub others: Vec<Frame>,
    /// Whether the host has ended the run since its answer was settled.
    pub settled: bool,
    /// What could not be read: where (byte offset of the piece's end) and why.
    pub damage: Vec<String>,
}

/// Reads a recording; damage is told, not hidden, and does not end the reading.
pub fn read_recording(bytes: &[u8]) -> Recording {
    let mut recording = Recording::default();
    let mut splitter = Splitter::new();
    for (offset, &byte) in bytes.iter().enumerate() {
        match splitter.push(byte) {
            Some(Split::Candidate(candidate)) => match frame::decode(candidate) {
                Ok(Frame { sequence, message: Message::Event(event) }) => {
                    recording.events.push((sequence, event))
                }
                Ok(Frame { sequence: SETTLED, message: Message::Request(Request::Stop) }) => {
                    recording.settled = true;
                }
                Ok(other) => recording.others.push(other),
                Err(error) => recording.damage.push(format!("frame that ends at byte {offset}: {error:?}")),
            },
            Some(Split::TooLong) => {
                recording.damage.push(format!("piece that ends at byte {offset}: too long for a frame"));
            }
            None => {}
        }
    }
    if bytes.last().is_some_and(|&last| last != 0) {
        recording.damage.push(format!("the recording breaks off inside a frame at byte {}", bytes.len()));
    }
    recording
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::frame::MAX_ENCODED;
    use celltriage_protocol::units::Micros;

    fn event(sequence: u32) -> Vec<u8> {
        let mut out = [0u8; MAX_ENCODED + 1];
        let event = Event::StepStarted { step: 0, at: Micros::new(u64::from(sequence)) };
        frame::encode_event(sequence, &event, &mut out).expect("fits").to_vec()
    }

    #[test]
    fn a_recording_that_breaks_off_keeps_all_whole_frames_and_says_so() {
        let mut bytes = [event(1), event(2), event(3)].concat();
        bytes.truncate(bytes.len() - 4);
        let recording = read_recording(&bytes);
        assert_eq!(recording.events.iter().map(|(sequence, _)| *sequence).collect::<Vec<_>>(), [1, 2]);
        assert_eq!(recording.damage.len(), 1);
        assert!(recording.damage[0].contains("breaks off"), "{:?}", recording.damage);
    }

    #[test]
    fn a_stop_since_the_answer_was_settled_is_told_from_any_other() {
        assert!(read_recording(&settled_stop()).settled);
        let mut out = [0u8; MAX_ENCODED + 1];
        let other = frame::encode_request(7, &Request::Stop, &mut out).expect("fits");
        let other = read_recording(other);
        assert!(!other.settled && other.others.len() == 1, "{other:?}");
    }

    #[test]
    fn damage_in_the_middle_costs_its_own_frame_only() {
        let mut bytes = [event(1), event(2), event(3)].concat();
        let middle = event(1).len() + 4;
        bytes[middle] ^= 0x40;
        let recording = read_recording(&bytes);
        assert_eq!(recording.events.iter().map(|(sequence, _)| *sequence).collect::<Vec<_>>(), [1, 3]);
        assert_eq!(recording.damage.len(), 1);
    }
}
