//! The link when it is bad: a host that falls silent, is killed and comes back, rubbish, a flood, a cut, a plug pulled.

use crate::host::{Host, hold, parting, plan, rest, run};
use crate::machine::Machine;
use celltriage_link::{Link, LinkError, SerialLink};
use celltriage_protocol::event::{Event, Outcome, TripCause};
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::limits;
use celltriage_protocol::plan::Step;
use celltriage_protocol::reply::{Activity, Reject, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::Micros;
use celltriage_simulated_board::library;
use celltriage_simulated_board::options::{Imperfections, Options};
use celltriage_tests::Collector;
use std::time::Duration;

/// Bytes of rubbish: about what two seconds of the line could carry at 115,200 bit/s.
const FLOOD: u32 = 24_000;
const MILLISECOND: Micros = Micros::from_millis(1);

fn machine() -> Machine {
    let options = Options { initial_soc: 0.5, imperfections: Imperfections::NONE, ..Options::default() };
    Machine::with_cell(&library::sound(), &options)
}

/// Lets the fixture's time run ahead less. The fixture keeps two seconds of samples at 1 kHz for resending; a host that
/// is heard in real time asks within milliseconds, but here a request takes as long as the time runs ahead.
fn hurried_less(machine: Machine) -> Machine {
    machine.scene().pace.lead = Duration::from_millis(500);
    machine
}

/// Times of all samples of a step.
fn sample_times<'a>(events: impl IntoIterator<Item = &'a Event>, step: u8) -> Vec<u64> {
    let blocks = events.into_iter().filter_map(|event| match event {
        Event::Samples(block) if block.step == step => Some(block),
        _ => None,
    });
    blocks.flat_map(|block| block.samples().map(|sample| sample.at.get()).collect::<Vec<_>>()).collect()
}

/// Sees that a step of so many seconds sampled at 1 kHz has all its samples but the first and, at most, a few of which
/// each stands alone: a pass that also resends may take longer than a sample.
fn assert_whole<'a>(events: impl IntoIterator<Item = &'a Event>, step: u8, seconds: usize, may_lack: usize) {
    let times = sample_times(events, step);
    let expected = seconds * 1_000;
    assert!((expected - 1 - may_lack..=expected).contains(&times.len()), "{} samples", times.len());
    let odd: Vec<u64> =
        times.windows(2).map(|pair| pair[1] - pair[0]).filter(|distance| *distance != 1_000).collect();
    assert!(odd.len() <= 2 * may_lack && odd.iter().all(|distance| *distance < 2_500), "gaps: {odd:?}");
}

#[test]
fn a_silent_host_gets_the_load_dropped() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 60, Micros::from_millis(10))]));
    host.stay_until("the load", |events| {
        events.values().any(|event| matches!(event, Event::StepStarted { step: 1, .. }))
    });
    // Not a word from here on; the last one was heard before now. Nobody is held up here, so it need not take long.
    machine.scene().pace.slowness = 2;
    machine.wait_for("the drop of the load", |scene| scene.fell_ns().is_some());
    let fell = Micros::new(machine.scene().fell_ns().unwrap_or_default() / 1_000);
    assert_eq!(host.finish(), Outcome::Tripped);
    let trip = host.events.values().find_map(|event| match event {
        Event::Tripped(trip) => Some(*trip),
        _ => None,
    });
    let trip = trip.expect("a trip is told");
    assert_eq!(trip.cause, TripCause::HostSilent);
    let silence = limits::HOST_SILENCE.get();
    assert!(
        (silence as i64..silence as i64 + 11_000).contains(&trip.value),
        "judged within a sample: {trip:?}"
    );
    assert!(fell.saturating_sub(trip.at) <= MILLISECOND, "{fell} {trip:?}");
    // It is here again.
    assert_eq!(host.ask(&Request::AcknowledgeTrip { trip: trip.number }), Reply::Done);
}

