//! The whole story of a cell: everything in the book that is about it, in order, and how it stands now.
//!
//! Takes a book, a cell's name and the day with its rules; gives a [`Story`]. Containers and shipments belong to it as far
//! as the cell was in them.

use crate::cell::Cell;
use crate::checklist::answered;
use crate::circumstances::Circumstances;
use crate::due::due;
use crate::error::CustodyError;
use crate::event::{Consent, Event, Received, ReceivedAs, RestsOn, Signed, Symptom, Whose};
use crate::event_in_book::event_of;
use crate::facts::Facts;
use crate::simulated;
use crate::state::{State, Struck};
use celltriage_book::{Book, Entry, Subject, SubjectKind};
use celltriage_instrument::simulated::{FIRST_LINE, marked};
use celltriage_measure::observation::{Answer, Sign};
use jiff::civil::Date;
use serde::Serialize;

/// The story of a cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Story {
    /// The cell.
    pub cell: String,
    /// Whether it is a cell of the simulated bench.
    pub simulated: bool,
    /// How it stands now, as names with values.
    pub now: Vec<(String, String)>,
    /// What happened, oldest first.
    pub happened: Vec<Chapter>,
}

/// One entry of the book.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chapter {
    /// Number of the entry.
    pub entry: u32,
    /// The day on which it happened.
    pub on: Date,
    /// Its kind.
    pub kind: String,
    /// What happened.
    pub what: String,
    /// What else was written down.
    pub details: Vec<String>,
    /// Whether it was struck later.
    pub struck: bool,
}

/// Tells the story of a cell.
///
/// # Errors
/// A book error, or an input error where the book knows nothing of the cell.
pub fn story(book: &Book, cell: &str, circumstances: &Circumstances<'_>) -> Result<Story, CustodyError> {
    let state = State::about(book, &[cell])?;
    let entries = concerning(book, cell)?;
    let mut happened = Vec::new();
    for entry in entries {
        let event = event_of(book, &entry)?;
        happened.push(chapter(&entry, event.as_ref(), &state));
    }
    if happened.is_empty() {
        let book = book.path().display().to_string();
        return Err(CustodyError::NoSuchCell { book, cell: cell.to_owned() });
    }
    let known = state.cells.get(cell);
    let simulated = known.is_some_and(Cell::is_simulated);
    let now = known.map_or_else(Vec::new, |found| now(&state, cell, found, circumstances));
    Ok(Story { cell: cell.to_owned(), simulated, now, happened })
}

/// Tells one entry.
pub fn chapter(entry: &Entry, event: Option<&Signed>, state: &State) -> Chapter {
    let struck = state.struck.get(&entry.number);
    let mut told = event.map_or_else(Vec::new, |signed| details(&signed.event));
    told.extend(struck.map(Struck::words));
    told.extend(state.irregularities.get(&entry.number).map(|irregular| match &irregular.remedied {
        Some(by) => format!("put right on {} by {} (entry {}): {}", by.on, by.by, by.entry, by.done),
        None => "not put right yet".to_owned(),
    }));
    Chapter {
        entry: entry.number,
        on: event.map_or_else(|| Facts::of(entry).on, |signed| signed.on),
        kind: entry.kind.clone(),
        what: marked(&entry.summary, simulated::of_entry(entry) == Some(true)),
        details: told,
        struck: struck.is_some(),
    }
}

