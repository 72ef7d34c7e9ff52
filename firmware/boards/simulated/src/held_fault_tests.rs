//! Every kind of fault, held for a whole discharge of five hours: how the load ends, after how long, how low the cell gets.
//!
//! Three cells are discharged with 0.2 It to the end on their labels: 3.0 V, 2.5 V, 2.0 V. Each fault begins before the load, early, in the middle, a minute and two
//! seconds before the end, and stays. Whatever happens, no current may flow any more before the cell has left its window. The
//! one kind that no program and no single part ends is told as such.

use crate::chips::Chip;
use crate::fault::Fault;
use crate::library::{self, LibraryCell};
use crate::options::Options;
use crate::test_host::{Host, discharge_to, rest};
use celltriage_protocol::event::{Outcome, TripCause};
use celltriage_protocol::limits;
use celltriage_protocol::reply::Activity;
use celltriage_protocol::units::Micros;
use std::collections::BTreeSet;

/// A cell whose discharge the faults meet.
struct Subject {
    cell: LibraryCell,
    /// About 0.2 It, in milliamperes.
    current_ma: i32,
    /// End of discharge on its label, which is the plan's floor.
    end_mv: i32,
    /// A current of several amperes pulls an almost empty cell down by its own resistance, until the next sample.
    lowest_with_more_current_v: f64,
}

impl Subject {
    fn pouch() -> Self {
        Self { cell: library::sound(), current_ma: 576, end_mv: 3_000, lowest_with_more_current_v: 2.0 }
    }

    fn cylindrical() -> Self {
        let cell = library::cylindrical();
        Self { cell, current_ma: 576, end_mv: 2_500, lowest_with_more_current_v: 2.0 }
    }

    fn iron_phosphate() -> Self {
        let cell = library::iron_phosphate();
        Self { cell, current_ma: 465, end_mv: 2_000, lowest_with_more_current_v: 1.5 }
    }

    /// How low a fault may bring the cell: a voltage that is wrong by less than what the second look bears (its margin and
    /// the fall over the leads at this current) is not told from a right one, and the second look may itself be wrong by its
    /// margin.
    fn lowest_v(&self) -> f64 {
        f64::from(self.end_mv) * 1e-3 - (0.150 + f64::from(self.current_ma) * 1e-3 * 0.1 + 0.150)
    }
}

/// What ends the load.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Ended {
    /// The guard, which trips as long as there is still time before the plan ends by itself.
    Guard,
    /// The guard or the plan itself: the fault does no harm, or is smaller than the margin.
    GuardOrPlan,
    /// The watchdog, within its time.
    Watchdog,
    /// The guard trips and tells it, but the current goes on: only the thermal cut-outs (too high a current or too much heat),
    /// the fuse (above 7.5 A), or a person who takes the cell off.
    NothingHere,
}

