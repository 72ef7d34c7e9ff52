//! What can go wrong with a fixture as an instrument.

use celltriage_book::BookError;
use celltriage_link::LinkError;
use celltriage_protocol::event::{Outcome, Trip};
use celltriage_verdict::trip_key;
use thiserror::Error;

/// A fault of a fixture, of the way to it, or of what the book has of it.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum InstrumentError {
    /// The link.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The book.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The built-in error budget cannot be used; a build from a changed source.
    #[error("{source_file}, built into this program{fault}")]
    Budget {
        /// The file it was made from.
        source_file: &'static str,
        /// What is wrong with it, as the end of a sentence.
        fault: String,
    },
    /// There is no such simulated cell.
    #[error("there is no simulated cell `{kind}`")]
    NoSuchCell {
        /// What was asked for.
        kind: String,
        /// What there is.
        kinds: Vec<String>,
    },
    /// There is no such simulated fixture.
    #[error("there is no simulated `{kind}`")]
    NoSuchKind {
        /// What was asked for.
        kind: String,
        /// What there is.
        kinds: Vec<String>,
    },
    /// Another program uses it.
    #[error("the fixture is running a plan for another program")]
    Running,
    /// A trip is latched.
    #[error("the fixture has latched a trip ({cause}) and holds the load off")]
    Latched {
        /// Its cause, or `unknown`.
        cause: &'static str,
    },
    /// The guard tripped during a plan.
    #[error("the fixture's guard tripped: {} (value {}, limit {}); load off", trip_key(.0.cause), .0.value, .0.limit)]
    Tripped(Trip),
    /// A person stopped the plan.
    #[error("stopped by a person; nothing was changed")]
    Stopped,
    /// The plan ended before its last step.
    #[error("the plan ended early ({0:?})")]
    EndedEarly(Outcome),
    /// A step without a sample.
    #[error("a step brought no sample")]
    NoSample,
    /// The check standard's voltage must fall under load.
    #[error("the voltage did not fall under load (by {fall_v:.4} V); nothing was written")]
    NoFall {
        /// By how much it fell.
        fall_v: f64,
    },
    /// An answer of the wrong kind.
    #[error("the fixture answered `{asked}` with something else")]
    OutOfPlace {
        /// What was asked.
        asked: &'static str,
    },
    /// The new calibration was refused.
    #[error(transparent)]
    CalibrationRefused(LinkError),
    /// The link broke while a calibration was stored.
    #[error(transparent)]
    CalibrationUnknown(LinkError),
    /// The fixture uses another calibration than the one it was given.
    #[error("the fixture did not store calibration {wanted}; it uses {used}")]
    NotStored {
        /// Number of the new one.
        wanted: u32,
        /// Number of the one in use.
        used: u32,
    },
    /// The book knows no check standard of this name, or none at all.
    #[error("the book knows no check standard{}", name.as_ref().map(|name| format!(" `{name}`")).unwrap_or_default())]
    NoStandard {
        /// The name asked for.
        name: Option<String>,
        /// Those it knows.
        known: Vec<String>,
    },
    /// The book knows several check standards, and none was named.
    #[error("the book knows {} check standards", known.len())]
    SeveralStandards {
        /// Their names.
        known: Vec<String>,
    },
}

impl InstrumentError {
    /// Returns whether it is about a measurement: the fixture, the link, or what was read.
    pub const fn is_of_measurement(&self) -> bool {
        !matches!(
            self,
            Self::Book(_)
                | Self::Budget { .. }
                | Self::NoSuchCell { .. }
                | Self::NoSuchKind { .. }
                | Self::NoStandard { .. }
                | Self::SeveralStandards { .. }
        )
    }
}

/// What the functions of this crate return.
pub type Result<T, E = InstrumentError> = std::result::Result<T, E>;
