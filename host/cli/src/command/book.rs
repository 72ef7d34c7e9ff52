//! `book`: list, show an entry or a cell's whole story, find, recompute, export, verify.

use super::{say_json, show_below, stands_now};
use crate::arguments::{BookAction, BookArguments};
use crate::clock_check::open_to_read;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_assessment::comparison::METHOD;
use celltriage_book::{Entry, PROGRAM};
use celltriage_custody::PackRules;
use celltriage_custody::story::Story;
use celltriage_document::wrap::wrapped;
use celltriage_instrument::simulated::{FIRST_LINE, marked};
use celltriage_report::known_page::struck_page;
use celltriage_report::story_page::{entry_page, story_page};
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::decisions::Comparison;
use celltriage_workshop::entries::{Content, EntryView};
use celltriage_workshop::stands_now::StandsNow;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// Runs `book`.
///
/// # Errors
/// A book error, or an input error where an entry does not exist.
pub fn run(arguments: &BookArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let clock = HeldClock::at(io.now);
    let shop = Workshop::new(open_to_read(&arguments.book.path, io)?, &clock, io.zone.clone());
    match &arguments.action {
        BookAction::List { fate, most, json } => {
            let listed = shop.entries(fate.as_deref(), *most)?;
            list(&listed.entries, *json, io)?;
            for unfinished in listed.unfinished {
                io.note(&format!(
                    "note: recording {} of cell {} ({} bytes, begun {}) was never judged: the program ended before it",
                    unfinished.number, unfinished.cell_id, unfinished.length, unfinished.at
                ));
            }
        }
        BookAction::Find { text, json } => list(&shop.find(text)?, *json, io)?,
        BookAction::Show { what, cell, rules, json } => {
            let rules = PackRules::new(crate::command::rules::read_packs(rules.as_deref())?);
            match what.parse::<u64>().ok().filter(|_| !cell) {
                Some(number) => show_entry(&shop, number, &rules, *json, io)?,
                None => show_story(&shop.story(what, &rules)?, *json, io)?,
            }
        }
        BookAction::Recompute { number } => return recompute(&shop, *number, io),
        BookAction::Export { number, folder } => export(&shop, *number, folder, io)?,
        BookAction::Verify => return verify(&shop, io),
    }
    Ok(EXIT_DONE)
}

/// Shows an entry: an assessment in full and what happened to the cell after it, or another event with all it says.
fn show_entry(
    shop: &Workshop<'_>,
    number: u64,
    rules: &PackRules,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let EntryView { entry, struck, now, content } = shop.entry_in_full(number)?;
    if let Content::Decision(assessment) = &content {
        if let Some(struck) = struck.filter(|_| !as_json) {
            io.show(&struck_page(&struck));
        }
        show_below(&now.known, assessment, as_json, io)?;
        if !as_json {
            io.say(&kept_with(shop, &entry)?);
            let told = shop.story(&entry.subject.name, rules)?;
            if told.happened.len() > 1 {
                io.say("");
                io.show(&story_page(&told));
            }
        }
        return Ok(());
    }
    if as_json {
        return say_json(&event_json(&entry, &now), io);
    }
    stands_now::say(&now, &entry.subject.name, io);
    if let Content::Custody(told) = &content {
        io.show(&entry_page(told));
    } else {
        if let Some(struck) = struck {
            io.show(&struck_page(&struck));
        }
        io.say(&format!("{} · {}\n{}\n", entry.kind, entry.subject.name, entry.summary));
        io.say(&serde_json::to_string_pretty(&entry.inputs)?);
    }
    io.say(&kept_with(shop, &entry)?);
    Ok(())
}

/// Shows the whole story of a cell.
fn show_story(told: &Story, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
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
    io.show(&story_page(told));
    Ok(())
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
                    "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind, "cell": entry.subject.name,
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

/// An event of the book for machines.
fn event_json(entry: &Entry, now: &StandsNow) -> Value {
    let mut event = json!({
        "schema": "celltriage.event/1", "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind,
        "subject": entry.subject.name, "summary": entry.summary, "program": entry.program, "event": entry.inputs,
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
fn kept_with(shop: &Workshop<'_>, entry: &Entry) -> Result<String, Error> {
    let mut text = format!("entry {} · written {} by {}", entry.number, entry.at, entry.program);
    let kept = shop.kept_with(entry.number)?;
    for attachment in kept.attachments {
        text.push_str(&format!("\n  kept: {} ({} bytes)", attachment.name, attachment.length));
    }
    for recording in kept.recordings {
        text.push_str(&format!(
            "\n  kept: recording {} ({} bytes of frames)",
            recording.number, recording.length
        ));
    }
    Ok(text)
}

/// Shows what differs where a decision is made again: by another method the differences are listed, by the same one they
/// are an error.
fn recompute(shop: &Workshop<'_>, number: u64, io: &mut Io<'_>) -> Result<u8, Error> {
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

fn export(shop: &Workshop<'_>, number: u64, folder: &Path, io: &mut Io<'_>) -> Result<(), Error> {
    let files = shop.export(number)?;
    std::fs::create_dir_all(folder)
        .map_err(|error| Error::input(format!("cannot make {}: {error}", folder.display())))?;
    let mut written = Vec::new();
    for file in files {
        let path = folder.join(&file.name);
        std::fs::write(&path, file.bytes)
            .map_err(|error| Error::input(format!("cannot write {}: {error}", path.display())))?;
        written.push(path);
    }
    for path in written {
        io.say(&path.display().to_string());
    }
    Ok(())
}

fn verify(shop: &Workshop<'_>, io: &mut Io<'_>) -> Result<u8, Error> {
    let found = shop.verify()?;
    let path = shop.book().path().display();
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
