//! `book show`: an entry in full, or the whole story of a cell.

use super::list::{in_json, in_words};
use crate::command::printed::Printed;
use crate::command::shown::show_below;
use crate::command::{say_json, stands_now};
use crate::error::Error;
use crate::io::Io;
use celltriage_book::Entry;
use celltriage_custody::PackRules;
use celltriage_custody::story::Story;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_report::known_page::struck_page;
use celltriage_report::story_page::{entry_page, story_page};
use celltriage_workshop::Workshop;
use celltriage_workshop::entries::{Content, EntryView};
use celltriage_workshop::origin::Origin;
use celltriage_workshop::stands_now::StandsNow;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// Shows an entry: an assessment in full and what happened to the cell after it, or another event with all it says.
pub(super) fn show_entry(
    shop: &Workshop<'_>,
    number: u64,
    rules: &PackRules,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let EntryView { entry, struck, now, content } = shop.entry_in_full(number)?;
    let from = shop.origins()?.of(&entry);
    if let Content::Decision(assessment) = &content {
        if let Some(struck) = struck.filter(|_| !as_json) {
            io.show(&struck_page(&struck));
        }
        if as_json {
            let from = from.as_ref().map(in_json);
            return say_json(&Printed::of(assessment, &now.known).come_from(from.as_ref()), io);
        }
        show_below(&now.known, assessment, false, io)?;
        io.say(&kept_with(shop, &entry, from.as_ref())?);
        let told = shop.story(&entry.subject.name, rules)?;
        if told.happened.len() > 1 {
            io.say("");
            io.show(&story_page(&told));
        }
        return Ok(());
    }
    if as_json {
        return say_json(&event_json(&entry, &now, from.as_ref()), io);
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
    io.say(&kept_with(shop, &entry, from.as_ref())?);
    Ok(())
}

/// Shows the whole story of a cell.
pub(super) fn show_story(told: &Story, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
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

/// An event of the book for machines.
fn event_json(entry: &Entry, now: &StandsNow, from: Option<&Origin>) -> Value {
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
        if let Some(origin) = from {
            members.insert("from".to_owned(), in_json(origin));
        }
    }
    event
}

/// What was kept with an entry, for people.
fn kept_with(shop: &Workshop<'_>, entry: &Entry, from: Option<&Origin>) -> Result<String, Error> {
    let mut text = format!("entry {} · written {} by {}", entry.number, entry.at, entry.program);
    if let Some(origin) = from {
        text.push_str(&format!("\n  it came {}", in_words(origin)));
    }
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
