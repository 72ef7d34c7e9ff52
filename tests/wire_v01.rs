//! Frozen bytes of wire version 1.
//!
//! **If a test in this file fails, do not change the test.** It means that an existing message was changed, reordered
//! or removed; undo that. A new variant gets a new line here under its own version's file (`wire_v02.rs`), and
//! `version::CURRENT` rises.
//!
//! Each line is one whole frame as it stands on the wire, stuffed, with CRC and closing zero.

use celltriage_protocol::block::BlockWriter;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::event::{Event, Outcome, Sensor, StepEnd, Trip, TripCause};
use celltriage_protocol::frame::{self, Frame, MAX_ENCODED, Message};
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::reply::{Activity, Identity, Reject, RejectCause, Reply, State};
use celltriage_protocol::request::Request;
use celltriage_protocol::units::{MicroAmps, MicroCoulombs, MicroVolts, Micros, MilliCelsius, NoData};

fn bounds() -> Bounds {
    Bounds {
        lowest_voltage: MicroVolts::from_millivolts(2_800),
        highest_temperature: MilliCelsius::new(40_000),
        highest_rise: MilliCelsius::new(6_000),
        most_charge: MicroCoulombs::new(9_000_000_000),
    }
}

fn plan() -> Plan {
    let rest = Step {
        action: Action::Rest,
        duration: Micros::from_secs(30),
        sample_period_us: 10_000,
        report_every: 10,
        bounds: bounds(),
    };
    let hold = Step {
        action: Action::Hold { current: MicroAmps::from_milliamps(600) },
        duration: Micros::from_secs(10),
        sample_period_us: 1_000,
        report_every: 1,
        bounds: bounds(),
    };
    let discharge = Step {
        action: Action::Discharge {
            current: MicroAmps::from_milliamps(600),
            floor: MicroVolts::from_millivolts(3_000),
        },
        duration: Micros::from_secs(25_200),
        sample_period_us: 100_000,
        report_every: 10,
        bounds: bounds(),
    };
    let mut plan = Plan {
        number: 7,
        charge_limit: MicroVolts::from_millivolts(4_350),
        permit: Permit::Load,
        ..Plan::default()
    };
    for step in [rest, hold, discharge] {
        plan.steps.push(step).expect("three of sixteen steps");
    }
    plan
}

fn calibration() -> Calibration {
    Calibration {
        number: 3,
        voltage: Channel { gain_ppm: -310, offset: 120 },
        current: Channel { gain_ppm: 1_480, offset: -55 },
        cell_temperature: Channel { gain_ppm: 0, offset: -40 },
        ambient_temperature: Channel { gain_ppm: 0, offset: 15 },
    }
}

fn trip() -> Trip {
    Trip {
        number: 1,
        cause: TripCause::OverTemperature,
        value: 45_080,
        limit: 45_000,
        at: Micros::new(123_456_789),
    }
}

fn block() -> Event {
    let mut writer = BlockWriter::new(1, Micros::new(40_001_000), 1_000);
    for (voltage, current) in [(3_801_171, 599_812), (3_800_976, 599_843), (3_801_367, 599_781)] {
        writer.push(MicroVolts::new(voltage), MicroAmps::new(current)).expect("three samples fit");
    }
    Event::Samples(writer.finish(
        Ok(MilliCelsius::new(23_117)),
        Err(NoData::Stale),
        Ok(MicroCoulombs::new(6_000_187)),
    ))
}

fn requests() -> Vec<Request> {
    vec![
        Request::Identify,
        Request::LoadPlan(plan()),
        Request::Start { plan: 7 },
        Request::Stop,
        Request::AcknowledgeTrip { trip: 1 },
        Request::KeepAlive,
        Request::ReadState,
        Request::Calibrate(calibration()),
        Request::ReadCalibration,
        Request::ResendFrom { sequence: 300 },
    ]
}

fn replies() -> Vec<Reply> {
    let identity = Identity {
        board: "simulated".try_into().expect("short"),
        firmware: "0.1.0".try_into().expect("short"),
        serial: 0x00C0_FFEE,
        versions: (1, 1),
        calibration: 3,
        largest_pulse: MicroAmps::from_milliamps(5_000),
        largest_steady: MicroAmps::from_milliamps(1_500),
        shortest_period_us: 1_000,
    };
    let state = State {
        now: Micros::from_secs(90),
        activity: Activity::Tripped,
        load_on: false,
        step: Some(2),
        voltage: Ok(MicroVolts::new(3_700_000)),
        current: Ok(MicroAmps::new(-31)),
        cell_temperature: Err(NoData::NoAnswer),
        ambient_temperature: Ok(MilliCelsius::new(-7)),
        charge: Err(NoData::NotYet),
        trip: Some(trip()),
        next_event: 512,
    };
    vec![
        Reply::Identity(identity),
        Reply::Done,
        Reply::State(state),
        Reply::Rejected(Reject { cause: RejectCause::Current, asked: 6_000_000, limit: 5_000_000 }),
        Reply::Calibration(calibration()),
        Reply::Resending { from: 300, through: 511 },
    ]
}

