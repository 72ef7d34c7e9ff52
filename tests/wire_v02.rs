//! Frozen bytes of wire version 2: what it added to version 1.
//!
//! **If a test in this file fails, do not change the test.** It means that an existing message was changed, reordered
//! or removed; undo that. A new variant gets a new line under its own version's file (`wire_v03.rs`), and
//! `version::CURRENT` rises.
//!
//! Each line is one whole frame as it stands on the wire. The lines were worked out by `tests/wire_v02.py`, which knows the
//! formats and none of this program's code.

use celltriage_protocol::address::Address;
use celltriage_protocol::calibration::{Calibration, Channel};
use celltriage_protocol::description::{Abilities, Description, PastPanic, PastTrip, ResetCause};
use celltriage_protocol::event::{Event, Trip, TripCause};
use celltriage_protocol::fitted::{Adapter, Gauge, SensePoint, Taps};
use celltriage_protocol::frame::{self, Frame, FrameError, MAX_ENCODED, Message};
use celltriage_protocol::label::{CellLabel, CellPlan, Chemistry};
use celltriage_protocol::plan::{Action, Bounds, Permit, Plan, Step};
use celltriage_protocol::reply::{Activity, Reject, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::run::{RunState, Token};
use celltriage_protocol::units::{
    MicroAmps, MicroCoulombs, MicroOhms, MicroVolts, Micros, MilliCelsius, NoData,
};

const TOKEN: Token = Token(0x0123_4567_89AB_CDEF);

fn plan() -> CellPlan {
    let bounds = Bounds {
        lowest_voltage: MicroVolts::from_millivolts(2_800),
        highest_temperature: MilliCelsius::new(40_000),
        highest_rise: MilliCelsius::new(6_000),
        most_charge: MicroCoulombs::new(9_000_000_000),
    };
    let rest = Step {
        action: Action::Rest,
        duration: Micros::from_secs(30),
        sample_period_us: 10_000,
        report_every: 10,
        bounds,
    };
    let hold = Step {
        action: Action::Hold { current: MicroAmps::from_milliamps(600) },
        duration: Micros::from_secs(10),
        sample_period_us: 1_000,
        report_every: 1,
        bounds,
    };
    let plan = Plan {
        number: 7,
        charge_limit: MicroVolts::from_millivolts(4_200),
        permit: Permit::Load,
        steps: [rest, hold].into_iter().collect(),
    };
    let label =
        CellLabel { chemistry: Chemistry::Lfp, end_of_discharge: Some(MicroVolts::from_millivolts(2_000)) };
    CellPlan { label, plan }
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

fn calibration() -> Calibration {
    Calibration {
        number: 3,
        voltage: Channel { gain_ppm: -310, offset: 120 },
        current: Channel { gain_ppm: 1_480, offset: -55 },
        cell_temperature: Channel { gain_ppm: 0, offset: -40 },
        ambient_temperature: Channel { gain_ppm: 0, offset: 15 },
    }
}

fn adapter() -> Adapter {
    Adapter {
        id: 41,
        identified: true,
        sense: SensePoint::Connector,
        force: Ok(MicroOhms::new(12_500)),
        seen: Err(NoData::NotYet),
    }
}

fn taps() -> Taps {
    let cells = [Ok(MicroVolts::new(3_700_000)), Err(NoData::Stale), Ok(MicroVolts::new(3_690_000))];
    Taps { at: Micros::from_secs(40), cells: cells.into_iter().collect() }
}

fn gauge() -> Gauge {
    Gauge {
        at: Micros::from_secs(40),
        voltage: Ok(MicroVolts::new(7_400_000)),
        current: Ok(MicroAmps::new(-1_000)),
        temperature: Ok(MilliCelsius::new(23_000)),
        remaining: Ok(MicroCoulombs::new(9_000_000_000)),
        full: Ok(MicroCoulombs::new(10_800_000_000)),
        design: Err(NoData::NoAnswer),
        cycles: Ok(312),
        status: Ok(0x8001),
    }
}

fn to(boot: u32, number: u32, request: Request) -> Message {
    Message::Addressed(Address { boot, number }, request)
}

fn requests() -> Vec<Message> {
    vec![
        Message::Request(Request::Describe),
        to(3, 11, Request::Load(plan())),
        to(3, 12, Request::Load(CellPlan::default())),
        to(3, 13, Request::StartRun { plan: 7, loading: 2, token: TOKEN }),
        to(3, 14, Request::KeepRunning { token: TOKEN }),
        to(70_000, 300, Request::Resume { token: TOKEN }),
        to(3, 15, Request::EnterBootLoader),
        to(3, 16, Request::FitAdapter(adapter())),
        Message::Request(Request::ReadAdapter),
        Message::Request(Request::ReadTaps),
        Message::Request(Request::ReadGauge),
        to(3, 0, Request::ReadState),
        to(3, 17, Request::Stop),
        to(3, 18, Request::Calibrate(calibration())),
        to(3, 19, Request::AcknowledgeTrip { trip: 1 }),
    ]
}

fn described() -> Description {
    Description {
        versions: (1, 2),
        boot: 3,
        number: 19,
        commit: Some("0123456789ab+".try_into().expect("short")),
        limits: 0xFEDC_BA98_7654_3210,
        revision: Some("A".try_into().expect("short")),
        reset: Some(ResetCause::Watchdog),
        panic: Some(PastPanic { boot: 2, place: "sequencer.rs:88".try_into().expect("short") }),
        trip: Some(PastTrip { boot: 1, trip: trip() }),
        abilities: Abilities { boot_loader: true, adapter: false, taps: 2, gauge: false },
    }
}

fn replies() -> Vec<Message> {
    let unknown = Description { versions: (1, 2), limits: 1, ..Description::default() };
    let run = RunState {
        plan: 7,
        activity: Activity::Running,
        step: Some(1),
        first_event: 4,
        next_event: 300,
        now: Micros::from_secs(90),
    };
    let rejected = |cause, asked, limit| Reply::Rejected(Reject { cause, asked, limit });
    vec![
        Message::Reply(Reply::Description(described())),
        Message::Reply(Reply::Description(unknown)),
        Message::Answered(3, Reply::Loaded { loading: 2, next_event: 300 }),
        Message::Answered(3, Reply::Run(run)),
        Message::Answered(3, Reply::Adapter(adapter())),
        Message::Answered(3, Reply::Taps(taps())),
        Message::Answered(3, Reply::Gauge(gauge())),
        Message::Answered(70_000, Reply::Done),
        Message::Reply(rejected(RejectCause::NoOwner, 2, 0)),
        Message::Answered(4, rejected(RejectCause::OtherBoot, 3, 4)),
        Message::Answered(3, rejected(RejectCause::NotAbove, 12, 19)),
        Message::Answered(3, rejected(RejectCause::OtherToken, 0, 0)),
        Message::Answered(3, rejected(RejectCause::NoRun, 0, 7)),
        Message::Answered(3, rejected(RejectCause::OtherLoading, 1, 2)),
        Message::Answered(3, rejected(RejectCause::NotSupported, 15, 0)),
        Message::Answered(3, rejected(RejectCause::EndOfDischarge, 5_000_000, 4_200_000)),
    ]
}

fn encoded(sequence: u32, message: &Message) -> String {
    let mut out = [0u8; MAX_ENCODED + 1];
    let bytes = match message {
        Message::Request(request) => frame::encode_request(sequence, request, &mut out),
        Message::Reply(reply) => frame::encode_reply(sequence, reply, &mut out),
        Message::Event(event) => frame::encode_event(sequence, event, &mut out),
        Message::Addressed(address, request) => {
            frame::encode_addressed(sequence, *address, request, &mut out)
        }
        Message::Answered(boot, reply) => frame::encode_answered(sequence, *boot, reply, &mut out),
    };
    bytes.expect("fits").iter().map(|byte| format!("{byte:02x}")).collect()
}

fn from_hex(text: &str) -> Vec<u8> {
    (0..text.len()).step_by(2).map(|at| u8::from_str_radix(&text[at..at + 2], 16).expect("hex")).collect()
}

fn decoded(line: &str) -> Result<Frame, FrameError> {
    let mut bytes = from_hex(line);
    assert_eq!(bytes.pop(), Some(0), "a frame ends with a zero");
    frame::decode(&mut bytes)
}

fn have_their_frozen_bytes(first: u32, messages: Vec<Message>, frozen: &str) {
    let frozen: Vec<&str> = frozen.lines().collect();
    assert_eq!(frozen.len(), messages.len());
    for (index, (message, line)) in messages.into_iter().zip(frozen).enumerate() {
        let sequence = first + index as u32;
        assert_eq!(encoded(sequence, &message), line, "{message:?}");
        assert_eq!(decoded(line), Ok(Frame { sequence, message }));
    }
}

#[test]
fn requests_have_their_frozen_bytes() {
    have_their_frozen_bytes(1, requests(), REQUESTS);
}

#[test]
fn replies_have_their_frozen_bytes() {
    have_their_frozen_bytes(1, replies(), REPLIES);
}

#[test]
fn events_have_their_frozen_bytes() {
    have_their_frozen_bytes(0x0102_0300, vec![Message::Event(Event::Taps(taps()))], EVENTS);
}

/// The last variant of each numbered enum, so that one inserted in the middle shows.
#[test]
fn numbered_variants_keep_their_numbers() {
    assert_eq!(RejectCause::NoOwner as u8, 18);
    assert_eq!(RejectCause::EndOfDischarge as u8, 25);
    assert_eq!(Chemistry::Lfp as u8, 5);
    assert_eq!(ResetCause::Debugger as u8, 6);
    assert_eq!(SensePoint::Connector as u8, 3);
}

const REQUESTS: &str = "\
040201010101060a5cdd1a1c00
04020402010111030b0b05018092f4010780d980040102338087a70e904e0a80e6d50280f104e05d80e888874301809f4980ade204e8070180e6d50280f104e05d80e888874334170db300
04020403010104030c0b010101010105d32c16b700
04020404010113030d0c0702ef9bafcdf8acd19101e4db4d5300
04020405010111030e0def9bafcdf8acd19101ca0d97dc00
04020406010114f0a204ac020eef9bafcdf8acd19101da66ac0d00
04020407010108030f0f5bb3739c00
0402040801010703101029010305a8c3010105af6b747300
0402010901010611715f0fa600
0402010a010106121b74a67800
0402010b010106133d6dc13200
0402040c010102030606ca43306000
0402040d010108031103e19ff4e500
0402040e01010c03120703eb04f00190176d024f061ec938cfa500
0402040f01010903130401bebc0d7c00";

const REPLIES: &str = "\
040202010101450601020313010d3031323334353637383961622b90e4d0b287d3aeeefe01010141010301020f73657175656e6365722e72733a383801010108b0c00590bf05959aef3a010202054e895c6a00
04020202010104060102010102010101010101010105072068d300
04020503010108030702ac0262fb02d900
0402050401011003080701010104ac028095f52a0e4f02db00
04020505010106030929010305a8c30101051eaf9cde00
04020506010108030a80b489130307c0d4c303010409a0b8c203777fb4b200
04020507010107030b80b489130580a9870703cf0f04b0e7020680e88887430880b0d7bb50010103b802088180024ee98b7900
04020508010109f0a204018a8cfc3100
04020209010104031204051296bdbf00
0402050a01010a0403130608447238e100
0402050b01010a0303141826829ebb4900
0402050c0101040303150105d8840e7c00
0402050d010104030316060ec5038b8e00
0402050e01010a0303170204abde276400
0402050f0101050303181e0591141a9900
0402051001011003031980ade20480d98004e0c5fad900";

const EVENTS: &str = "\
0302030a0302010780b489130307c0d4c303010409a0b8c203c0dc24f400";