/// Returns what must end each kind. A new kind does not compile without a row here, and fails without a case below.
const fn row(fault: &Fault) -> Ended {
    use Ended::{Guard, GuardOrPlan, NothingHere, Watchdog};
    match fault {
        Fault::OpenSenseLead
        | Fault::LooseSenseLead { .. }
        | Fault::OpenNegativeSenseLead
        | Fault::ShortedSenseLeads
        | Fault::OpenForceLead
        | Fault::StuckVoltage
        | Fault::ReplayedMonitor
        | Fault::WarmCell { .. }
        | Fault::OpenProtection { .. }
        | Fault::ReversedCell
        | Fault::OpenShunt
        | Fault::ShortedShunt
        | Fault::StuckSetPoint { .. }
        | Fault::ShortedTransistor { .. }
        | Fault::NoSecondLook
        | Fault::StuckSecondLook => Guard,
        Fault::StuckSensor { chip, says_ready } => match (chip, says_ready) {
            (Chip::PowerMonitor, _) | (Chip::CellThermometer | Chip::AmbientThermometer, false) => Guard,
            (Chip::CellThermometer | Chip::AmbientThermometer, true) | (Chip::SetPoint, _) => GuardOrPlan,
        },
        Fault::NoAnswer { chip } => match chip {
            // Nothing is written to it while the set point stays; the enable line needs no bus.
            Some(Chip::SetPoint) => GuardOrPlan,
            None | Some(Chip::PowerMonitor | Chip::CellThermometer | Chip::AmbientThermometer) => Guard,
        },
        Fault::VoltageOffset { .. }
        | Fault::VoltageGain { .. }
        | Fault::CurrentOffset { .. }
        | Fault::CurrentGain { .. }
        | Fault::SecondLookOffset { .. }
        | Fault::SecondLookCurrentOffset { .. }
        | Fault::SecondLookReference { .. }
        | Fault::EnableStuckOn
        | Fault::NoAnswerOnce
        | Fault::ThermometerOffCell => GuardOrPlan,
        // A refusal or two is tried once more; more of them are a chip that does not answer.
        Fault::NoAnswerTimes { count } => {
            if *count > 20 {
                Guard
            } else {
                GuardOrPlan
            }
        }
        // Nine pulses free a chip; nobody frees what is held for longer than a reading may be old.
        Fault::DataHeld { pulses } => {
            if *pulses > 9 {
                Guard
            } else {
                GuardOrPlan
            }
        }
        Fault::ClockHeld { time } => {
            if time.get() > 1_000_000 {
                Guard
            } else {
                GuardOrPlan
            }
        }
        Fault::ProgramHangs => Watchdog,
        Fault::SinkStuckOn { .. } => NothingHere,
    }
}

/// Returns each kind, with small and large figures where it has one.
fn cases() -> Vec<Fault> {
    let mut cases = vec![
        Fault::OpenSenseLead,
        Fault::LooseSenseLead { spread_v: 0.3 },
        Fault::OpenNegativeSenseLead,
        Fault::ShortedSenseLeads,
        Fault::OpenForceLead,
        Fault::StuckVoltage,
        Fault::ReplayedMonitor,
        Fault::WarmCell { temperature_c: 60.0 },
        Fault::OpenProtection { leaks_v: 0.1 },
        Fault::ReversedCell,
        Fault::OpenShunt,
        Fault::ShortedShunt,
        Fault::EnableStuckOn,
        Fault::ProgramHangs,
        Fault::NoAnswerOnce,
        Fault::NoAnswer { chip: None },
        Fault::ThermometerOffCell,
        Fault::NoSecondLook,
        Fault::StuckSecondLook,
    ];
    for chip in Chip::ALL {
        cases.push(Fault::NoAnswer { chip: Some(chip) });
        cases.extend([false, true].map(|says_ready| Fault::StuckSensor { chip, says_ready }));
    }
    cases.extend([-0.5, -0.1, 0.1, 0.2, 0.5].map(|volts| Fault::VoltageOffset { volts }));
    cases.extend([0.9, 0.97, 1.03, 1.1].map(|factor| Fault::VoltageGain { factor }));
    cases.extend([-0.2, 0.05, 0.2].map(|amps| Fault::CurrentOffset { amps }));
    cases.extend([0.5, 0.95, 1.05, 1.5].map(|factor| Fault::CurrentGain { factor }));
    cases.extend([1.0, 6.0].map(|current_a| Fault::StuckSetPoint { current_a }));
    cases.extend([1.0, 8.0].map(|current_a| Fault::ShortedTransistor { current_a }));
    cases.extend([0.3, 8.0].map(|current_a| Fault::SinkStuckOn { current_a }));
    cases.extend([-0.4, -0.1, 0.1, 0.4].map(|volts| Fault::SecondLookOffset { volts }));
    cases.extend([-1.0, 0.3, 2.0].map(|amps| Fault::SecondLookCurrentOffset { amps }));
    cases.extend([0.95, 0.99, 1.01, 1.05].map(|factor| Fault::SecondLookReference { factor }));
    cases.extend([2, 10, 10_000].map(|count| Fault::NoAnswerTimes { count }));
    cases.extend([3, 9, 200].map(|pulses| Fault::DataHeld { pulses }));
    cases.extend([1, 100, 10_000].map(|millis| Fault::ClockHeld { time: Micros::from_millis(millis) }));
    cases
}

