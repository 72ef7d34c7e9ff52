//! What `container` shows: lists, one container with its counters and words, as text, for the printer and as JSON.

use crate::command::say_json;
use crate::error::Error;
use crate::io::Io;
use crate::output::sheet::{Sheet, Words};
use crate::output::{Style, hanging};
use celltriage_custody::cell::Whereabouts;
use celltriage_custody::counters::Counter;
use celltriage_custody::state::{Container, State};
use celltriage_custody::summary::cells;
use celltriage_instrument::simulated::{FIRST_LINE, SIMULATED};
use celltriage_workshop::containers::ContainerView;
use jiff::civil::Date;
use serde_json::{Value, json};

/// Says which limits are passed after a cell was put in.
pub(super) fn tell_passed(passed: &[Counter], io: &mut Io<'_>) {
    for counter in passed {
        io.note(&format!("warning: limit passed: {}", counter_text(counter)));
    }
}

/// Lists containers.
///
/// # Errors
/// A book error where JSON cannot be written.
pub(super) fn list(state: &State, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if as_json {
        let rows: Vec<Value> =
            state.containers.iter().map(|(name, container)| container_json(state, name, container)).collect();
        return say_json(&json!({ "schema": "celltriage.containers/1", "containers": rows }), io);
    }
    for (name, container) in &state.containers {
        let opened = &container.opened;
        io.say(&format!(
            "{name:<14} {:<27} {:>9} {:>10} {:>10}  {} {}{}{}",
            opened.kind.words(),
            cells(state.cells_in(name).count()),
            state.mass_in(name).to_string(),
            state.energy_in(name).to_string(),
            opened.place,
            opened.stands,
            stage(container),
            if state.holds_simulated(name) { format!(" [{SIMULATED}]") } else { String::new() }
        ));
    }
    if state.containers.is_empty() {
        io.note("no containers");
    }
    Ok(())
}

fn stage(container: &Container) -> String {
    match (&container.left_with, &container.drafted_for) {
        (Some(shipment), _) => format!("; left with shipment {shipment}"),
        (None, Some(shipment)) => format!("; papers drafted, shipment {shipment}"),
        (None, None) => String::new(),
    }
}

/// Returns the earliest day on which one of its cells was discarded.
fn first_date(state: &State, name: &str) -> Option<Date> {
    state.cells_in(name).filter_map(|(_, cell)| cell.discarded_on()).min()
}

/// Shows one container.
///
/// # Errors
/// A book error where JSON cannot be written.
pub(super) fn show(view: &ContainerView, name: &str, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let ContainerView { state, container, counters, words, uncounted, .. } = view;
    if as_json {
        let mut row = container_json(state, name, container);
        row["schema"] = json!("celltriage.container/1");
        row["counters"] = serde_json::to_value(counters)?;
        row["words"] = serde_json::to_value(words)?;
        return say_json(&row, io);
    }
    let width = Style::new(io.width, io.colour).width();
    let opened = &container.opened;
    let head = format!(
        "container {name}: {}, {}, stands {}, opened {}{}",
        opened.kind.words(),
        opened.place,
        opened.stands,
        container.opened_on,
        stage(container)
    );
    let simulated = state.holds_simulated(name);
    let mut page = if simulated { format!("{FIRST_LINE}\n") } else { String::new() };
    page.push_str(&hanging("", 0, &head, width));
    let first =
        view.earliest.map_or("no cell discarded yet".to_owned(), |day| format!("earliest date {day}"));
    page.push_str(&format!(
        "{}, {}, {}; {first}\n",
        cells(state.cells_in(name).count()),
        state.mass_in(name),
        state.energy_in(name)
    ));
    for (cell, held) in state.cells_in(name) {
        let discarded = held.discarded_on().map_or("no clock".to_owned(), |day| format!("discarded {day}"));
        let mass = if held.known_mass().is_some() { "" } else { " (not weighed)" };
        let text = format!(
            "{}, {}{mass}, {}, {discarded}; {}",
            held.legal(),
            held.mass(),
            held.energy(),
            held.whereabouts.words()
        );
        page.push_str(&hanging(&format!("  {cell:<14} "), 17, &text, width));
    }
    if !words.is_empty() {
        page.push_str("words on the container or its cells, exactly so, with the earliest date\n");
    }
    for mark in words {
        let text = format!("{} [{}]{}", mark.quoted(), mark.citation, verify(mark.verify, &mark.verify_with));
        page.push_str(&hanging("  ", 2, &text, width));
    }
    page.push_str("counted\n");
    for counter in counters {
        page.push_str(&hanging("  ", 2, &counter_text(counter), width));
    }
    if counters.is_empty() {
        page.push_str("  this program knows no counted limits of this place; ask your authority\n");
    }
    if !uncounted.is_empty() {
        let text = format!("{} (`celltriage rules show {}` tells each)", uncounted.join("; "), opened.place);
        page.push_str(&hanging("  ", 2, &format!("not counted by this book: {text}"), width));
    }
    io.say(&page);
    Ok(())
}

