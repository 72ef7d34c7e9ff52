//! The number of a recording.

use std::fmt;

/// The number of a recording: 1, 2, 3 and so on; not an entry's number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordingNumber(pub(super) u32);

impl fmt::Display for RecordingNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl From<RecordingNumber> for i64 {
    fn from(number: RecordingNumber) -> Self {
        number.0.into()
    }
}
