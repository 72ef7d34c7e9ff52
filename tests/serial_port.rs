//! The serial link over a real pseudo-terminal, with the simulated fixture at its other end in a thread of its own.
//!
//! The fixture's clock runs ahead as fast as the host listens; the host paces its keep-alives by the fixture's time. On a
//! busy machine the host may not get its turn for longer than the fixture bears its silence: the clock then waits for it,
//! up to a real time after which the host is taken for dead and the guard for what it is.

use celltriage_link::{
    Attendant, Client, Link, LinkError, Recorder, RunEnd, RunEvent, SerialLink, read_recording,
};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::frame::{self, Message};
use celltriage_protocol::limits;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::{fixture::SimulatedFixture, library};
use celltriage_tests::{Collector, NOON, Shop, samples, short_plan};
use serialport::{SerialPort, TTYPort};
use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The far end of the line: a thread that plays the fixture, and may garble what it sends.
struct FarEnd {
    port: String,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _slave: TTYPort,
}

/// The fixture's clock runs in steps of this length.
const STEP: Micros = Micros::from_millis(20);
/// So far the fixture's clock runs without a word from the host: half of what its guard bears.
const AHEAD: Micros = Micros::new(limits::HOST_SILENCE.get() / 2);
/// A host that is silent for so much real time is no slow one; the host's own patience is shorter by far.
const PATIENCE: Duration = Duration::from_secs(20);

impl FarEnd {
    fn start(garble_every: Option<usize>) -> Self {
        Self::with_patience(garble_every, PATIENCE)
    }

    fn with_patience(garble_every: Option<usize>, patience: Duration) -> Self {
        let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
        let port = slave.name().expect("a pseudo-terminal has a name");
        let quit = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&quit);
        let thread = std::thread::spawn(move || {
            let cell = library::sound();
            let options = cell.options(11);
            let mut fixture = SimulatedFixture::new(cell.parameters, options);
            master.set_timeout(Duration::from_millis(1)).expect("a time-out");
            let (mut buffer, mut out, mut sent) = ([0u8; 512], Vec::new(), 0usize);
            let (mut heard, mut alone) = (Instant::now(), Micros::ZERO);
            while !ended.load(Ordering::Relaxed) {
                match master.read(&mut buffer) {
                    Ok(count) => {
                        fixture.send(&buffer[..count]);
                        (heard, alone) = (Instant::now(), Micros::ZERO);
                    }
                    Err(error) if error.kind() == ErrorKind::TimedOut => {}
                    Err(_) => break,
                }
                if alone >= AHEAD && heard.elapsed() < patience {
                    continue;
                }
                out.clear();
                fixture.receive(STEP, &mut out);
                alone = alone.saturating_add(STEP);
                for byte in &mut out {
                    sent += 1;
                    if garble_every.is_some_and(|every| sent.is_multiple_of(every)) {
                        *byte ^= 0x5A;
                    }
                }
                if !sent_whole(&mut master, &out, &ended) {
                    break;
                }
            }
        });
        Self { port, quit, thread: Some(thread), _slave: slave }
    }
}

/// Sends all bytes; a line that is full waits for its reader. Returns whether it is still there.
fn sent_whole(master: &mut TTYPort, mut bytes: &[u8], ended: &AtomicBool) -> bool {
    while !bytes.is_empty() && !ended.load(Ordering::Relaxed) {
        match master.write(bytes) {
            Ok(count) => bytes = bytes.get(count..).unwrap_or_default(),
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock) => {}
            Err(_) => return false,
        }
    }
    true
}

impl Drop for FarEnd {
    fn drop(&mut self) {
        self.quit.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the far end ends well");
        }
    }
}

fn run(port: &str, watch: &mut Collector) -> Result<RunEnd, LinkError> {
    let (mut client, identity, _) = Client::connect(SerialLink::open(port)?)?;
    assert_eq!(identity.board.as_str(), "simulated");
    client.run(&short_plan(1_000), watch)
}

#[test]
fn a_whole_plan_runs_over_a_serial_port() {
    let far = FarEnd::start(None);
    let mut watch = Collector::default();
    let end = run(&far.port, &mut watch).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Complete, trip: None });
    // 3 s at 1 kHz; a millisecond at each change of settings may be told as missing.
    let count = samples(&watch.events);
    assert!((2_990..=3_060).contains(&count), "{count} samples");
}

