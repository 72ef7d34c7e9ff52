//! `book checkpoint`: how far the book has come, to be noted elsewhere.

use super::progress::counted;
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_book::Checkpoint;
use celltriage_workshop::Workshop;
use celltriage_workshop::key_file::read_key;
use serde_json::json;
use std::path::Path;

/// Runs `book checkpoint`: its text goes to standard output, what it proves beside it.
///
/// # Errors
/// A book error; an input error where file or key lie beside the book or cannot be used.
pub(super) fn run(
    shop: &Workshop<'_>,
    (to, sign): (Option<&Path>, Option<&Path>),
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let key = sign.map(|file| read_key(shop.book().path(), file)).transpose()?;
    let checkpoint = shop.checkpoint(key.as_ref())?;
    if let Some(file) = to {
        shop.note(&checkpoint, file)?;
    }
    if as_json {
        say_json(&in_json(shop, &checkpoint)?, io)?;
    } else {
        io.say(&checkpoint.to_string());
    }
    if let Some(file) = to {
        io.note(&format!("noted in {}", file.display()));
    }
    tell_what_it_shows(&checkpoint, to, io);
    Ok(EXIT_DONE)
}

/// Says what the checkpoint proves and what not.
fn tell_what_it_shows(checkpoint: &Checkpoint, to: Option<&Path>, io: &mut Io<'_>) {
    let covered: u64 = checkpoint.chains.iter().map(|chain| u64::from(chain.entries)).sum();
    if covered == 0 {
        io.note("the book has no entry yet: this checkpoint covers nothing");
        return;
    }
    let covered = counted(covered, "entry", "entries");
    io.note(&format!(
        "it covers {covered}. Kept where nobody who can write the book can write (on paper, on another machine), it shows \
         later each change, cut or new computation of these",
    ));
    io.note(match checkpoint.signed {
        Some(_) => {
            "signed, it shows also that whoever holds the key noted it. It does not show when, nor that the entries were \
             true, nor anything of what is written after it"
        }
        None => "it does not show who noted it or when, nor anything of what is written after it",
    });
    io.note("it says how far the book has come, not that it verified: for that, `celltriage book verify`");
    let file = to.map_or_else(|| "FILE".to_owned(), |file| file.display().to_string());
    let digest = checkpoint.chains.first().map(|head| format!("{}:{}", head.entries, head.digest));
    io.note(&format!(
        "to compare later: `celltriage book verify --expect {file}`, or from paper `celltriage book verify --expect {}`",
        digest.unwrap_or_default()
    ));
}

fn in_json(shop: &Workshop<'_>, checkpoint: &Checkpoint) -> Result<serde_json::Value, Error> {
    let known = shop.book().identity()?.chains;
    let chains = checkpoint.chains.iter().map(|head| {
        let bench = known.iter().find(|chain| chain.id == head.chain).map(|chain| &chain.bench);
        json!({
            "chain": head.chain.to_string(), "bench": bench, "entries": head.entries, "digest": head.digest.to_string(),
        })
    });
    let chains: Vec<_> = chains.collect();
    Ok(json!({
        "schema": "celltriage.checkpoint/1", "book": checkpoint.book.to_string(), "at": checkpoint.at.to_string(),
        "chains": chains, "signed_by": checkpoint.signer().map(|key| key.to_string()), "text": checkpoint.to_string(),
    }))
}