#[test]
fn a_host_that_is_killed_and_comes_back_loses_nothing() {
    let machine = hurried_less(machine());
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(1_000, 20, MILLISECOND), rest(1)]));
    let half_a_request = {
        let mut buffer = [0; MAX_ENCODED + 1];
        frame::encode_request(99, &Request::ReadState, &mut buffer).expect("it fits").to_vec()
    };
    // Killed again and again, each time after another number of bytes of a request, for the whole length of it.
    for cut in 0..half_a_request.len() {
        let count = host.events.len();
        host.stay_until("more events", |events| events.len() > count);
        host.send(&half_a_request[..cut]);
        host = host.come_back(&machine);
        match host.ask(&Request::ReadState) {
            Reply::State(state) => assert_eq!(state.trip, None),
            other => panic!("{other:?}"),
        }
        host.fill_gaps();
    }
    assert_eq!(host.finish(), Outcome::Complete);
    host.fill_gaps();
    assert_whole(host.events.values(), 1, 20, half_a_request.len());
    let told = host.events.values().rev().find_map(|event| match event {
        Event::StepEnded { charge: Ok(charge), .. } => Some(charge.get() as f64 / 1e6),
        _ => None,
    });
    let told = told.expect("the charge is told");
    let truth = machine.scene().bench.truth().expect("a cell").charge_out_c;
    // 20 C flowed; two changes of settings lose less than a conversion of 10 ms at 1 A each.
    assert!((told - truth).abs() < 0.02 && truth > 19.9, "told {told} C, truly {truth} C");
}

/// A link that spoils bytes in both directions.
struct Spoiled {
    link: SerialLink,
    every: usize,
    count: usize,
}

impl Spoiled {
    fn spoil(&mut self, bytes: &mut [u8]) {
        for byte in bytes {
            self.count += 1;
            if self.count.is_multiple_of(self.every) {
                *byte ^= 0x5A;
            }
        }
    }
}

impl Link for Spoiled {
    fn send(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut bytes = bytes.to_vec();
        self.spoil(&mut bytes);
        self.link.send(&bytes)
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> Result<usize, LinkError> {
        let before = into.len();
        let count = self.link.receive(into, wait)?;
        self.spoil(&mut into[before..]);
        Ok(count)
    }

    fn draw(&mut self) -> u64 {
        self.link.draw()
    }

    fn describe(&self) -> String {
        "spoiled link".to_owned()
    }
}

#[test]
fn what_rubbish_on_the_line_spoils_is_had_by_asking_again() {
    let machine = hurried_less(machine());
    // Each request and each try to have the same events again lets the time run ahead once more.
    machine.scene().pace.lead = Duration::from_millis(100);
    let mut host = Host::over(Spoiled { link: machine.link(), every: 1_801, count: 0 });
    host.start(&plan(&[rest(2), hold(600, 10, MILLISECOND), rest(1)]));
    assert_eq!(host.finish_without_gaps(), Outcome::Complete);
    // While it resends, the fixture takes samples late, and says so; on a busy computer it has to resend often.
    assert_whole(host.events.values(), 1, 10, 1_000);
}

#[test]
fn a_host_that_does_not_read_is_told_what_is_gone_and_gets_the_rest() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 12, MILLISECOND), rest(1)]));
    host.stay_until("the load", |events| !sample_times(events.values(), 1).is_empty());
    // The system's buffers fill up, then the fixture's own: its oldest events have to go.
    let until_ns = machine.scene().now_ns + 8_000_000_000;
    while machine.scene().now_ns < until_ns {
        host.say(&Request::KeepAlive);
        // Not faster: what a held-up emulator has not yet taken must find room in the system's buffer.
        std::thread::sleep(Duration::from_millis(20));
    }
    assert_eq!(host.finish(), Outcome::Complete);
    let missing = host.first_missing().expect("some events are gone");
    match host.ask(&Request::ResendFrom { sequence: missing }) {
        Reply::Rejected(reject) => assert_eq!(reject.cause, RejectCause::Gone),
        other => panic!("{other:?}"),
    }
    let told = host.events.values().rev().find_map(|event| match event {
        Event::StepEnded { charge: Ok(charge), .. } => Some(charge.get() as f64 / 1e6),
        _ => None,
    });
    // 7.2 C flowed: the counted charge does not depend on what was heard.
    assert!(told.is_some_and(|told| (told - 7.2).abs() < 0.03), "{told:?}");
}