/// How a fault ended.
#[derive(Clone, Copy, Debug)]
struct Held {
    tripped: Option<TripCause>,
    after: Micros,
    lowest_v: f64,
    most_a: f64,
    left_a: f64,
}

/// Lets a fault begin in a copy of a run, and goes on until nothing runs any more.
fn hold(host: &Host, fault: Fault) -> Held {
    let mut host = host.clone();
    let began = host.fixture.now();
    host.fixture.inject(fault.at(Micros::ZERO));
    let mut held =
        Held { tripped: None, after: Micros::ZERO, lowest_v: f64::INFINITY, most_a: 0.0, left_a: 0.0 };
    let mut passed = Micros::ZERO;
    // A load that is still on after an hour more than the plan takes is told as current that is left.
    while host.fixture.activity() == Activity::Running && passed < Micros::from_secs(6 * 3_600) {
        // First what happens at once, then what takes hours.
        let quick = passed < Micros::from_secs(1);
        host.stay(if quick { Micros::from_millis(2) } else { Micros::from_secs(4) });
        passed = host.fixture.now().saturating_sub(began);
        let truth = host.fixture.truth().unwrap();
        held.lowest_v = held.lowest_v.min(terminals(truth.voltage_v));
        held.most_a = held.most_a.max(truth.current_a);
    }
    // Time for the current to go, and for an idle fixture to see that it does not.
    host.stay(Micros::from_millis(300));
    // What a program that was reset has forgotten was before this plan.
    held.tripped = host.trip().map(|trip| trip.cause);
    held.after = passed;
    held.left_a = host.fixture.truth().unwrap().current_a;
    held
}

/// A reversed cell shows its voltage the other way round.
const fn terminals(voltage_v: f64) -> f64 {
    voltage_v.abs()
}

/// Holds a fault from one moment on; returns its line of the table, or what is wrong.
fn judge(subject: &Subject, Moment { when, host, early }: &Moment, fault: Fault) -> Result<String, String> {
    let held = hold(host, fault);
    let ended = row(&fault);
    let line = format!(
        "{fault:?} {when}: {} after {:.3} s, lowest {:.3} V, most {:.2} A, left {:.3} A ({ended:?})",
        held.tripped.map_or("no trip".to_owned(), |cause| format!("{cause:?}")),
        held.after.get() as f64 * 1e-6,
        held.lowest_v,
        held.most_a,
        held.left_a
    );
    let by_whom = match ended {
        Ended::Guard => held.tripped.is_some() || !early,
        Ended::NothingHere => held.tripped.is_some(),
        Ended::GuardOrPlan => true,
        Ended::Watchdog => held.tripped.is_none() && held.after <= Micros::from_millis(210),
    };
    let more_current = held.most_a > f64::from(subject.current_ma) * 1.1e-3 + 0.05;
    let lowest_v = if more_current { subject.lowest_with_more_current_v } else { subject.lowest_v() };
    // Behind an open protection the cell itself is not seen.
    let in_window = matches!(fault, Fault::OpenProtection { .. }) || held.lowest_v >= lowest_v;
    let off = held.left_a < f64::from(limits::OFF_CURRENT.get()) * 1e-6;
    let honest = off != (ended == Ended::NothingHere);
    // Within a sample, or what the look needs.
    let soon = !more_current || held.after <= Micros::from_millis(1_000);
    if by_whom && in_window && honest && soon { Ok(line) } else { Err(line) }
}

/// A discharge under way.
struct Moment {
    when: &'static str,
    host: Host,
    /// Whether the plan has hours to go, under load.
    early: bool,
}

