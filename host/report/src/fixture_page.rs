//! What is known of a connected fixture: identity, calibration, the checks of its self-test.

use celltriage_document::document::{Block, Document, Facts, Fitting, Heading, Paragraph, Table, Verbatim};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::connected::Connected;
use celltriage_instrument::live::Live;
use celltriage_instrument::program::{Program, StartCause};
use celltriage_instrument::self_test::{Check, Finding, passed};
use celltriage_protocol::calibration::{Calibration, Channel};

/// Narrower than this, the table of the self-test leaves out where its limits come from.
const WITH_SOURCES: usize = 96;
/// Column of the values of an identity.
const COLUMN: usize = 16;

/// Identity and calibration.
pub fn identity_page(connected: &Connected, calibration: &Calibration) -> Document {
    let identity = &connected.identity;
    let live = Live::from(&connected.state);
    let amps = |microamps: i32| format!("{:.1}", f64::from(microamps) / 1e6);
    let period = format!("{:.1}", f64::from(identity.shortest_period_us) / 1e3);
    let (pulse, steady) = (amps(identity.largest_pulse.get()), amps(identity.largest_steady.get()));
    let versions = identity.versions;
    let trip = live.trip.map_or(String::new(), |trip| format!(" ({trip})"));
    let mut page = Document::page(connected.name());
    let mut facts = vec![
        (Phrase::Link, connected.client.describe().into()),
        (Phrase::Board, say!(BoardAndFirmware, board = identity.board, firmware = identity.firmware)),
        (Phrase::Speaks, say!(WireVersions, first = versions.0, last = versions.1)),
    ];
    if let Some(known) = connected.program() {
        facts.extend(program(&known));
    }
    facts.extend([
        (Phrase::Sink, say!(SinkOf, pulse = pulse, steady = steady, period = period)),
        (Phrase::Doing, format!("{}{trip}", live.activity).into()),
        (
            Phrase::Calibration,
            match calibration.number {
                0 => Phrase::NeverCalibrated.into(),
                number => say!(CalibrationNumber, number = number),
            },
        ),
    ]);
    page.push(Paragraph::of(connected.name())).push(Facts::of(facts).at(COLUMN));
    let rows = channels(calibration).map(|(name, channel, unit)| {
        format!("{name:<22}{:+7} ppm {:+7} {unit}", channel.gain_ppm, channel.offset)
    });
    page.push(Verbatim { indent: 4, text: rows.join("\n").into() });
    page
}

/// The program, how it came to run, and what ended the ones before it.
fn program(program: &Program) -> Vec<(Phrase, Text)> {
    let unknown = || Text::from(Phrase::NotKnown).said();
    let known = |text: &Option<String>| text.clone().unwrap_or_else(unknown);
    let number = program.start.map_or_else(unknown, |number| number.to_string());
    let cause = program.started_by.map_or(Phrase::NotKnown, |cause| match cause {
        StartCause::PowerOn => Phrase::PowerOn,
        StartCause::BrownOut => Phrase::BrownOut,
        StartCause::Pin => Phrase::ResetPin,
        StartCause::Watchdog => Phrase::Watchdog,
        StartCause::Request => Phrase::ResetRequest,
        StartCause::Failure => Phrase::ProgramFailure,
        StartCause::Debugger => Phrase::Debugger,
    });
    let (commit, revision) = (known(&program.commit), known(&program.board_revision));
    let mut facts = vec![
        (
            Phrase::FixtureProgram,
            say!(ProgramOf, commit = commit, revision = revision, limits = program.limits),
        ),
        (Phrase::Started, say!(StartOf, number = number, cause = Text::from(cause).said())),
    ];
    if let Some(failure) = &program.last_failure {
        facts.push((Phrase::LastFailure, say!(FailureOf, number = failure.start, place = failure.place)));
    }
    if let Some(trip) = &program.last_trip {
        facts.push((Phrase::LastTrip, say!(TripOf, number = trip.start, cause = trip.cause)));
    }
    facts
}

/// Returns the channels of a calibration with their names and the unit of their offsets.
pub fn channels(calibration: &Calibration) -> [(&'static str, Channel, &'static str); 4] {
    [
        ("voltage", calibration.voltage, "uV"),
        ("current", calibration.current, "uA"),
        ("cell thermometer", calibration.cell_temperature, "m°C"),
        ("air thermometer", calibration.ambient_temperature, "m°C"),
    ]
}

/// The checks of a self-test; `load` says whether the sink was tried too, `with_load` and `elsewhere` how to try it and where
/// to read the sources of the limits.
pub fn checks_page(checks: &[Check], load: bool, with_load: &str, elsewhere: &str) -> Document {
    let headings = [Phrase::Check, Phrase::MeasuredColumn, Phrase::Limit, Phrase::Finding, Phrase::LimitFrom];
    let table = |columns: usize, widest: &[usize]| {
        let mut table = Table::under(headings.into_iter().take(columns)).widest(widest).indented(0);
        for check in checks {
            table.row(cells(check).into_iter().take(columns));
        }
        Block::from(table)
    };
    let mut page = Document::page(Phrase::SelfTestTitle);
    page.push(Fitting {
        least: WITH_SOURCES,
        wide: vec![table(5, &[28, 12, 12, 8])],
        narrow: vec![table(4, &[40, 12, 12]), Paragraph::of(say!(WhereLimits, elsewhere = elsewhere)).into()],
    });
    for check in checks.iter().filter(|check| check.finding != Finding::Pass) {
        if let Some(note) = &check.note {
            page.push(Paragraph::of(format!("{}: {note}", check.title)).after(0, "!", 2));
        }
    }
    let last = match (passed(checks), load) {
        (true, true) => Phrase::AllPassed.into(),
        (true, false) => say!(PassedWithoutLoad, more = with_load),
        (false, _) => Phrase::NotPassed.into(),
    };
    page.push(Block::Space).push(Heading::label(last));
    page
}

fn cells(check: &Check) -> [Text; 5] {
    let figure = |value: f64| format!("{value:.3} {}", check.unit);
    let limit = if check.unit.is_empty() { "-".to_owned() } else { format!("± {}", figure(check.limit)) };
    [
        check.title.as_str().into(),
        check.measured.map_or("-".to_owned(), figure).into(),
        limit.into(),
        check.finding.word().into(),
        check.source.as_str().into(),
    ]
}
