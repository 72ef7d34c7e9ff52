//! One screen of each kind of case, as it is read.

use super::{flat, on, screen};
use celltriage_assessment::case_file::DecidedBefore;
use celltriage_assessment::test_support::example;
use celltriage_assessment::{Assessment, CaseFile, Subject};
use celltriage_document::form::terminal::Terminal;
use celltriage_measure::estimate::{Estimate, Estimates, Quantity};
use celltriage_measure::observation::{Answer, DeviceDid, DeviceSaid, Sign};
use celltriage_verdict::{CellState, Fate, Hazard, KnownFinding, KnownKind, RunOutcome, Told};
use jiff::civil::date;

fn found(subject: &mut Subject, quantity: Quantity, value: f64, doubt: f64) {
    subject.estimates.put(quantity, Ok(Estimate::new(quantity, value, doubt, "test")));
}

fn without_capacity(subject: &mut Subject) {
    subject.estimates.measured.remove(&Quantity::Capacity);
    subject.estimates.measured.remove(&Quantity::CapacityFraction);
}

fn kept_off(subject: &mut Subject, why: &str) {
    subject.estimates = Estimates::default();
    subject.circumstances.run = RunOutcome::NotMeasured { why: why.to_owned() };
}

fn swollen(subject: &mut Subject) {
    subject.observations.set(Sign::Swollen, Answer::Yes);
    subject.circumstances.place = "DE".parse().ok();
    kept_off(subject, "kept off the fixture for its looks: swollen");
}

fn known_before(subject: &mut Subject) {
    subject.known.push(KnownFinding {
        entry: 5,
        on: date(2026, 11, 20),
        told: Told::Assessment,
        kind: KnownKind::Unsorted,
        what: "swollen".to_owned(),
        by: Some("second bench, Port Ellery".to_owned()),
        condition: CellState::DamagedOrDefective,
        hazard: Some(Hazard::Swollen),
        settled_by: None,
        released_by: None,
    });
    subject.case_file = Some(CaseFile {
        decided: Some(DecidedBefore { fate: Fate::Quarantine, on: date(2026, 11, 20), entry: 5 }),
        lies: Some("in container DD-1 (damaged), yard".to_owned()),
        ..CaseFile::default()
    });
    kept_off(subject, "the book knows a finding that bars a load");
}

fn tripped(subject: &mut Subject, cause: &str, value: f64, limit: f64, unit: &str) {
    subject.estimates = Estimates::default();
    let (cause, unit) = (cause.to_owned(), unit.to_owned());
    subject.circumstances.run = RunOutcome::Tripped { cause, value, limit, unit };
}

fn shuts_off(subject: &mut Subject) {
    without_capacity(subject);
    let mut resistance = Estimate::new(Quantity::Resistance10Seconds, 0.412, 0.004, "test");
    resistance.conditions.current_a = Some(1.5);
    subject.estimates.put(Quantity::Resistance10Seconds, Ok(resistance));
    found(subject, Quantity::RestVoltage, 3.712, 0.002);
    let (did, current_a, lowest_v) = (DeviceDid::ShutsOff, Some(2.0), Some(3.3));
    subject.observations.device = Some(DeviceSaid { did, current_a, lowest_v });
}

/// Each kind of case with its name.
pub(super) fn kinds() -> Vec<(&'static str, Assessment)> {
    let simulated =
        |subject: &mut Subject| subject.circumstances.source = "simulated bench with a sound cell".into();
    vec![
        ("reuse", example(|subject| found(subject, Quantity::ThicknessGrowth, 0.004, 0.015))),
        ("reuse_with_open_points", example(|_| {})),
        ("device_shuts_off", example(shuts_off)),
        (
            "recycle_by_capacity",
            example(|subject| found(subject, Quantity::CapacityFraction, 0.694, 0.00375)),
        ),
        (
            "recycle_by_resistance",
            example(|subject| {
                without_capacity(subject);
                found(subject, Quantity::Resistance25Celsius, 0.241, 0.002);
                subject.circumstances.place = "DE".parse().ok();
            }),
        ),
        ("quarantine_swollen", example(swollen)),
        (
            "quarantine_unfinished",
            example(|subject| {
                without_capacity(subject);
                let why = "the link to the fixture broke and did not come back".to_owned();
                subject.circumstances.run = RunOutcome::Unfinished { why };
            }),
        ),
        ("quarantine_tripped_warm", example(|subject| tripped(subject, "temperature_rise", 4.7, 2.0, "K"))),
        (
            "undecided_missing_steps",
            example(|subject| {
                without_capacity(subject);
                subject.observations.signs.remove(&Sign::Recalled);
            }),
        ),
        ("undecided_not_clear", example(|subject| found(subject, Quantity::CapacityFraction, 0.804, 0.006))),
        ("undecided_screened", example(without_capacity)),
        (
            "undecided_voltage_hidden",
            example(|subject| {
                subject.estimates = Estimates::default();
                found(subject, Quantity::RestVoltage, 0.12, 0.002);
                subject.circumstances.run = RunOutcome::Recorded;
            }),
        ),
        (
            "critical_reacting",
            example(|subject| {
                subject.observations.set(Sign::ActiveNow, Answer::Yes);
                kept_off(subject, "kept off the fixture for its looks: active now");
            }),
        ),
        (
            "critical_by_measurement",
            example(|subject| tripped(subject, "over_temperature", 46.2, 45.0, "degC")),
        ),
        ("known_before", example(known_before)),
        ("simulated", example(simulated)),
        (
            "never_calibrated",
            example(|subject| {
                subject.circumstances.fixture = Some("pico2 board, serial 7".to_owned());
                subject.circumstances.calibration = Some(0);
            }),
        ),
        ("without_id", example(|subject| subject.cell_id = None)),
    ]
}

