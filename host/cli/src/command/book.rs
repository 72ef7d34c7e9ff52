//! `book`: list, show an entry or a cell's whole story, find, recompute, export, verify.

use super::stands_now::StandsNow;
use super::{say_json, show_below};
use crate::arguments::{BookAction, BookArguments};
use crate::clock_check::open_to_read;
use crate::error::{EXIT_DONE, Error, Kind};
use crate::io::Io;
use celltriage_assessment::comparison::{METHOD, changed_rules, differences};
use celltriage_assessment::record;
use celltriage_assessment::recorded::Recorded;
use celltriage_custody::check::Circumstances;
use celltriage_custody::ledger::event_of;
use celltriage_custody::story::{Story, chapter, story};
use celltriage_custody::{PackRules, State};
use celltriage_instrument::simulated::{FIRST_LINE, marked};

use celltriage_book::{Book, Entry, Filter, PROGRAM};
use celltriage_document::wrap::wrapped;
use celltriage_measure::bdf;
use celltriage_report::known_page::struck_page;
use celltriage_report::story_page::{entry_page, story_page};
use celltriage_rules::Packs;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// Runs `book`.
///
/// # Errors
/// A book error, or an input error where an entry does not exist.
pub fn run(arguments: &BookArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let book = open_to_read(&arguments.book.path, io)?;
    match &arguments.action {
        BookAction::List { fate, most, json } => {
            let filter = Filter { fate: fate.clone(), limit: Some(*most), ..Filter::default() };
            let mut entries = book.entries(&filter)?;
            entries.sort_by_key(|entry| entry.number);
            list(&entries, *json, io)?;
            for unfinished in book.unfinished_recordings()? {
                io.note(&format!(
                    "note: recording {} of cell {} ({} bytes, begun {}) was never judged: the program ended before it",
                    unfinished.number, unfinished.cell_id, unfinished.length, unfinished.at
                ));
            }
        }
        BookAction::Find { text, json } => list(&book.find(text)?, *json, io)?,
        BookAction::Show { what, cell, rules, json } => {
            let packs = crate::command::rules::read_packs(rules.as_deref())?;
            match what.parse::<u64>().ok().filter(|_| !cell) {
                Some(number) => show_entry(&book, &entry(&book, number)?, packs, *json, io)?,
                None => show_story(&book, what, packs, *json, io)?,
            }
        }
        BookAction::Recompute { number } => return recompute(&book, *number, io),
        BookAction::Export { number, folder } => export(&book, *number, folder, io)?,
        BookAction::Verify => return verify(&book, io),
    }
    Ok(EXIT_DONE)
}

/// Shows an entry: an assessment in full and what happened to the cell after it, or another event with all it says.
fn show_entry(book: &Book, entry: &Entry, packs: Packs, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let Some(signed) = event_of(book, entry)? else {
        if entry.kind != record::ASSESSMENT {
            return show_event(book, entry, as_json, io);
        }
        let mut state = State::read(book)?;
        if let Some(struck) = state.struck.remove(&entry.number).filter(|_| !as_json) {
            io.show(&struck_page(&struck));
        }
        let assessment = record::assessment_of(entry)?;
        let now = StandsNow::of(&state, entry, None).since(&assessment.known);
        show_below(&now.known, &assessment, as_json, io)?;
        if !as_json {
            io.say(&kept_with(book, entry)?);
            let told = tell(book, &entry.cell_id, packs, io)?;
            if told.happened.len() > 1 {
                io.say("");
                io.show(&story_page(&told));
            }
        }
        return Ok(());
    };
    let state = State::read(book)?;
    let now = StandsNow::of(&state, entry, Some(&signed.event));
    if as_json {
        return say_json(&event_json(entry, &now), io);
    }
    now.say(&entry.cell_id, io);
    let told = chapter(entry, Some(&signed), &state);
    io.show(&entry_page(&told));
    io.say(&kept_with(book, entry)?);
    Ok(())
}

/// Shows the whole story of a cell.
fn show_story(book: &Book, cell: &str, packs: Packs, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let told = tell(book, cell, packs, io)?;
    if as_json {
        // A cell can have several things due.
        let mut now = BTreeMap::<String, Vec<&str>>::new();
        for (name, value) in &told.now {
            now.entry(name.replace(' ', "_")).or_default().push(value);
        }
        let mut story = json!({
            "schema": "celltriage.story/1", "cell": told.cell, "now": now, "happened": told.happened,
        });
        if let Some(members) = story.as_object_mut().filter(|_| told.simulated) {
            members.insert("simulated".to_owned(), true.into());
        }
        return say_json(&story, io);
    }
    if told.simulated {
        io.say(FIRST_LINE);
    }
    io.show(&story_page(&told));
    Ok(())
}

