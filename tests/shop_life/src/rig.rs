//! The line to the shop's fixture, which calls itself another board, so that the book takes its cells for real ones. What goes wrong
//! on the line and with the program goes wrong here.

use crate::fixture::Fixture;
use crate::mishap::Mishap;
use celltriage_instrument::simulated;
use celltriage_link::{Link, LinkError, Reopened};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::reply::Reply;
use std::time::Duration;

/// What the board calls itself here.
const BOARD: &str = "rig";
/// Time in which the load must be off once its owner is gone (the silence that is allowed, and a sample), or once something is
/// wrong that the guard has to see.
pub const OFF_WITHIN: Duration = Duration::from_millis(3_100);

/// The line to it.
pub struct Rig {
    fixture: Fixture,
    mishap: Option<Mishap>,
    received: u32,
    heard: u32,
    is_broken: bool,
    rest: Vec<u8>,
    drawn: u64,
}

impl Rig {
    pub const fn new(fixture: Fixture, mishap: Option<Mishap>) -> Self {
        Self { fixture, mishap, received: 0, heard: 0, is_broken: false, rest: Vec::new(), drawn: 0 }
    }

    fn gone(&self) -> LinkError {
        LinkError::Gone { link: self.describe(), reason: "the line was cut".to_owned() }
    }

    /// Counts a reception, and lets happen what is to happen now.
    fn goes_on(&mut self) -> Result<(), LinkError> {
        self.received = self.received.saturating_add(1);
        match self.mishap {
            Some(Mishap::Killed(after)) if self.received >= u32::from(after) => {
                self.is_broken = true;
                self.fixture.cut_off();
            }
            Some(Mishap::Restarts(at)) if self.received == u32::from(at) => self.fixture.power_cycle(),
            Some(Mishap::Unplugged(at, ms)) if self.received == u32::from(at) => {
                self.is_broken = true;
                let out = Duration::from_millis(u64::from(ms));
                self.fixture.pass(out.min(OFF_WITHIN));
                if out >= OFF_WITHIN {
                    self.fixture.no_current("3.1 s after the plug was pulled");
                    self.fixture.pass(out - OFF_WITHIN);
                }
            }
            _ => {}
        }
        if self.is_broken { Err(self.gone()) } else { Ok(()) }
    }

    /// Takes away the bytes that are lost.
    fn lose(&mut self, from: usize) {
        let Some(Mishap::Noisy(one_of)) = self.mishap else { return };
        let heard = &mut self.heard;
        let mut at = 0;
        self.rest.retain(|_| {
            at += 1;
            if at <= from {
                return true;
            }
            *heard = heard.wrapping_add(1);
            !heard.is_multiple_of(u32::from(one_of.max(2)))
        });
    }
}

impl Link for Rig {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        if self.is_broken {
            return Err(self.gone());
        }
        self.fixture.send(bytes);
        Ok(())
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        self.goes_on()?;
        let (before, held) = (into.len(), self.rest.len());
        self.fixture.receive(&mut self.rest, wait);
        self.lose(held);
        if let Some((fault, after)) = self.mishap.and_then(Mishap::for_the_guard_at_once)
            && self.fixture.now() > Duration::from_secs(u64::from(after)) + OFF_WITHIN
        {
            self.fixture.no_current(&format!("more than 3.1 s after {fault:?} began"));
        }
        let whole = self.rest.iter().rposition(|byte| *byte == 0).map_or(0, |last| last + 1);
        for frame in self.rest[..whole].split_inclusive(|byte| *byte == 0) {
            // Nearly all frames are samples: only one with the name in it is decoded.
            match says_a_name(frame) {
                true => into.extend(renamed(frame)),
                false => into.extend_from_slice(frame),
            }
        }
        self.rest.drain(..whole);
        Ok(into.len() - before)
    }

    /// The same numbers on every bench, so that the same seed gives the same bytes.
    fn draw(&mut self) -> u64 {
        self.drawn = self.drawn.wrapping_add(1);
        // Spread over all bits (the multiplier of a 64-bit linear congruential generator).
        self.drawn.wrapping_mul(6_364_136_223_846_793_005).rotate_left(29)
    }

    fn describe(&self) -> String {
        "serial port /dev/rig".to_owned()
    }

    fn reopen(&mut self, _: u64) -> Result<Reopened, LinkError> {
        if !matches!(self.mishap, Some(Mishap::Unplugged(..))) {
            return Ok(Reopened::Never);
        }
        self.is_broken = false;
        self.rest.clear();
        Ok(Reopened::Yes)
    }
}

fn says_a_name(frame: &[u8]) -> bool {
    frame.windows(simulated::BOARD.len()).any(|part| part == simulated::BOARD.as_bytes())
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