/// What an event says beyond its one line.
fn details(event: &Event) -> Vec<String> {
    match event {
        Event::Judgement(judged) => {
            let mut told =
                vec![format!("proposed by the tool: {} (assessment {})", judged.proposed, judged.assessment)];
            for (answer, words) in [
                (Answer::Yes, "answered yes"),
                (Answer::No, "answered no"),
                (Answer::NotObserved, "not looked at"),
            ] {
                let found = answered(&judged.answers, answer);
                if !found.is_empty() {
                    told.push(format!("{words}: {}", found.join(", ")));
                }
            }
            told.extend(judged.decided_on.map(|day| format!("decided to discard on {day}")));
            let removed = judged.removed_on.map_or(String::new(), |day| format!(" on {day}"));
            match &judged.device {
                Some(device) => told.push(format!("taken out of {device}{removed}")),
                None => told.extend(judged.removed_on.map(|day| format!("taken out of its device on {day}"))),
            }
            told.extend(judged.photo.as_ref().map(|photo| format!("photograph: {photo}")));
            told
        }
        Event::ShipmentDrafted(draft) => {
            let papers = &draft.papers;
            let cells: Vec<&str> = draft.contents.iter().map(|item| item.cell.as_str()).collect();
            vec![
                format!("{}, {}", papers.un_number, papers.under.join(", ")),
                format!("cells: {}", cells.join(", ")),
            ]
        }
        Event::CellLeft(left) => known_on_leaving(&left.against).into_iter().collect(),
        Event::ContainerLeft(left) => {
            let cells = left.cells.iter();
            let told = cells.map(|one| match known_on_leaving(&one.against) {
                Some(known) => format!("{}: {known}", one.cell),
                None => one.cell.clone(),
            });
            told.collect()
        }
        Event::ContainerRepacked(repacked) => {
            let cells: Vec<&str> = repacked.cells.iter().map(|one| one.cell.as_str()).collect();
            vec![format!("cells: {}", cells.join(", "))]
        }
        Event::ContainerReturned(back) => {
            let cells: Vec<&str> = back.cells.iter().map(|one| one.cell.as_str()).collect();
            vec![format!("cells: {}", cells.join(", "))]
        }
        Event::Received(received) => on_receipt(received),
        Event::LifetimeRecord(record) => vec![format!("this rests on: {}", record.from.words())],
        Event::UsedRecord(record) => vec![
            format!("{}, {}", record.item, record.address),
            format!(
                "looked up in {}: {}",
                record.recall.looked_in,
                if record.recall.listed { "LISTED" } else { "not listed" }
            ),
        ],
        _ => Vec::new(),
    }
}

fn on_receipt(received: &Received) -> Vec<String> {
    let mut told = Vec::new();
    for (symptom, words) in
        [(Symptom::Yes, "shows"), (Symptom::No, "does not show"), (Symptom::CannotBeTold, "cannot be told")]
    {
        let signs = received.answered(symptom);
        if !signs.is_empty() {
            told.push(format!("{words}: {}", signs.join(", ")));
        }
    }
    let unseen: Vec<&str> =
        Sign::ALL.iter().filter(|sign| !received.signs.contains_key(sign)).map(|sign| sign.words()).collect();
    if received.is.is_some() && !unseen.is_empty() {
        told.push(format!("nobody has looked for: {}", unseen.join(", ")));
    }
    told.extend(received.heaviest.map(|mass| format!("its heaviest cell: {}", mass.words())));
    told.extend(received.largest.map(|energy| format!("its largest cell: {}", energy.words())));
    if !received.photographs.is_empty() {
        told.push(format!("photographs kept with it: {}", received.photographs.join(", ")));
    }
    told
}

fn known_on_leaving(against: &[String]) -> Option<String> {
    (!against.is_empty()).then(|| format!("known on leaving: {}", against.join("; ")))
}

