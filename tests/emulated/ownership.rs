//! What comes late, twice, from another owner or from a host of version 1 changes nothing; the owner who is back goes on.

use crate::host::{Host, hold, plan, rest};
use crate::machine::Machine;
use celltriage_protocol::address::Address;
use celltriage_protocol::calibration::Calibration;
use celltriage_protocol::event::{Event, Outcome};
use celltriage_protocol::fitted::{Adapter, SensePoint};
use celltriage_protocol::label::{CellLabel, CellPlan, Chemistry};
use celltriage_protocol::limits;
use celltriage_protocol::reply::{Activity, RejectCause, Reply};
use celltriage_protocol::request::Request;
use celltriage_protocol::run::Token;
use celltriage_protocol::units::{MicroOhms, MicroVolts, Micros};
use celltriage_simulated_board::library;
use std::time::Duration;

fn machine() -> Machine {
    let cell = library::sound();
    let machine = Machine::with_cell(&cell, &cell.options(5));
    // What is refused is no sign of life: on a busy computer the host must not seem silent.
    machine.scene().pace.lead = Duration::from_millis(100);
    machine
}

fn cause(reply: Reply) -> RejectCause {
    match reply {
        Reply::Rejected(reject) => reject.cause,
        other => panic!("not refused: {other:?}"),
    }
}

#[test]
fn what_is_not_the_owners_changes_nothing() {
    let machine = machine();
    let mut host = Host::new(&machine);
    let loads = plan(&[rest(60), hold(600, 1, Micros::from_millis(10))]);
    // A host of version 1.
    for request in [
        Request::LoadPlan(loads.clone()),
        Request::Start { plan: 1 },
        Request::KeepAlive,
        Request::AcknowledgeTrip { trip: 1 },
        Request::Calibrate(Calibration::default()),
    ] {
        assert_eq!(cause(host.ask_bare(&request)), RejectCause::NoOwner, "{request:?}");
    }
    // Late, twice, to another start of the program.
    assert_eq!(host.ask(&Request::LoadPlan(loads.clone())), Reply::Done);
    let address = Address { boot: host.owner.boot, number: host.owner.number };
    let late = Request::StartRun { plan: 1, loading: host.owner.loading, token: Token(3) };
    assert_eq!(cause(host.ask_at(address, &late)), RejectCause::NotAbove);
    let other = Address { boot: address.boot.wrapping_add(1), number: address.number + 1 };
    for request in [late.clone(), Request::ReadState] {
        assert_eq!(cause(host.ask_at(other, &request)), RejectCause::OtherBoot);
    }
    assert_eq!(host.ask_at(other, &Request::Stop), Reply::Done);
    assert_eq!(host.ask(&Request::LoadPlan(loads.clone())), Reply::Done);
    assert_eq!(cause(host.ask(&late)), RejectCause::OtherLoading);
    // Another owner, and none.
    assert_eq!(cause(host.ask(&Request::KeepRunning { token: Token(3) })), RejectCause::NoRun);
    assert_eq!(cause(host.ask(&Request::Resume { token: Token(3) })), RejectCause::NoRun);
    assert_eq!(host.ask(&Request::Start { plan: 1 }), Reply::Done);
    let token = host.owner.token;
    for request in [Request::KeepRunning { token: Token(3) }, Request::Resume { token: Token(3) }] {
        assert_eq!(cause(host.ask(&request)), RejectCause::OtherToken);
    }
    let again = Request::StartRun { plan: 1, loading: host.owner.loading, token };
    assert_eq!(host.ask(&again), Reply::Done);
    assert_eq!(cause(host.ask(&Request::EnterBootLoader)), RejectCause::Busy);
    assert_eq!(cause(host.ask(&Request::FitAdapter(Adapter::NONE))), RejectCause::Busy);
    match host.ask(&Request::Resume { token }) {
        Reply::Run(run) => assert_eq!((run.plan, run.activity), (1, Activity::Running)),
        other => panic!("{other:?}"),
    }
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    assert_eq!(host.finish(), Outcome::Stopped);
    match host.ask(&Request::Resume { token }) {
        Reply::Run(run) => assert_eq!((run.plan, run.activity, run.step), (1, Activity::Idle, None)),
        other => panic!("{other:?}"),
    }
    assert_eq!(machine.scene().pin.len(), 0, "the load was never on");
}