#[test]
fn damage_on_the_line_is_mended_by_asking_again() {
    let clean = {
        let far = FarEnd::start(None);
        let mut watch = Collector::default();
        run(&far.port, &mut watch).expect("the clean run ends well");
        samples(&watch.events)
    };
    let far = FarEnd::start(Some(1_777));
    let mut watch = Collector::default();
    let end = run(&far.port, &mut watch).expect("the damaged run ends well");
    assert_eq!(end.outcome, Outcome::Complete);
    assert_eq!(samples(&watch.events), clean, "no sample may be lost to a garbled byte in 1,777");
}

#[test]
fn a_person_who_stops_gets_the_load_off_and_a_stopped_plan() {
    let far = FarEnd::start(None);
    let mut watch = Collector { stop_after: Some(30), ..Collector::default() };
    let end = run(&far.port, &mut watch).expect("the run ends well");
    assert_eq!(end, RunEnd { outcome: Outcome::Stopped, trip: None });
    let (mut client, _, state) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    assert!(!state.load_on, "load off after a stop");
    assert!(matches!(client.ask(&Request::KeepAlive), Ok(Reply::Done)));
}

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
        let asks =
            frame.is_ok_and(|frame| matches!(frame.message, Message::Request(Request::ResendFrom { .. })));
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
        run(&far.port, &mut watch).expect("the clean run ends well");
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

/// The far end waits for a slow host, and for no dead one.
#[test]
fn a_host_that_falls_silent_in_a_run_is_a_trip() {
    let far = FarEnd::with_patience(None, Duration::from_millis(300));
    let (mut client, _, _) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    let plan = short_plan(100_000);
    client.ask(&Request::LoadPlan(plan.clone())).expect("loaded");
    client.ask(&Request::Start { plan: plan.number }).expect("started");
    drop(client);
    std::thread::sleep(Duration::from_secs(2));
    let (_, _, state) =
        Client::connect(SerialLink::open(&far.port).expect("the port opens")).expect("connects");
    assert_eq!(state.trip.map(|trip| trip.cause), Some(TripCause::HostSilent), "{state:?}");
    assert!(!state.load_on);
}

#[test]
fn a_port_that_is_not_there_is_said_so() {
    match SerialLink::open("/dev/no-such-port") {
        Err(LinkError::Open { port, .. }) => assert_eq!(port, "/dev/no-such-port"),
        other => panic!("{:?}", other.map(|_| ())),
    }
}

#[test]
fn a_port_with_somebody_else_behind_it_is_not_taken_for_a_fixture() {
    let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let quit = Arc::new(AtomicBool::new(false));
    let ended = Arc::clone(&quit);
    let babbler = std::thread::spawn(move || {
        while !ended.load(Ordering::Relaxed) {
            if master.write_all(b"login: \0\r\n").is_err() {
                break;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    });
    let error =
        Client::connect(SerialLink::open(&name).expect("opens")).map(|_| ()).expect_err("not a fixture");
    quit.store(true, Ordering::Relaxed);
    drop(slave);
    babbler.join().expect("the babbler ends");
    assert!(matches!(error, LinkError::NotOurs { .. }), "{error:?}");
}

#[test]
fn a_silent_port_is_told_from_a_fixture() {
    let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let error = Client::connect(SerialLink::open(&name).expect("opens")).map(|_| ()).expect_err("silent");
    assert!(matches!(error, LinkError::Silent { asked: "identify", .. }), "{error:?}");
}

#[test]
fn a_fixture_unplugged_in_the_middle_leaves_a_recorded_unfinished_cell() {
    let shop = Shop::new();
    let far = FarEnd::start(None);
    let quit = Arc::clone(&far.quit);
    let unplug = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(1_500));
        quit.store(true, Ordering::Relaxed);
    });
    let call = shop.call(
        NOON,
        &[
            "assess",
            "--id",
            "PE-9",
            "--port",
            &far.port,
            "--no-signs",
            "--thickness-mm",
            "3.2",
            "--rated-capacity-ah",
            "3.0",
            "--charge-limit-v",
            "4.35",
            "--end-of-discharge-v",
            "3.0",
            "--nominal-thickness-mm",
            "3.2",
            "--extent",
            "full",
        ],
        None,
    );
    unplug.join().expect("unplugged");
    assert_eq!(call.code, 4, "{}\n{}", call.out, call.err);
    let book = shop.open();
    let entry = book.entry(1).expect("readable").expect("there is an entry");
    assert_eq!(entry.fate.as_deref(), Some("quarantine"));
    assert!(book.recordings_of(1).expect("readable")[0].length > 1_000, "what came before is kept");
}
