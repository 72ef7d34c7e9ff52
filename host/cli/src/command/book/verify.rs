//! `book verify`: whether the book still says what was written, also beside what was noted elsewhere.

use super::progress::{Progress, counted, say_line, size};
use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_book::{BookFault, Key, Verification};
use celltriage_workshop::Workshop;
use celltriage_workshop::checkpoints::lies_beside;
use celltriage_workshop::copies::CopyStep;
use celltriage_workshop::expected::{Compared, Expected};
use serde_json::{Value, json};
use std::time::Instant;

/// Runs `book verify`.
///
/// # Errors
/// A book error where something does not fit; an input error where what is expected cannot be read.
pub(super) fn run(
    shop: &Workshop<'_>,
    (expect, signed_by): (Option<&str>, Option<&str>),
    kept: bool,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let expected = expect.map(Expected::read).transpose()?;
    let key: Option<Key> = signed_by
        .map(str::parse)
        .transpose()
        .map_err(|error| Error::input(format!("--signed-by {}: {error}", signed_by.unwrap_or_default())))?;
    // Before the long part: what is wrong with the call itself is told at once.
    let compared = expected.as_ref().map(|expected| shop.compare(expected, key)).transpose()?;
    let began = Instant::now();
    let mut progress = Progress::on(io);
    progress.step(CopyStep::Verifies);
    let found = if kept { shop.verify_with_kept(&mut |_| {})? } else { shop.verify()? };
    drop(progress);
    let seconds = began.elapsed().as_secs_f64();
    let count = found.faults.len() + compared.iter().flatten().map(|one| one.faults.len()).sum::<usize>();
    let path = shop.book().path().display().to_string();
    if as_json {
        let compared = compared.as_ref().map(|all| all.iter().map(compared_json).collect::<Vec<_>>());
        say_json(
            &json!({
                "schema": "celltriage.verification/1", "book": path, "entries": found.entries,
                "digest_of_last": found.last.map(|digest| digest.to_string()), "bytes": found.bytes, "seconds": seconds,
                "faults": faults_json(&found.faults), "expected": compared,
            }),
            io,
        )?;
    } else {
        tell_found(&found, &path, seconds, io);
        compared.iter().flatten().for_each(|one| tell_compared(one, io));
        if expected.is_none() && found.passed() {
            io.note(
                "by itself it cannot show that the last entries were cut off, or that everything was computed again: note \
                 how far the book has come where nobody who can write it can write (`celltriage book checkpoint`), and \
                 compare (`celltriage book verify --expect`)",
            );
        }
    }
    if let Some(Expected::Checkpoints { file, .. }) = &expected
        && lies_beside(shop.book().path(), file)
    {
        io.note(
            "warning: that file lies in the folder of the book: whoever can change the book can change it too, so it proves \
             nothing",
        );
    }
    if count == 0 {
        return Ok(EXIT_DONE);
    }
    let (faults, entries) =
        (counted(count as u64, "fault", "faults"), counted(found.entries, "entry", "entries"));
    Err(Error::book(format!("{path}: {faults} in {entries}"))
        .hint("do not write to it; keep the file as it is and compare it with a backup copy"))
}

fn tell_found(found: &Verification, path: &str, seconds: f64, io: &mut Io<'_>) {
    let entries = counted(found.entries, "entry", "entries");
    if found.passed() {
        io.say(&format!("{path}: {entries}, each as it was written"));
        let last = found.last.map_or_else(|| "none".to_owned(), |digest| digest.to_string());
        io.say(&format!("digest of the last entry: {last}"));
    } else {
        found.faults.iter().for_each(|fault| say_line(&fault_in_words(fault), io));
    }
    io.say(&format!("read and hashed {} in {seconds:.1} s", size(found.bytes)));
}

fn tell_compared(one: &Compared, io: &mut Io<'_>) {
    let what = match one.at {
        Some(at) => {
            let day = at.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
            format!("checkpoint of {day} ({})", counted(one.entries, "entry", "entries"))
        }
        None => format!("the expected {} of this bench", counted(one.entries, "entry", "entries")),
    };
    if one.faults.is_empty() {
        let signed = match one.signer {
            Some(key) => format!("; signed with the key {key}"),
            None => String::new(),
        };
        let held = "the book still holds what it held then";
        say_line(&format!("{what}: {held}{signed}; nothing is shown of later entries"), io);
    }
    for fault in &one.faults {
        let place = fault.entry.map_or_else(String::new, |number| format!("entry {number}: "));
        say_line(&format!("{what}: {place}{}", fault.what), io);
    }
}

/// Says a fault with its place.
pub(super) fn fault_in_words(fault: &BookFault) -> String {
    let place = fault.entry.map_or_else(|| "the file".to_owned(), |number| format!("entry {number}"));
    format!("{place}: {}", fault.what)
}

/// The same for machines.
pub(super) fn faults_json(faults: &[BookFault]) -> Vec<Value> {
    faults.iter().map(|fault| json!({ "entry": fault.entry, "what": fault.what })).collect()
}

fn compared_json(one: &Compared) -> Value {
    json!({
        "at": one.at.map(|at| at.to_string()), "entries": one.entries,
        "signed_by": one.signer.map(|key| key.to_string()), "faults": faults_json(&one.faults),
    })
}
