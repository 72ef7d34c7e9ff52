//! Another host at the same fixture: it overhears the first one, keeps its request numbers ahead of it, and says whatever a
//! program may say by mistake, but stop.

use crate::short_plan;
use celltriage_protocol::address::Address;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::frame::{self, MAX_ENCODED, Message};
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::{Kind, Request};
use celltriage_protocol::run::Token;
use celltriage_protocol::units::Micros;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The other host.
pub struct Stranger {
    random: ChaCha8Rng,
    boot: u32,
    number: u32,
    sequence: u32,
}

impl Stranger {
    /// The same seed says the same.
    pub fn new(seed: u64) -> Self {
        Self { random: ChaCha8Rng::seed_from_u64(!seed), boot: 1, number: 0, sequence: 1 << 30 }
    }

    /// Hears what the first host says: addresses and numbers can be read by anybody.
    pub fn overhears(&mut self, bytes: &[u8]) {
        let mut candidate = bytes.strip_suffix(&[0]).unwrap_or(bytes).to_vec();
        if let Ok(frame) = frame::decode(&mut candidate)
            && let Message::Addressed(address, _) = frame.message
        {
            self.boot = address.boot;
            self.number = self.number.max(address.number);
        }
    }

    /// Returns the next words, as bytes.
    pub fn says(&mut self) -> Vec<u8> {
        let token = Token(self.random.random());
        let plan = short_plan(10_000);
        let loading = self.random.random_range(0..4);
        let request = match self.random.random_range(0..16) {
            0 => Request::Identify,
            1 => Request::Describe,
            2 => Request::ReadState,
            3 => Request::ResendFrom { sequence: self.random.random_range(0..60) },
            4 => Request::ReadCalibration,
            5 => Request::KeepAlive,
            6 => Request::LoadPlan(plan),
            7 => Request::Start { plan: plan.number },
            8 => Request::Load(CellPlan::from(&plan)),
            9 => Request::StartRun { plan: plan.number, loading, token },
            10 => Request::KeepRunning { token },
            11 => Request::Resume { token },
            12 => Request::AcknowledgeTrip { trip: 1 },
            13 => Request::EnterBootLoader,
            14 => Request::ReadTaps,
            _ => return self.words_of_the_fixture(),
        };
        self.sequence += 1;
        self.number += u32::from(request.kind() == Kind::Act);
        let mut out = [0; MAX_ENCODED + 1];
        let is_bare = request.kind() == Kind::Unowned || self.random.random_range(0..4) == 0;
        let words = if is_bare {
            frame::encode_request(self.sequence, &request, &mut out)
        } else {
            let address = Address { boot: self.boot, number: self.number };
            frame::encode_addressed(self.sequence, address, &request, &mut out)
        };
        words.expect("it fits").to_vec()
    }

    /// A looped line: what a fixture would say.
    fn words_of_the_fixture(&mut self) -> Vec<u8> {
        let mut out = [0; MAX_ENCODED + 1];
        let sequence = self.random.random_range(0..100);
        let words = match self.random.random_range(0..3) {
            0 => frame::encode_reply(sequence, &Reply::Done, &mut out),
            1 => frame::encode_answered(sequence, self.boot, &Reply::Done, &mut out),
            _ => {
                let at = Micros::from_secs(1);
                let end = Event::PlanEnded { plan: 42, at, outcome: Outcome::Complete };
                frame::encode_event(sequence, &end, &mut out)
            }
        };
        words.expect("it fits").to_vec()
    }
}
