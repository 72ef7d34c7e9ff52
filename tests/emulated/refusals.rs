//! Everything that the fixture refuses, asked for over the link: the cause is reported, and nothing has changed.

use crate::host::{Host, hold, plan, rest, step};
use crate::machine::Machine;
use celltriage_protocol::block::BlockWriter;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::event::{Event, Outcome, Sensor, StepEnd, Trip, TripCause};
use celltriage_protocol::frame::{self, MAX_ENCODED};
use celltriage_protocol::limits;
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::reply::{Activity, Reject, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{MicroAmps, MicroVolts, Micros, MilliCelsius, NoData};
use celltriage_simulated_board::library;
use celltriage_tests::foreign_frame;
use std::time::Duration;

const PERIOD: Micros = Micros::from_millis(10);

fn machine() -> Machine {
    let cell = library::sound();
    Machine::with_cell(&cell, &cell.options(5))
}

/// Returns why a request was refused.
fn refusal(host: &mut Host, request: &Request) -> Reject {
    match host.ask(request) {
        Reply::Rejected(reject) => reject,
        other => panic!("{request:?} was answered with {other:?}"),
    }
}

fn with_bounds(step: Step, change: impl Fn(&mut Bounds)) -> Step {
    let mut step = step;
    change(&mut step.bounds);
    step
}

fn discharge(milliamps: i32, floor: MicroVolts) -> Step {
    let current = MicroAmps::from_milliamps(milliamps);
    step(Action::Discharge { current, floor }, 60, PERIOD)
}

/// Plans that break one rule each.
fn bad_plans() -> Vec<(RejectCause, Plan)> {
    let load = hold(600, 1, PERIOD);
    let floor = limits::LOWEST_PLAN_FLOOR;
    let below_floor = MicroVolts::new(floor.get() - 1);
    let too_long = Micros::new(limits::LONGEST_STEP.get() + 1);
    let period = |step: Step, period: u32| Step { sample_period_us: period, ..step };
    let charge_limit =
        |millivolts| Plan { charge_limit: MicroVolts::from_millivolts(millivolts), ..plan(&[rest(1)]) };
    let hot = MilliCelsius::new(limits::HOTTEST.get() + 1);
    let rising = MilliCelsius::new(limits::LARGEST_RISE.get() + 1);
    vec![
        (RejectCause::EmptyPlan, plan(&[])),
        (RejectCause::ChargeLimit, charge_limit(3_499)),
        (RejectCause::ChargeLimit, charge_limit(4_551)),
        (RejectCause::SamplePeriod, plan(&[period(rest(1), limits::SHORTEST_PERIOD_US - 1)])),
        (RejectCause::SamplePeriod, plan(&[period(rest(9), limits::LONGEST_REST_PERIOD_US + 1)])),
        (RejectCause::SamplePeriod, plan(&[period(load, limits::LONGEST_LOADED_PERIOD_US + 1)])),
        (RejectCause::Duration, plan(&[Step { duration: Micros::new(9_999), ..rest(1) }])),
        (RejectCause::Duration, plan(&[Step { duration: too_long, ..rest(1) }])),
        (RejectCause::Duration, plan(&[load, Step { duration: Micros::from_millis(60), ..rest(1) }, load])),
        (RejectCause::ReportEvery, plan(&[Step { report_every: 0, ..rest(1) }])),
        (RejectCause::ReportEvery, plan(&[Step { report_every: 101, ..rest(1) }])),
        (RejectCause::Temperature, plan(&[with_bounds(rest(1), |b| b.highest_temperature = hot)])),
        (RejectCause::Temperature, plan(&[with_bounds(rest(1), |b| b.highest_rise = rising)])),
        (RejectCause::LowestVoltage, plan(&[with_bounds(load, |b| b.lowest_voltage = below_floor)])),
        (RejectCause::LowestVoltage, plan(&[discharge(600, below_floor)])),
        (RejectCause::Current, plan(&[hold(14, 1, PERIOD)])),
        (RejectCause::Current, plan(&[hold(-600, 1, PERIOD)])),
        (RejectCause::Current, plan(&[hold(5_001, 1, PERIOD)])),
        (RejectCause::Current, plan(&[hold(2_000, 3, PERIOD)])),
        (RejectCause::Current, plan(&[hold(2_000, 1, PERIOD), hold(3_000, 2, PERIOD)])),
        (RejectCause::Current, plan(&[discharge(1_501, floor)])),
        (RejectCause::WatchOnly, Plan { permit: Permit::WatchOnly, ..plan(&[rest(1), load]) }),
    ]
}

#[test]
fn plans_that_ask_for_too_much_are_refused() {
    let machine = machine();
    let mut host = Host::new(&machine);
    for (cause, plan) in bad_plans() {
        let reject = refusal(&mut host, &Request::LoadPlan(plan.clone()));
        assert_eq!(reject.cause, cause, "{plan:?}: {reject:?}");
        let start = refusal(&mut host, &Request::Start { plan: plan.number });
        assert_eq!((start.cause, start.limit), (RejectCause::WrongPlan, 0), "{plan:?}: nothing was loaded");
    }
    assert_eq!(machine.scene().pin.len(), 0, "the load was never on");
}

#[test]
fn what_is_asked_at_the_wrong_time_is_refused() {
    let machine = machine();
    // A refused request does not count as a sign of life: on a busy computer, whose answers come late, the host must not seem silent.
    machine.scene().pace.lead = Duration::from_millis(100);
    let mut host = Host::new(&machine);
    let wrong_trip = refusal(&mut host, &Request::AcknowledgeTrip { trip: 1 });
    assert_eq!((wrong_trip.cause, wrong_trip.limit), (RejectCause::WrongTrip, 0));
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    let long = plan(&[rest(60), hold(600, 1, PERIOD)]);
    assert_eq!(host.ask(&Request::LoadPlan(long.clone())), Reply::Done);
    let wrong_plan = refusal(&mut host, &Request::Start { plan: 7 });
    assert_eq!((wrong_plan.cause, wrong_plan.asked, wrong_plan.limit), (RejectCause::WrongPlan, 7, 1));
    assert_eq!(host.ask(&Request::Start { plan: 1 }), Reply::Done);
    for request in
        [Request::LoadPlan(long), Request::Start { plan: 1 }, Request::Calibrate(Calibration::default())]
    {
        assert_eq!(refusal(&mut host, &request).cause, RejectCause::Busy, "{request:?}");
    }
    let gone = refusal(&mut host, &Request::ResendFrom { sequence: 1_000_000 });
    assert_eq!((gone.cause, gone.limit), (RejectCause::Gone, 0));
    // Stopped before its first step, it has ended as well.
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    assert_eq!(host.finish(), Outcome::Stopped);
    let over = refusal(&mut host, &Request::Start { plan: 1 });
    assert_eq!((over.cause, over.limit), (RejectCause::WrongPlan, 0), "a plan runs once");
    match host.ask(&Request::ReadState) {
        Reply::State(state) => assert_eq!((state.activity, state.load_on), (Activity::Idle, false)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn calibrations_that_cannot_be_believed_or_kept_are_refused() {
    let machine = machine();
    let mut host = Host::new(&machine);
    let wild = [
        Channel { gain_ppm: 30_001, offset: 0 },
        Channel { gain_ppm: 0, offset: 20_001 },
        Channel { gain_ppm: i32::MIN, offset: i32::MIN },
    ];
    for channel in wild {
        let calibration = Calibration { voltage: channel, ..Calibration::default() };
        let reject = refusal(&mut host, &Request::Calibrate(calibration));
        assert_eq!(reject.cause, RejectCause::Calibration, "{reject:?}");
    }
    machine.scene().flash_refuses = true;
    let good = Calibration { number: 3, ..Calibration::default() };
    assert_eq!(refusal(&mut host, &Request::Calibrate(good)).cause, RejectCause::Store);
    assert_eq!(host.ask(&Request::ReadCalibration), Reply::Calibration(Calibration::default()));
    machine.scene().flash_refuses = false;
    assert_eq!(host.ask(&Request::Calibrate(good)), Reply::Done);
    assert_eq!(host.ask(&Request::ReadCalibration), Reply::Calibration(good));
}

/// Returns a frame as another build may send it, after a zero that ends whatever came before.
fn foreign(version: u8, channel: u8, sequence: u32, body: &[u8]) -> Vec<u8> {
    [vec![0], foreign_frame(version, channel, sequence, body)].concat()
}

/// Sends a request that the fixture cannot read, and sees that it says so.
fn assert_unreadable(host: &mut Host, version: u8, number: u32, body: &[u8]) {
    host.send(&foreign(version, 1, number, body));
    let reply = host.reply_to(number);
    assert!(matches!(reply, Reply::Rejected(reject) if reject.cause == RejectCause::Unreadable), "{reply:?}");
}

/// Takes the byte stuffing off: each length byte stands for a zero after so many bytes.
fn unstuffed(wire: &[u8]) -> Vec<u8> {
    let (mut plain, mut rest) = (Vec::new(), wire);
    while let [length, after @ ..] = rest {
        let count = usize::from(*length) - 1;
        plain.extend(&after[..count]);
        rest = &after[count..];
        if !rest.is_empty() && *length < 255 {
            plain.push(0);
        }
    }
    plain
}

/// What a fixture says, come back to it: a looped line.
fn own_words() -> Vec<Vec<u8>> {
    let at = Micros::from_millis(5);
    let trip = Trip { number: 1, cause: TripCause::ContactLost, value: -1, limit: 1, at };
    let mut block = BlockWriter::new(0, at, 1_000);
    for sample in 0..3 {
        block.push(MicroVolts::new(4_000_000 - sample), MicroAmps::new(sample)).expect("there is room");
    }
    let events = [
        Event::Samples(block.finish(Ok(MilliCelsius::new(1)), Err(NoData::Stale), Err(NoData::NotYet))),
        Event::PlanStarted { plan: 1, at },
        Event::StepStarted { step: 1, at },
        Event::StepEnded { step: 1, at, cause: StepEnd::Floor, charge: Err(NoData::NoAnswer) },
        Event::PlanEnded { plan: 1, at, outcome: Outcome::Bounded },
        Event::Tripped(trip),
        Event::Missing { sensor: Sensor::Charge, at, cause: NoData::OutOfRange },
    ];
    let reject = Reject { cause: RejectCause::Gone, asked: 1, limit: -1 };
    let replies = [Reply::Done, Reply::Rejected(reject), Reply::Resending { from: 1, through: 2 }];
    let mut wire = [0; MAX_ENCODED + 1];
    let mut words: Vec<Vec<u8>> = events
        .iter()
        .map(|event| frame::encode_event(9, event, &mut wire).expect("it fits").to_vec())
        .collect();
    words.extend(
        replies.iter().map(|reply| frame::encode_reply(9, reply, &mut wire).expect("it fits").to_vec()),
    );
    words
}

#[test]
fn what_cannot_be_read_is_refused_and_what_is_no_request_is_passed_over() {
    let machine = machine();
    let mut host = Host::new(&machine);
    for (number, version) in [(70_001, 1), (70_002, 250), (70_003, 0)] {
        assert_unreadable(&mut host, version, number, &[0x7F]);
    }
    // A plan that ends too early, wherever.
    let whole = {
        let mut wire = [0; MAX_ENCODED + 1];
        let request = Request::LoadPlan(plan(&[rest(1), hold(600, 1, PERIOD)]));
        let length = frame::encode_request(1, &request, &mut wire).expect("it fits").len();
        // Without the stuffing, the header before and the CRC after it.
        let stuffed = &mut wire[..length - 1];
        let plain = unstuffed(stuffed);
        plain[6..plain.len() - 4].to_vec()
    };
    for (number, length) in (80_000..).zip(0..whole.len()) {
        assert_unreadable(&mut host, 1, number, &whole[..length]);
    }
    let mut bodies = vec![(1, whole.clone())];
    for own in own_words() {
        // As it is, and with a byte too many, which makes it nothing at all.
        let plain = unstuffed(&own[..own.len() - 1]);
        let body = plain[6..plain.len() - 4].to_vec();
        let too_long = [&body[..], &[0]].concat();
        bodies.push((plain[1], body));
        for rubbish in [own, foreign(1, plain[1], 90_000, &too_long)] {
            host.send(&rubbish);
            assert_eq!(host.ask(&Request::Stop), Reply::Done, "after {rubbish:?}");
        }
    }
    // And with each byte made impossible in turn: a variant that is not there, a number that does not end.
    for (channel, body) in bodies {
        for place in 0..body.len() {
            for wrong in [0x7E, 0xFF] {
                let mut body = body.clone();
                body[place] = wrong;
                host.send(&foreign(1, channel, 95_000, &body));
            }
            host.listen();
        }
        assert_eq!(host.ask(&Request::Stop), Reply::Done);
    }
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    host.send(&foreign(1, 1, 90_001, &[&whole[..], &[0]].concat()));
    assert!(matches!(host.reply_to(90_001), Reply::Rejected(_)));
    for rubbish in [
        foreign(1, 9, 70_005, &[1]),
        foreign(9, 3, 70_006, &[1]),
        vec![0, 200, 1, 1, 0],
        vec![0, 2, 1, 0],
        foreign(1, 1, 70_007, &[])[..8].to_vec(),
        vec![7; 2 * MAX_ENCODED],
        vec![0],
    ] {
        host.send(&rubbish);
        assert_eq!(host.ask(&Request::Stop), Reply::Done, "after {rubbish:?}");
    }
}