fn events() -> Vec<Event> {
    let at = Micros::from_secs(40);
    vec![
        block(),
        Event::PlanStarted { plan: 7, at },
        Event::StepStarted { step: 1, at },
        Event::StepEnded { step: 1, at, cause: StepEnd::Floor, charge: Ok(MicroCoulombs::new(6_000_187)) },
        Event::PlanEnded { plan: 7, at, outcome: Outcome::Bounded },
        Event::Tripped(trip()),
        Event::Missing { sensor: Sensor::CellTemperature, at, cause: NoData::NoAnswer },
    ]
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn from_hex(text: &str) -> Vec<u8> {
    (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).expect("hex")).collect()
}

#[test]
fn requests_have_their_frozen_bytes() {
    let frozen: Vec<&str> = REQUESTS.lines().collect();
    let all = requests();
    assert_eq!(frozen.len(), all.len());
    for (index, (request, line)) in all.into_iter().zip(frozen).enumerate() {
        let sequence = index as u32 + 1;
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = frame::encode_request(sequence, &request, &mut out).expect("fits");
        assert_eq!(hex(bytes), line, "request {request:?}");
        reads_back(line, Frame { sequence, message: Message::Request(request) });
    }
}

#[test]
fn replies_have_their_frozen_bytes() {
    let frozen: Vec<&str> = REPLIES.lines().collect();
    let all = replies();
    assert_eq!(frozen.len(), all.len());
    for (index, (reply, line)) in all.into_iter().zip(frozen).enumerate() {
        let sequence = index as u32 + 1;
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = frame::encode_reply(sequence, &reply, &mut out).expect("fits");
        assert_eq!(hex(bytes), line, "reply {reply:?}");
        reads_back(line, Frame { sequence, message: Message::Reply(reply) });
    }
}

#[test]
fn events_have_their_frozen_bytes() {
    let frozen: Vec<&str> = EVENTS.lines().collect();
    let all = events();
    assert_eq!(frozen.len(), all.len());
    for (index, (event, line)) in all.into_iter().zip(frozen).enumerate() {
        let sequence = 0x0102_0300 + index as u32;
        let mut out = [0u8; MAX_ENCODED + 1];
        let bytes = frame::encode_event(sequence, &event, &mut out).expect("fits");
        assert_eq!(hex(bytes), line, "event {event:?}");
        reads_back(line, Frame { sequence, message: Message::Event(event) });
    }
}

fn reads_back(line: &str, expected: Frame) {
    let mut bytes = from_hex(line);
    assert_eq!(bytes.pop(), Some(0), "a frame ends with a zero");
    assert_eq!(frame::decode(&mut bytes), Ok(expected));
}

/// The last variant of each numbered enum, so that one inserted in the middle shows.
#[test]
fn numbered_variants_keep_their_numbers() {
    assert_eq!(TripCause::SetUp as u8, 18);
    assert_eq!(RejectCause::Unreadable as u8, 17);
    assert_eq!(StepEnd::Tripped as u8, 7);
    assert_eq!(Outcome::Tripped as u8, 3);
    assert_eq!(Sensor::Charge as u8, 4);
    assert_eq!(NoData::Stale as u8, 4);
    assert_eq!(Activity::Tripped as u8, 2);
}

const REQUESTS: &str = "\
0401010101010105df2e27cd00
040101020101090107e08093040103528087a70e904e0a80e6d50280f104e05d80e888874301809f4980ade204e8070180e6d50280f104e05d80e888874302809f49809bee0280f8a5f05da08d060a80e6d50280f104e05d80e88887434447cde400
040101030101070207cc51392500
040101040101060315f0ce9c00
04010105010107040162b0594c00
040101060101060540066d0f00
04010107010106064a7e04ab00
0401010801010a0703eb04f00190176d024f021e0423964800
04010109010106082ced8cf300
0401010a01010809ac027bf6c57a00";

const REPLIES: &str = "\
04010201010101260973696d756c6174656405302e312e30eeff830601010380ade204c08db701e8076ed5b0bd00
04010202010106013716147b00
04010203010107028095f52a0203010205c0d4c303043d0101030d0114010108b0c00590bf05959aef3a800430336eea00
0401020401010f030480b6dc0580ade2045a8f7caf00
0401020501010a0403eb04f00190176d024f061ebe31640d00
0401020601010a05ac02ff03f096121b00";

const EVENTS: &str = "\
030103040302010901e8bb8913e80703069ae902010417f6b8dc050da681d003889c4985033e8e067b29f7e8f900
11010301030201010780b48913ad3a027300
11010302030201020180b48913a006e19100
0e010303030201030180b489130109f6b8dc056327ba7e00
12010304030201040780b489130191817e2e00
18010305030201050108b0c00590bf05959aef3a2d465fe400
12010306030201060280b4891301cab840b100";