/// Returns the discharge at its five moments.
fn moments(subject: &Subject) -> Vec<Moment> {
    let options = Options { initial_soc: 1.0, ..Options::default() };
    let mut host = Host::with_cell(&subject.cell, options);
    host.start(&[rest(10), discharge_to(subject.current_ma, subject.end_mv)]);
    let begun = host.fixture.now();
    let mut moments = vec![Moment { when: "before the load", host: host.clone(), early: false }];
    for (when, seconds) in [("after a minute", 60), ("in the middle", 9_000)] {
        let at = begun.saturating_add(Micros::from_secs(seconds));
        host.stay(at.saturating_sub(host.fixture.now()));
        moments.push(Moment { when, host: host.clone(), early: true });
    }
    let mut clean = host.clone();
    assert_eq!(clean.finish(), Outcome::Complete);
    let end = clean.fixture.now();
    let hours = end.saturating_sub(begun).get() as f64 / 3.6e9;
    assert!((4.7..5.2).contains(&hours), "{hours}");
    for (when, millis) in [("a minute before the floor", 61_000), ("two seconds before it", 2_000)] {
        let at = end.saturating_sub(Micros::from_millis(millis));
        host.stay(at.saturating_sub(host.fixture.now()));
        moments.push(Moment { when, host: host.clone(), early: false });
    }
    moments
}

/// Holds each fault from each moment on. What may last to the end is held once for the whole discharge: from before the load.
fn judge_all(subject: &Subject, moments: &[Moment], cases: &[Fault]) -> Vec<Result<String, String>> {
    let mut lines = Vec::new();
    for fault in cases {
        let lasting = row(fault) == Ended::GuardOrPlan;
        for moment in moments.iter().filter(|moment| !(lasting && moment.early)) {
            lines.push(judge(subject, moment, *fault));
        }
    }
    lines
}

/// Holds every kind of fault for the whole discharge of a cell.
fn check(subject: &Subject) {
    let (moments, cases) = (moments(subject), cases());
    let mut lines = Vec::new();
    std::thread::scope(|scope| {
        let parts = cases.chunks(cases.len().div_ceil(4));
        let parts: Vec<_> = parts.map(|part| scope.spawn(|| judge_all(subject, &moments, part))).collect();
        lines.extend(parts.into_iter().flat_map(|part| part.join().unwrap()));
    });
    let (good, wrong): (Vec<_>, Vec<_>) = lines.into_iter().partition(Result::is_ok);
    for line in good.into_iter().flatten() {
        println!("{line}");
    }
    let wrong: Vec<String> = wrong.into_iter().filter_map(Result::err).collect();
    assert!(wrong.is_empty(), "{} of them:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn every_kind_of_fault_held_for_a_whole_discharge_ends_it_in_the_cells_window() {
    check(&Subject::pouch());
}

#[test]
fn every_kind_of_fault_ends_a_discharge_to_two_and_a_half_volts_in_the_cells_window() {
    check(&Subject::cylindrical());
}

#[test]
fn every_kind_of_fault_ends_a_discharge_of_iron_phosphate_in_the_cells_window() {
    check(&Subject::iron_phosphate());
}

#[test]
fn the_table_has_a_case_of_every_kind() {
    // The names of the kinds, as the source has them: one of four spaces, a name, and a brace or a comma.
    let source = include_str!("fault.rs");
    let body = source.split_once("pub enum Fault {").unwrap().1.split_once("\n}").unwrap().0;
    let name = |text: &str| text.split([' ', ',', '(']).next().unwrap().to_owned();
    let kinds: BTreeSet<String> = body
        .lines()
        .filter_map(|line| line.strip_prefix("    "))
        .filter(|line| line.starts_with(|first: char| first.is_ascii_uppercase()))
        .map(name)
        .collect();
    let tried: BTreeSet<String> = cases().iter().map(|fault| name(&format!("{fault:?}"))).collect();
    assert!(kinds.len() >= 30, "{kinds:?}");
    assert_eq!(kinds, tried);
}
