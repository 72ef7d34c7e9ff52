//! Faults of what is wanted of a fixture, as the person at the terminal meets them: only here are options named for them.

use crate::command::hot_cell_watch::{alarm_option, span_option};
use crate::error::{Error, Kind};
use crate::fault_words::update;
use celltriage_workshop::fixture::FixtureFault;

/// What to do about a standard that was never measured.
const MEASURE_IT: &str = "`celltriage fixture check-standard measure`";

impl From<FixtureFault> for Error {
    fn from(fault: FixtureFault) -> Self {
        let hint = match &fault {
            FixtureFault::StoredButNotWritten { .. } => return stored_but_not_written(fault),
            FixtureFault::UpdatedButNotWritten { .. } => return updated_but_not_written(fault),
            FixtureFault::Image { .. }
            | FixtureFault::Misfit(_)
            | FixtureFault::SameProgram { .. }
            | FixtureFault::NoBootProgram { .. }
            | FixtureFault::WaitsInBootProgram { .. }
            | FixtureFault::Update(_) => return update::of(&fault),
            FixtureFault::AlarmLimit { of, given, usual, most } => {
                return Self::input(format!("{} {given} is no alarm limit", alarm_option(*of)))
                    .hint(format!("give more than 0 and at most {most}; without it, {usual}"));
            }
            FixtureFault::Span { of, given_s, least_s, most_s } => {
                return Self::input(format!("{}: {given_s} s is no usable span", span_option(*of)))
                    .hint(format!("between {least_s} s and {most_s} s"));
            }
            FixtureFault::Reference { .. } => {
                "give the limits of its data sheet: at most 2 %, at most 0.5 V, A or K, and not both zero".to_owned()
            }
            FixtureFault::Point { .. } => "nothing was stored; begin again".to_owned(),
            FixtureFault::Points { .. } => "nothing was stored; correct it and begin again".to_owned(),
            FixtureFault::Thermometer { .. } => {
                "put both thermometers and the reference on one block of metal under a cloth, between 5 and 45 °C, for half \
                 an hour"
                    .to_owned()
            }
            FixtureFault::ThermometerSilent => "see `celltriage fixture watch`".to_owned(),
            FixtureFault::Current { most, .. } => format!("give 0 to {most} A"),
            FixtureFault::Standard { .. } => {
                "a standard has 1 to 1000 mOhm, best the 30 to 150 mOhm of cells, and a limit of 0.01 to 5 %".to_owned()
            }
            FixtureFault::Source { .. } => {
                "a known source has 3.0 to 4.5 V, as cells have, and a limit of 0.01 to 100 mV".to_owned()
            }
            FixtureFault::NotASerial { .. } => "sixteen hexadecimal digits".to_owned(),
            FixtureFault::NeverMeasured { .. } | FixtureFault::NothingMeasured => MEASURE_IT.to_owned(),
            FixtureFault::SourceUnknown { .. } => {
                "tell it: `celltriage fixture check-standard define ... --source-v V --source-limit-mv MV`, then measure"
                    .to_owned()
            }
            FixtureFault::SeveralFixtures { names } => format!("say which with --serial: {}", names.join(", ")),
            _ => return Self::new(kind_of(&fault), &fault),
        };
        Self::new(kind_of(&fault), &fault).hint(hint)
    }
}

const fn kind_of(fault: &FixtureFault) -> Kind {
    match fault {
        FixtureFault::ThermometerSilent => Kind::Measurement,
        _ => Kind::Input,
    }
}

/// The record is printed whole: the fixture has it, and the book does not.
fn stored_but_not_written(fault: FixtureFault) -> Error {
    let FixtureFault::StoredButNotWritten { record, error } = fault else {
        return Error::input(fault.to_string());
    };
    let kept = serde_json::to_string(&record).unwrap_or_default();
    Error::from(*error)
        .hint(format!("the fixture HAS stored calibration {}; keep this: {kept}", record.new.number))
}

/// The fixture has its new program, and the book does not say so.
fn updated_but_not_written(fault: FixtureFault) -> Error {
    let FixtureFault::UpdatedButNotWritten { record, error } = fault else {
        return Error::input(fault.to_string());
    };
    let kept = serde_json::to_string(&record).unwrap_or_default();
    Error::from(*error).hint(format!("the fixture HAS its new program; keep this: {kept}"))
}

/// Says how to name one of several standards.
pub(crate) fn which_standard(known: &[String]) -> String {
    format!("say which with --standard: {}", known.join(", "))
}