#[test]
fn what_is_reserved_is_refused_and_the_program_describes_itself() {
    let machine = machine();
    let mut host = Host::new(&machine);
    let adapter = Adapter {
        id: 1,
        identified: false,
        sense: SensePoint::Connector,
        force: Ok(MicroOhms::new(1)),
        seen: Ok(MicroOhms::new(1)),
    };
    for request in [Request::ReadTaps, Request::ReadGauge] {
        assert_eq!(cause(host.ask(&request)), RejectCause::NotSupported, "{request:?}");
    }
    let pulse = plan(&[rest(1), hold(3_001, 1, Micros::from_millis(10))]);
    assert_eq!(host.ask(&Request::LoadPlan(pulse.clone())), Reply::Done);
    assert_eq!(host.ask(&Request::FitAdapter(adapter)), Reply::Done);
    assert_eq!(host.ask(&Request::ReadAdapter), Reply::Adapter(adapter));
    assert_eq!(cause(host.ask(&Request::Start { plan: 1 })), RejectCause::WrongPlan, "made for other leads");
    assert_eq!(cause(host.ask(&Request::LoadPlan(pulse))), RejectCause::Current);
    assert_eq!(host.ask(&Request::FitAdapter(Adapter::NONE)), Reply::Done);
    let loads = plan(&[rest(1), hold(600, 1, Micros::from_millis(10))]);
    let label = |millivolts| CellLabel {
        chemistry: Chemistry::Lfp,
        end_of_discharge: Some(MicroVolts::from_millivolts(millivolts)),
    };
    let wrong =
        CellPlan { label: CellLabel { chemistry: Chemistry::Nmc, ..label(5_000) }, plan: loads.clone() };
    assert_eq!(cause(host.ask(&Request::Load(wrong))), RejectCause::EndOfDischarge);
    let wrong = CellPlan { label: label(2_500), plan: loads.clone() };
    assert_eq!(cause(host.ask(&Request::Load(wrong))), RejectCause::ChargeLimit, "4.35 V is no phosphate");
    let too_low =
        CellPlan { label: CellLabel { chemistry: Chemistry::Nmc, ..label(2_499) }, plan: loads.clone() };
    assert_eq!(cause(host.ask(&Request::Load(too_low))), RejectCause::EndOfDischarge);
    let right = CellPlan { label: CellLabel { chemistry: Chemistry::Nmc, ..label(2_500) }, plan: loads };
    assert_eq!(host.ask(&Request::Load(right)), Reply::Done);
    assert_eq!(cause(host.ask(&Request::EnterBootLoader)), RejectCause::Busy, "a plan is loaded");
    assert_eq!(host.ask(&Request::Stop), Reply::Done);
    match host.ask_bare(&Request::Describe) {
        Reply::Description(told) => {
            println!("described: {told:?}");
            assert_eq!((told.versions, told.limits), ((1, 2), limits::DIGEST));
            assert!(told.abilities.adapter);
            if !told.abilities.boot_loader {
                assert_eq!(cause(host.ask(&Request::EnterBootLoader)), RejectCause::NotSupported);
            }
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn an_owner_who_is_killed_and_comes_back_with_its_token_goes_on() {
    let machine = machine();
    let mut host = Host::new(&machine);
    host.start(&plan(&[rest(2), hold(600, 5, Micros::from_millis(10)), rest(1)]));
    host.stay_until("the load", |events| {
        events.values().any(|event| matches!(event, Event::StepStarted { step: 1, .. }))
    });
    let mut host = host.come_back(&machine);
    let token = host.owner.token;
    match host.ask(&Request::Resume { token }) {
        Reply::Run(run) => assert_eq!((run.activity, run.step), (Activity::Running, Some(1))),
        other => panic!("{other:?}"),
    }
    assert_eq!(host.finish_without_gaps(), Outcome::Complete);
}
