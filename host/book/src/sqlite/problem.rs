//! What SQLite reports, as a problem of the book.

use rusqlite::ErrorCode;

use super::super::Problem;

impl From<rusqlite::Error> for Problem {
    fn from(error: rusqlite::Error) -> Self {
        let detail = error.to_string();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Locked,
            Some(ErrorCode::DiskFull) => Self::DiskFull,
            Some(ErrorCode::DatabaseCorrupt) => Self::Corrupt { detail },
            Some(ErrorCode::NotADatabase) => {
                Self::NotABook { found: "a file that is not a SQLite database".into() }
            }
            Some(ErrorCode::ReadOnly) => Self::ReadOnly,
            Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => Self::CannotOpen { detail },
            Some(ErrorCode::ConstraintViolation) => Self::Refused { rule: detail },
            _ => match error {
                // A value of the wrong type or range in a row of ours: someone else wrote it.
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::InvalidColumnType(..) => Self::Corrupt { detail },
                other => Self::Storage(other),
            },
        }
    }
}