#[test]
fn a_mean_ends_where_a_sample_comes_late() {
    let machine = machine();
    let mut host = Host::new(&machine);
    let averaged = Step { report_every: 7, ..hold(600, 20, MILLISECOND) };
    host.start(&plan(&[rest(2), averaged]));
    host.stay_until("means", |events| !sample_times(events.values(), 1).is_empty());
    // More than a quarter of the period, some times: not each sleep ends with a sample.
    for _ in 0..10 {
        machine.scene().oversleep_ns = 600_000;
        machine.wait_for("too long a sleep", |scene| scene.oversleep_ns == 0);
        let _word = host.say(&Request::KeepAlive);
    }
    assert_eq!(host.finish(), Outcome::Complete);
    host.fill_gaps();
    let times = sample_times(host.events.values(), 1);
    let odd = times.windows(2).filter(|pair| pair[1] - pair[0] != 7_000).count();
    // Each time the mean that was cut short, the one after it, and perhaps the next; and perhaps the step's last.
    assert!((1..=31).contains(&odd) && times.len() > 20_000 / 7, "{odd} of {}", times.len());
}

#[test]
fn a_flood_does_not_keep_the_fixture_from_sampling() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 10, MILLISECOND), rest(1)]));
    host.stay_until("half a second of load", |events| sample_times(events.values(), 1).len() > 500);
    // Never a zero, so what the host says is all that ends a frame; each piece nearly fills the system's buffer.
    let flood: Vec<u8> = (0..FLOOD).map(|k| (k.wrapping_mul(2_654_435_761) >> 24) as u8 | 1).collect();
    for piece in flood.chunks(3_000) {
        host.send(piece);
        // On a busy machine the plan may be over before the flood is; whether it was whole is looked at below.
        let over = |reject: &Reject| reject.cause == RejectCause::NoRun;
        let answer = host.ask(&Request::KeepAlive);
        assert!(
            matches!(&answer, Reply::Done) || matches!(&answer, Reply::Rejected(reject) if over(reject)),
            "{answer:?}"
        );
    }
    let during = sample_times(host.events.values(), 1).len() - 500;
    println!("{FLOOD} bytes of rubbish, {during} samples told meanwhile");
    assert_eq!(host.finish(), Outcome::Complete);
    host.fill_gaps();
    assert_whole(host.events.values(), 1, 10, 0);
}

#[test]
fn a_fixture_whose_plug_is_pulled_is_told_and_starts_anew() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 60, MILLISECOND)]));
    host.stay_until("the load", |events| !sample_times(events.values(), 1).is_empty());
    assert!(machine.scene().bench.load_is_on());
    let scene = machine.unplug();
    let gone = parting(host);
    assert!(matches!(gone, LinkError::Gone { .. }), "the host sees that the fixture is gone: {gone:?}");
    let machine = Machine::power_up(scene);
    assert!(!machine.scene().bench.load_is_on());
    let mut again = Host::new(&machine);
    match again.ask(&Request::ReadState) {
        Reply::State(state) => {
            assert_eq!((state.activity, state.load_on, state.next_event), (Activity::Idle, false, 0))
        }
        other => panic!("{other:?}"),
    }
    let mut watch = Collector::default();
    drop(again);
    let end = run(&machine, &plan(&[rest(2), hold(600, 1, MILLISECOND)]), &mut watch);
    assert_eq!(end.outcome, Outcome::Complete);
}
