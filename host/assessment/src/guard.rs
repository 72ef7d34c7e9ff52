//! Which guard watched over a run, as far as the fixture's program has said: for the record.

use celltriage_instrument::program::Program;
use celltriage_protocol::description::Description;
use serde::{Deserialize, Serialize};

/// The guard of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GuardUsed {
    /// Newest wire version that the fixture speaks.
    pub wire_version: u8,
    /// Commit that the fixture's program was built from; `+` at its end where the sources differed from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub commit: Option<String>,
    /// Digest of the limits compiled in, sixteen hexadecimal digits.
    pub limits: String,
    /// Revision of the board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board_revision: Option<String>,
    /// Number of the start of the fixture's program; `None` where the board cannot count them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub boot: Option<u32>,
}

impl From<&Description> for GuardUsed {
    fn from(description: &Description) -> Self {
        let Program { commit, limits, board_revision, start, .. } = Program::from(description);
        Self { wire_version: description.versions.1, commit, limits, board_revision, boot: start }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recorded::Recorded;
    use celltriage_protocol::frame::{MAX_ENCODED, encode_reply};
    use celltriage_protocol::reply::Reply;

    #[test]
    fn a_recording_says_which_guard_it_was_and_an_old_one_says_nothing() {
        let description = Description {
            versions: (1, 2),
            boot: 9,
            commit: Some("0123456789ab".try_into().expect("short")),
            limits: 0xAB,
            ..Description::default()
        };
        let mut out = [0; MAX_ENCODED + 1];
        let frame = encode_reply(0, &Reply::Description(description), &mut out).expect("it fits");
        let guard = Recorded::read(frame, None).guard().expect("it is told");
        assert_eq!((guard.commit.as_deref(), guard.boot), (Some("0123456789ab"), Some(9)));
        let json = serde_json::to_string(&guard).expect("plain data");
        assert_eq!(
            json,
            r#"{"wire_version":2,"commit":"0123456789ab","limits":"00000000000000ab","boot":9}"#
        );
        assert_eq!(Recorded::read(&[], None).guard(), None);
    }
}
