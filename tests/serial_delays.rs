//! A serial line that swallows frames, and a host that does not get its turn: nothing is lost and no silence is invented.

use celltriage_link::{
    Attendant, Client, Link, LinkError, Recorder, RunEnd, RunEvent, SerialLink, read_recording,
};
use celltriage_protocol::event::Outcome;
use celltriage_protocol::frame::{self, Message};
use celltriage_protocol::request::Request;
use celltriage_tests::{Collector, FarEnd, PATIENCE, samples, short_plan};
use std::time::{Duration, Instant};

/// A link that swallows one event under load and the first request for what is missing.
struct Swallowing {
    link: SerialLink,
    waiting: Vec<u8>,
    event: Option<u32>,
    request: bool,
}

impl Link for Swallowing {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut candidate = bytes.strip_suffix(&[0]).unwrap_or(bytes).to_vec();
        let frame = frame::decode(&mut candidate);
        let asks = frame
            .is_ok_and(|frame| matches!(frame.message.bare(), Message::Request(Request::ResendFrom { .. })));
        if asks && std::mem::take(&mut self.request) { Ok(()) } else { self.link.send(bytes) }
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        self.link.receive(&mut self.waiting, wait)?;
        let before = into.len();
        while let Some(end) = self.waiting.iter().position(|byte| *byte == 0) {
            let whole: Vec<u8> = self.waiting.drain(..=end).collect();
            let frame = frame::decode(&mut whole[..end].to_vec());
            let event = frame.is_ok_and(|frame| {
                matches!(frame.message, Message::Event(_)) && Some(frame.sequence) == self.event
            });
            if event {
                self.event = None;
            } else {
                into.extend(whole);
            }
        }
        Ok(into.len() - before)
    }

    fn draw(&mut self) -> u64 {
        self.link.draw()
    }

    fn describe(&self) -> String {
        self.link.describe()
    }
}

#[test]
fn an_event_lost_together_with_the_request_for_it_is_asked_for_again() {
    // The last event of the plan; nothing follows that would show the gap.
    let last = {
        let far = FarEnd::start(None);
        let mut watch = Collector::default();
        let (mut client, ..) =
            Client::connect(SerialLink::open(&far.port).expect("opens")).expect("connects");
        client.run(&short_plan(1_000), &mut watch).expect("the clean run ends well");
        read_recording(&watch.frames).events.last().expect("events").0
    };
    for event in [30, last] {
        let far = FarEnd::start(None);
        let link = SerialLink::open(&far.port).expect("the port opens");
        let link = Swallowing { link, waiting: Vec::new(), event: Some(event), request: true };
        let (mut client, ..) = Client::connect(link).expect("connects");
        let mut watch = Collector::default();
        let began = Instant::now();
        let end = client.run(&short_plan(1_000), &mut watch).expect("the run ends well");
        assert_eq!(end.outcome, Outcome::Complete, "event {event}");
        let numbers: Vec<u32> =
            read_recording(&watch.frames).events.iter().map(|(number, _)| *number).collect();
        assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] + 1), "event {event}: {numbers:?}");
        assert!(began.elapsed() < PATIENCE, "event {event}");
    }
}

/// A host that does not get its turn for a while, twice.
#[derive(Default)]
struct Drowsy {
    inner: Collector,
    seen: usize,
}

impl Attendant<RunEvent> for Drowsy {
    fn sees(&mut self, event: &RunEvent) {
        self.seen += 1;
        if matches!(self.seen, 5 | 40) {
            std::thread::sleep(Duration::from_secs(1));
        }
        self.inner.sees(event);
    }

    fn stop_wanted(&self) -> bool {
        self.inner.stop_wanted()
    }
}

impl Recorder for Drowsy {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.inner.keep(frame)
    }
}

#[test]
fn a_host_that_does_not_get_its_turn_for_a_second_is_not_taken_for_silent() {
    let far = FarEnd::start(None);
    let (mut client, _, _) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    let mut watch = Drowsy::default();
    let end = client.run(&short_plan(1_000), &mut watch).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Complete, trip: None });
    assert!(watch.seen > 40 && (2_990..=3_060).contains(&samples(&watch.inner.events)), "{}", watch.seen);
}