fn now(state: &State, name: &str, cell: &Cell, circumstances: &Circumstances<'_>) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    let mut row = |name: &str, value: String| rows.push((name.to_owned(), value));
    if cell.is_simulated() {
        row("SIMULATED", FIRST_LINE.to_owned());
    }
    for found in &cell.found {
        match found.released_by {
            None => row("known", found.as_it_counts().words()),
            Some(entry) => row("was known", format!("{}; ended by entry {entry}", found.words())),
        }
    }
    received(cell, &mut row);
    if cell.facts.is_some() || cell.is_received() {
        row("legal state", cell.legal_in_words());
    }
    match cell.standing_judgement() {
        Some(judged) => row(
            "judged by",
            format!(
                "{}, {}, on {} (entry {})",
                judged.by, judged.judgement.qualification, judged.on, judged.entry
            ),
        ),
        None if cell.facts.is_some() => row("judged by", "nobody since its latest assessment".to_owned()),
        None if cell.is_received() => row("judged by", "nobody since it was looked at on receipt".to_owned()),
        None => {}
    }
    if let Some(facts) = &cell.facts {
        row("graded", format!("{} on {} (entry {})", facts.fate, facts.on, facts.assessment));
    }
    row("where", cell.whereabouts.words());
    for (entry, irregular) in state.irregular_with(name) {
        row("IRREGULAR", format!("since {} (entry {entry}): {}", irregular.on, irregular.words()));
    }
    if let Some(screening) = cell.to_screen() {
        row("not screened", format!("it {}; what was assessed before does not count", screening.because));
    }
    let lifetime = cell.lifetime();
    if !lifetime.is_empty() {
        row("lifetime", lifetime.words());
    }
    if let Some(day) = cell.discarded_on() {
        row("discarded", day.to_string());
    }
    let mass = match cell.stated_mass() {
        Some(mass) if cell.is_received() => mass.words(),
        Some(mass) if mass.rests_on == RestsOn::Measured => mass.value.to_string(),
        Some(mass) => format!("{} (label)", mass.value),
        None => format!("not known, counted as {}", cell.mass()),
    };
    row("mass", mass);
    if cell.is_received() {
        let energy = cell.stated_energy();
        let worst = || format!("not known, counted as {}", cell.energy());
        row("energy", energy.map_or_else(worst, |energy| energy.words()));
    }
    if let Some(watch) = &cell.watch {
        let looks = match watch.inspections.len() {
            1 => "1 look".to_owned(),
            count => format!("{count} looks"),
        };
        row(
            "under watch",
            format!("since {}, until {}, {looks}: {}", watch.since, watch.ends.day(), watch.hold.because),
        );
    }
    let container = cell.container().unwrap_or_default();
    for item in due(state, circumstances) {
        let told_above = item.what.starts_with("IRREGULAR") && item.subject == name;
        if (item.subject == name && !told_above) || item.subject == container {
            row("due", format!("{} ({}): {} [{}]", item.on, item.when(), item.what, item.source));
        }
    }
    rows
}

/// Says as what it was received, and whose it is.
fn received(cell: &Cell, row: &mut impl FnMut(&str, String)) {
    let Some(intake) = cell.intake() else { return };
    let told = &intake.told;
    let what = cell.is_as().map_or("nobody has said what it is", ReceivedAs::words);
    let count = told.count.map_or(String::new(), |count| format!(", {count} cells"));
    let from = told.from.as_ref().map_or(String::new(), |from| format!(", from {from}"));
    let found = told.found.as_ref().map_or(String::new(), |place| format!(", found: {place}"));
    row("received", format!("{what}{count}, on {}{from}{found}", intake.since));
    let whose = told.whose.unwrap_or(Whose::NotKnown).words();
    let owner = told.owner.as_ref().map_or(String::new(), |owner| format!(" ({owner})"));
    row("whose", format!("{whose}{owner}; {}", told.consent.unwrap_or(Consent::NotAsked).words()));
}

/// Returns the entries about a cell, and those about shipments that it was in since they were drafted, oldest first.
fn concerning(book: &Book, cell: &str) -> Result<Vec<Entry>, CustodyError> {
    let mut entries = book.entries_of(&Subject::cell(cell))?;
    let drafts: Vec<Subject> = entries
        .iter()
        .filter(|entry| entry.subject.kind == SubjectKind::Shipment)
        .map(|entry| entry.subject.clone())
        .collect();
    for draft in &drafts {
        entries.extend(book.entries_of(draft)?);
    }
    entries.sort_by_key(|entry| entry.number);
    entries.dedup_by_key(|entry| entry.number);
    Ok(entries)
}
