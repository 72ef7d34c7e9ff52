//! `book recompute`: a past decision made again from what was kept, and compared.

use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_assessment::comparison::METHOD;
use celltriage_book::PROGRAM;
use celltriage_workshop::Workshop;
use celltriage_workshop::decisions::Comparison;

/// Shows what differs where a decision is made again: by another method the differences are listed, by the same one they
/// are an error.
///
/// # Errors
/// A book error, also where the same method gives something else.
pub(super) fn recompute(shop: &Workshop<'_>, number: u64, io: &mut Io<'_>) -> Result<u8, Error> {
    let again = shop.recompute(number)?;
    for one in &again.different {
        io.say(&format!("{}: stored {}; now {}", one.what, one.stored, one.now));
    }
    if !again.other_rules.is_empty() {
        io.say(&format!("cautions of other rule packs than today's: {}", again.other_rules.join(", ")));
    }
    match again.comparison() {
        Comparison::Same => io.say("figures, fate and findings: as in the entry"),
        Comparison::OtherMethod => io.say(&format!(
            "the entry was made by method {}, this is method {METHOD}: what differs is listed above, and the entry \
             stands as it was stored",
            again.method
        )),
        Comparison::Wrong => {
            let what = format!("entry {number} comes out differently by the same method {METHOD}");
            return Err(Error::book(what).hint(format!(
                "it was written by {}; this is {PROGRAM}. Verify the book and report it",
                again.entry.program
            )));
        }
    }
    Ok(EXIT_DONE)
}