/// Prints the words for a container.
///
/// # Errors
/// An input error where a page cannot be made.
pub(super) fn label(view: &ContainerView, name: &str, as_html: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let ContainerView { state, container, earliest: first, .. } = view;
    let opened = &container.opened;
    let mut sheet = Sheet { title: format!("Container {name}"), ..Sheet::default() };
    let simulated = state.holds_simulated(name).then_some(FIRST_LINE);
    if let Some(word) = simulated {
        sheet.title = format!("{word}: {}", sheet.title);
    }
    let date = first.map_or("earliest date: ____________".to_owned(), |day| format!("earliest date: {day}"));
    for mark in &view.words {
        sheet.words.push(Words {
            words: mark.words.clone(),
            below: simulated
                .map(str::to_owned)
                .into_iter()
                .chain([date.clone(), format!("container {name}: {}", opened.kind.words())])
                .collect(),
            letter_mm: mark.letter_height_mm,
            on: format!(
                "on the container or its cells [{}]{}",
                mark.citation,
                verify(mark.verify, &mark.verify_with)
            ),
        });
    }
    if sheet.words.is_empty() {
        io.note(&format!(
            "no words for a container are known here for {}: ask the authority; below is the shop's own label",
            opened.place
        ));
        sheet.words.push(Words {
            words: opened.kind.words().to_uppercase(),
            below: simulated
                .map(str::to_owned)
                .into_iter()
                .chain([date, format!("container {name}, stands {}", opened.stands)])
                .collect(),
            letter_mm: None,
            on: "the shop's own label, not words of a law".to_owned(),
        });
    }
    if as_html {
        io.say(&sheet.html());
        return Ok(());
    }
    simulated.iter().for_each(|word| io.say(word));
    for words in &sheet.words {
        io.say(&format!("{}\n{}\n({})", words.words, words.below.join("\n"), words.on));
    }
    Ok(())
}

/// Returns whom to verify something with, where it must be.
pub(in crate::command) fn verify(needed: bool, whom: &str) -> String {
    if needed { format!(" verify with {whom}") } else { String::new() }
}

/// Writes what is counted in one line.
pub(in crate::command) fn counter_text(counter: &Counter) -> String {
    let limit = &counter.limit;
    let relief = limit.under.as_ref().map_or(String::new(), |name| format!(" ({name})"));
    let passed = match counter.passed {
        Some(true) => "PASSED",
        Some(false) => "not passed",
        None => "not known",
    };
    let counted = counter.counted.as_deref().unwrap_or("not counted");
    let notes: String = counter.notes.iter().map(|note| format!("; {note}")).collect();
    let doubt = limit.doubt.as_ref().map_or(String::new(), |doubt| format!(" In doubt: {doubt}."));
    // Where a limit is plain in itself, its rule in words says it a second time.
    let plain = counter.until.is_some() || limit.under.is_some();
    let means = if plain { String::new() } else { format!(": {}", limit.means) };
    format!(
        "{}: {counted}; {} {}{relief}, {passed}{means} [{}]{}{doubt}{notes}",
        limit.what.words(),
        limit.bound.words(),
        limit.limit.words(),
        limit.citation,
        verify(limit.verify, &limit.verify_with)
    )
}

fn container_json(state: &State, name: &str, container: &Container) -> Value {
    let cells: Vec<Value> = state
        .cells_in(name)
        .map(|(cell, held)| {
            let inner = match &held.whereabouts {
                Whereabouts::In { inner, .. } => inner.clone(),
                _ => None,
            };
            json!({
                "cell": cell, "state": held.legal(), "mass_mg": held.mass(), "mass_known": held.known_mass().is_some(),
                "energy_mwh": held.energy(), "discarded_on": held.discarded_on(), "inner": inner,
            })
        })
        .collect();
    json!({
        "container": name, "kind": container.opened.kind, "place": container.opened.place,
        "stands": container.opened.stands, "opened_on": container.opened_on,
        "earliest_date": first_date(state, name), "cells": cells,
        "mass_mg": state.mass_in(name), "energy_mwh": state.energy_in(name), "volume_ml": container.opened.volume,
        "drafted_for": container.drafted_for, "left_with": container.left_with,
        "simulated": state.holds_simulated(name),
    })
}