fn tell(book: &Book, cell: &str, packs: Packs, io: &Io<'_>) -> Result<Story, Error> {
    let rules = PackRules::new(packs);
    let today = io.today();
    Ok(story(book, cell, &Circumstances { today, rules: &rules })?)
}

fn entry(book: &Book, number: u64) -> Result<Entry, Error> {
    let found = match u32::try_from(number) {
        Ok(number) => book.entry(number)?,
        Err(_) => None,
    };
    found.ok_or_else(|| {
        Error::input(format!("{} has no entry {number}", book.path().display()))
            .hint("`celltriage book list` shows what there is")
    })
}

/// Fewest columns that words need beside the columns of a row.
const ROOM: usize = 20;

/// Breaks a line that is too long between words; its columns (number, day, cell, fate) stay, and what goes on stands below
/// the last of them.
fn broken(line: &str, width: usize) -> String {
    if line.chars().count() <= width {
        return line.to_owned();
    }
    let columns = line.rfind("  ").map_or(0, |at| at + 2);
    let (columns, text) = line.split_at_checked(columns).unwrap_or(("", line));
    let taken = columns.chars().count();
    let (columns, taken, text) = if taken + ROOM <= width { (columns, taken, text) } else { ("", 2, line) };
    format!(
        "{columns}{}",
        wrapped(text, width.saturating_sub(taken)).join(&format!("\n{}", " ".repeat(taken)))
    )
}

fn list(entries: &[Entry], as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if as_json {
        let rows: Vec<Value> = entries
            .iter()
            .map(|entry| {
                json!({
                    "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind, "cell": entry.cell_id,
                    "fate": entry.fate, "summary": entry.summary, "program": entry.program,
                    "corrects": entry.corrects, "simulated": celltriage_custody::simulated::of_entry(entry),
                })
            })
            .collect();
        let text = serde_json::to_string_pretty(&rows).map_err(|error| Error::book(error.to_string()))?;
        io.say(&text);
        return Ok(());
    }
    for entry in entries {
        let day = entry.at.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
        // Also where the entry was written before the word stood in its line.
        let summary = marked(&entry.summary, celltriage_custody::simulated::of_entry(entry) == Some(true));
        let line = format!("{:>5}  {day}  {summary}", entry.number);
        // Who reads on gets one line an entry; a terminal would break it inside a word.
        let line = if io.screen { broken(&line, io.width) } else { line };
        io.say(&line);
    }
    if entries.is_empty() {
        io.note("no entries");
    }
    Ok(())
}

/// Shows an entry that is neither an assessment nor of custody: what happened, with every figure that was written.
fn show_event(book: &Book, entry: &Entry, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let mut state = State::read(book)?;
    let now = StandsNow::of(&state, entry, None);
    if as_json {
        return say_json(&event_json(entry, &now), io);
    }
    now.say(&entry.cell_id, io);
    if let Some(struck) = state.struck.remove(&entry.number) {
        io.show(&struck_page(&struck));
    }
    io.say(&format!("{} · {}\n{}\n", entry.kind, entry.cell_id, entry.summary));
    io.say(&serde_json::to_string_pretty(&entry.inputs)?);
    io.say(&kept_with(book, entry)?);
    Ok(())
}

/// An event of the book for machines.
fn event_json(entry: &Entry, now: &StandsNow) -> Value {
    let mut event = json!({
        "schema": "celltriage.event/1", "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind,
        "subject": entry.cell_id, "summary": entry.summary, "program": entry.program, "event": entry.inputs,
    });
    if let Some(members) = event.as_object_mut() {
        if now.simulated {
            members.insert("simulated".to_owned(), true.into());
        }
        if !now.known.is_empty() {
            members.insert("known_since".to_owned(), json!(now.known));
        }
    }
    event
}

/// What was kept with an entry, for people.
fn kept_with(book: &Book, entry: &Entry) -> Result<String, Error> {
    let mut text = format!("entry {} · written {} by {}", entry.number, entry.at, entry.program);
    for attachment in book.attachments_of(entry.number)? {
        text.push_str(&format!("\n  kept: {} ({} bytes)", attachment.name, attachment.length));
    }
    for recording in book.recordings_of(entry.number)? {
        text.push_str(&format!(
            "\n  kept: recording {} ({} bytes of frames)",
            recording.number, recording.length
        ));
    }
    Ok(text)
}