/// Lines of the usual terminal, the last of which is the next prompt.
const LINES: usize = 23;

#[test]
fn each_kind_of_case_reads_as_expected_on_the_usual_terminal() {
    for (name, one) in kinds() {
        let text = screen(&one, 80);
        assert!(text.lines().count() <= LINES, "{name}\n{text}");
        insta::assert_snapshot!(name, text);
    }
}

#[test]
fn on_a_narrow_and_a_wide_terminal_it_reads_as_expected() {
    let shown = [
        "reuse",
        "recycle_by_capacity",
        "quarantine_swollen",
        "undecided_missing_steps",
        "critical_reacting",
    ];
    for (name, one) in kinds().into_iter().filter(|(name, _)| shown.contains(name)) {
        for width in [40, 120] {
            let text = screen(&one, width);
            let widest = text.lines().map(|line| line.chars().count()).max();
            assert!(widest <= Some(width), "{name} {width}\n{text}");
            insta::assert_snapshot!(format!("{name}_{width}"), text);
        }
    }
}

#[test]
fn in_words_it_reads_as_expected() {
    let shown = ["recycle_by_capacity", "critical_reacting"];
    for (name, one) in kinds().into_iter().filter(|(name, _)| shown.contains(name)) {
        insta::assert_snapshot!(format!("{name}_in_words"), on(&one, true, Terminal::new(80).in_words(true)));
    }
}

#[test]
fn where_no_book_holds_it_the_next_step_is_to_have_it_in_one() {
    for (name, one) in kinds().into_iter().filter(|(_, one)| one.cell.id.is_some()) {
        let text = flat(&on(&one, false, Terminal::new(80)));
        assert!(
            text.contains("the same with a book") && !text.contains("celltriage judge"),
            "{name}: {text}"
        );
        assert!(
            one.known.len() + usize::from(one.case_file.is_some()) > 0 || text.contains("no book was asked"),
            "{text}"
        );
    }
}

#[test]
fn each_fate_has_its_next_command_and_a_cell_without_a_number_gets_one_first() {
    let next = |name: &str| {
        let (_, one) = kinds().into_iter().find(|(kind, _)| *kind == name).unwrap();
        flat(&screen(&one, 80))
    };
    for (name, command) in [
        ("reuse", "trial fit PE-0412"),
        ("recycle_by_capacity", "judge PE-0412"),
        ("quarantine_swollen", "judge PE-0412"),
        ("undecided_missing_steps", "assess --id PE-0412"),
        ("undecided_screened", "guided --id PE-0412"),
        ("undecided_voltage_hidden", "judge PE-0412"),
        ("critical_reacting", "container hold PE-0412"),
        ("without_id", "Give it a number"),
    ] {
        assert!(next(name).contains(command), "{name}: {}", next(name));
    }
}

/// What reacts, or may, is told of before the cell is named.
#[test]
fn the_emergency_comes_before_the_fate() {
    for (name, one) in kinds() {
        let text = screen(&one, 80);
        let critical = one.verdict.condition == CellState::Critical;
        assert_eq!(text.starts_with("DANGER      STOP: hands off."), critical, "{name}: {text}");
        assert!(!critical || text.find("911") < text.find("QUARANTINE"), "{name}: {text}");
    }
}
