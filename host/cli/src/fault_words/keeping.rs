//! Faults about copies of the book, checkpoints, keys and blanking.

use crate::error::{Error, Kind};
use celltriage_workshop::KeepingFault;

/// Returns the error with its hints.
pub(super) fn of(fault: &KeepingFault) -> Error {
    let (kind, hint) = match fault {
        KeepingFault::InTheWay { .. } => {
            (Kind::Input, Some("give another path, or move that file away and keep it"))
        }
        KeepingFault::LeftOver { .. } => (
            Kind::Input,
            Some(
                "it may hold the last entries of that book: move it away together with the book's own file and keep both",
            ),
        ),
        KeepingFault::NotVerified { .. } => (
            Kind::Book,
            Some(
                "run `celltriage book verify` on that file; what can be read of it comes out with `celltriage book rescue`",
            ),
        ),
        KeepingFault::BesideTheBook { .. } => {
            (Kind::Input, Some("give a path on another machine's disk, or on one that is put away"))
        }
        KeepingFault::NotCheckpoints { .. } | KeepingFault::NoCheckpoint { .. } => (
            Kind::Input,
            Some("a checkpoint is what `celltriage book checkpoint` prints; nothing was written"),
        ),
        KeepingFault::OfAnotherBook { .. } => (Kind::Input, Some("keep a file of checkpoints for each book")),
        KeepingFault::NotHeld { .. } => (
            Kind::Book,
            Some(
                "do not write to the book; run `celltriage book verify --expect` with that file, and look for a backup",
            ),
        ),
        KeepingFault::NotExpected { .. } => {
            (Kind::Input, Some("for example `celltriage book verify --expect checkpoints.txt`"))
        }
        KeepingFault::NeverSigned => {
            (Kind::Input, Some("leave out `--signed-by`, or name the file of checkpoints"))
        }
        KeepingFault::NotAKey { .. } => {
            (Kind::Input, Some("`celltriage book key` makes one; give the file that it wrote"))
        }
        KeepingFault::ReasonNamesPerson { .. } => {
            (Kind::Input, Some("say why without the name: the reason stays in the book"))
        }
        _ => (Kind::Input, None),
    };
    Error::new(kind, fault).hints(hint)
}