/// Makes a decision again and compares: by the same method every figure and finding must come out as stored; by another
/// method the differences are listed.
fn recompute(book: &Book, number: u64, io: &mut Io<'_>) -> Result<u8, Error> {
    let entry = entry(book, number)?;
    let stored = record::assessment_of(&entry)?;
    let now = record::recompute(book, &entry)?;
    let method = record::method_of(&entry)?;
    let different = differences(&stored, &now);
    for one in &different {
        io.say(&format!("{}: stored {}; now {}", one.what, one.stored, one.now));
    }
    let rules = changed_rules(&stored, &now);
    if !rules.is_empty() {
        io.say(&format!("cautions of other rule packs than today's: {}", rules.join(", ")));
    }
    if different.is_empty() {
        io.say("figures, fate and findings: as in the entry");
        return Ok(EXIT_DONE);
    }
    if method != METHOD {
        io.say(&format!(
            "the entry was made by method {method}, this is method {METHOD}: what differs is listed above, and the entry \
             stands as it was stored"
        ));
        return Ok(EXIT_DONE);
    }
    Err(Error {
        kind: Kind::Book,
        message: format!("entry {number} comes out differently by the same method {METHOD}"),
        hints: Vec::new(),
    }
    .hint(format!("it was written by {}; this is {PROGRAM}. Verify the book and report it", entry.program)))
}

fn export(book: &Book, number: u64, folder: &Path, io: &mut Io<'_>) -> Result<(), Error> {
    let entry = entry(book, number)?;
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, bytes)
            .map_err(|error| Error::input(format!("cannot write {}: {error}", path.display())))?;
        Ok::<_, Error>(path)
    };
    std::fs::create_dir_all(folder)
        .map_err(|error| Error::input(format!("cannot make {}: {error}", folder.display())))?;
    let mut written = Vec::new();
    for attachment in book.attachments_of(entry.number)? {
        // The name was given by a person: only its last part is used, so that nothing is written outside the folder.
        let name = Path::new(&attachment.name).file_name().unwrap_or_default().to_string_lossy().into_owned();
        if let Some(bytes) = book.attachment(attachment.sha256)? {
            written.push(write(&name, &bytes)?);
        }
    }
    for recording in book.recordings_of(entry.number)? {
        if let Some(bytes) = book.recording(recording.number)? {
            let name = format!("recording-{}", recording.number);
            written.push(write(&format!("{name}.frames"), &bytes)?);
            // The same as an open table, for whoever has other tools.
            if let Some(trace) = Recorded::read(&bytes, None).trace {
                let mut table = Vec::new();
                bdf::write(&mut table, &trace)
                    .map_err(|error| Error::input(format!("cannot write {name}.csv: {error}")))?;
                written.push(write(&format!("{name}.csv"), &table)?);
            }
        }
    }
    let result =
        serde_json::to_string_pretty(&entry.result).map_err(|error| Error::book(error.to_string()))?;
    written.push(write("assessment.json", result.as_bytes())?);
    for path in written {
        io.say(&path.display().to_string());
    }
    Ok(())
}

fn verify(book: &Book, io: &mut Io<'_>) -> Result<u8, Error> {
    let found = book.verify()?;
    let path = book.path().display();
    if found.passed() {
        let last = found.last.map_or_else(|| "none".to_owned(), |digest| digest.to_string());
        io.say(&format!("{path}: {} entries, each as it was written", found.entries));
        io.say(&format!("digest of the last entry: {last}"));
        io.say("note the digest outside the book: it shows later whether entries were cut off at the end");
        return Ok(EXIT_DONE);
    }
    for fault in &found.faults {
        let place = fault.entry.map_or_else(|| "the file".to_owned(), |number| format!("entry {number}"));
        io.say(&format!("{place}: {}", fault.what));
    }
    Err(Error::book(format!("{path}: {} faults in {} entries", found.faults.len(), found.entries))
        .hint("do not write to it; keep the file as it is and compare it with a backup copy"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_that_is_too_long_breaks_between_words_below_its_last_column() {
        let row = "    7  2026-11-25 12:00  PE-1  REUSE   one two three four five six seven";
        assert_eq!(broken(row, 80), row);
        let told = broken(row, 60);
        let lines: Vec<&str> = told.trim_end().lines().collect();
        assert_eq!(lines.first(), Some(&"    7  2026-11-25 12:00  PE-1  REUSE   one two three four"));
        assert_eq!(lines.get(1).map(|line| line.trim_start()), Some("five six seven"));
        // No room beside the columns: below them.
        let narrow = broken(row, 40);
        assert!(narrow.lines().all(|line| line.chars().count() <= 40), "{narrow}");
        assert_eq!(narrow.split_whitespace().last(), Some("seven"));
    }
}
