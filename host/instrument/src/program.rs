//! The program that runs on a fixture: what it was built from, how it came to run, what ended the ones before it.

use celltriage_protocol::description::{Description, ResetCause};
use celltriage_verdict::trip_key;
use serde::Serialize;

/// The fixture's program, as it describes itself; what it does not know is `None`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Program {
    /// Commit that it was built from; `+` at its end where the sources differed from it.
    pub commit: Option<String>,
    /// Digest of the limits compiled in, sixteen hexadecimal digits.
    pub limits: String,
    /// Revision of the board.
    pub board_revision: Option<String>,
    /// Number of this start.
    pub start: Option<u32>,
    /// Why it was started.
    pub started_by: Option<StartCause>,
    /// The last failure of the program before this start.
    pub last_failure: Option<Failure>,
    /// The last trip before this start.
    pub last_trip: Option<TripBefore>,
}

/// Why a program was started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StartCause {
    /// Power came on.
    PowerOn,
    /// The supply dipped.
    BrownOut,
    /// The reset input.
    Pin,
    /// The watchdog.
    Watchdog,
    /// The program itself, on request.
    Request,
    /// The program itself, after a failure.
    Failure,
    /// A debugger.
    Debugger,
}

/// A failure of the program before this start.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Failure {
    /// Number of the start that it ended.
    pub start: u32,
    /// Addresses of the calls under way, hexadecimal, newest first.
    pub place: String,
}

/// A trip before this start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TripBefore {
    /// Number of the start in which it happened.
    pub start: u32,
    /// Its cause, as in the record of a run.
    pub cause: &'static str,
}

impl From<&Description> for Program {
    fn from(description: &Description) -> Self {
        Self {
            commit: description.commit.as_ref().map(ToString::to_string),
            limits: format!("{:016x}", description.limits),
            board_revision: description.revision.as_ref().map(ToString::to_string),
            start: (description.boot > 0).then_some(description.boot),
            started_by: description.reset.map(StartCause::from),
            last_failure: description
                .panic
                .as_ref()
                .map(|panic| Failure { start: panic.boot, place: panic.place.to_string() }),
            last_trip: description
                .trip
                .map(|past| TripBefore { start: past.boot, cause: trip_key(past.trip.cause) }),
        }
    }
}

impl From<ResetCause> for StartCause {
    fn from(cause: ResetCause) -> Self {
        match cause {
            ResetCause::PowerOn => Self::PowerOn,
            ResetCause::BrownOut => Self::BrownOut,
            ResetCause::Pin => Self::Pin,
            ResetCause::Watchdog => Self::Watchdog,
            ResetCause::Request => Self::Request,
            ResetCause::Panic => Self::Failure,
            ResetCause::Debugger => Self::Debugger,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_protocol::description::{PastPanic, PastTrip};
    use celltriage_protocol::event::{Trip, TripCause};
    use celltriage_protocol::units::Micros;

    #[test]
    fn what_a_fixture_knows_of_its_starts_is_said_and_what_it_does_not_know_is_left_open() {
        let unknown = Program::from(&Description::default());
        assert_eq!((unknown.commit, unknown.start, unknown.started_by), (None, None, None));
        assert_eq!((unknown.last_failure, unknown.last_trip), (None, None));
        let trip = Trip { number: 3, cause: TripCause::VoltageFloor, value: 1, limit: 2, at: Micros::ZERO };
        let known = Program::from(&Description {
            boot: 9,
            commit: Some("0123456789ab+".try_into().expect("it fits")),
            limits: 0xAB,
            reset: Some(ResetCause::Panic),
            panic: Some(PastPanic { boot: 8, place: "100012ab".try_into().expect("it fits") }),
            trip: Some(PastTrip { boot: 7, trip }),
            ..Description::default()
        });
        let json = serde_json::to_value(&known).expect("plain data");
        assert_eq!(json["limits"], "00000000000000ab");
        assert_eq!((&json["start"], &json["started_by"]), (&9.into(), &"failure".into()));
        assert_eq!(json["last_failure"]["place"], "100012ab");
        assert_eq!(
            (&json["last_trip"]["start"], &json["last_trip"]["cause"]),
            (&7.into(), &"voltage_floor".into())
        );
    }
}
