//! The fixture of the shop: the real firmware on the simulated bench, which calls itself another board, so that the book takes its
//! cells for real ones. Its line may be cut for good: that is a host that was killed.

use celltriage_link::{Link, LinkError, SimulatedLink};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::reply::Reply;
use std::time::Duration;

/// What the board calls itself here.
const BOARD: &str = "rig";

/// The line to it.
pub struct Rig {
    bench: SimulatedLink,
    /// Receptions until the host is gone; `None`: it stays.
    left: Option<u16>,
    rest: Vec<u8>,
}

impl Rig {
    pub const fn new(bench: SimulatedLink, dies_after: Option<u16>) -> Self {
        Self { bench, left: dies_after, rest: Vec::new() }
    }

    fn gone(&self) -> LinkError {
        LinkError::Gone { link: self.describe(), reason: "the line was cut".to_owned() }
    }
}

impl Link for Rig {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        if self.left == Some(0) { Err(self.gone()) } else { self.bench.send(bytes) }
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        if let Some(left) = &mut self.left {
            *left = left.saturating_sub(1);
            if *left == 0 {
                return Err(self.gone());
            }
        }
        let before = into.len();
        self.bench.receive(&mut self.rest, wait)?;
        while let Some(end) = self.rest.iter().position(|byte| *byte == 0) {
            let whole: Vec<u8> = self.rest.drain(..=end).collect();
            into.extend(renamed(&whole));
        }
        Ok(into.len() - before)
    }

    fn draw(&mut self) -> u64 {
        self.bench.draw()
    }

    fn describe(&self) -> String {
        "serial port /dev/rig".to_owned()
    }
}

/// A frame with the board's other name, where it says its name.
fn renamed(whole: &[u8]) -> Vec<u8> {
    let mut candidate = whole[..whole.len() - 1].to_vec();
    let Ok(read) = frame::decode(&mut candidate) else { return whole.to_vec() };
    let mut out = [0_u8; MAX_ENCODED + 1];
    let written = match read.message {
        Message::Reply(Reply::Identity(mut identity)) => {
            identity.board = BOARD.try_into().unwrap_or_default();
            frame::encode_reply(read.sequence, &Reply::Identity(identity), &mut out)
        }
        Message::Answered(boot, Reply::Identity(mut identity)) => {
            identity.board = BOARD.try_into().unwrap_or_default();
            frame::encode_answered(read.sequence, boot, &Reply::Identity(identity), &mut out)
        }
        _ => return whole.to_vec(),
    };
    written.map_or_else(|_| whole.to_vec(), <[u8]>::to_vec)
}
