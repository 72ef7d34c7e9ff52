//! What `container` shows: lists, one container with its counters and words, as text, for the printer and as JSON.

use crate::command::say_json;
use crate::desk::Desk;
use crate::error::Error;
use crate::io::Io;
use crate::refusal_hint::hint;
use celltriage_custody::cell::Whereabouts;
use celltriage_custody::counters::of_container;
use celltriage_custody::papers::Mark;
use celltriage_custody::refusal::Refusal;
use celltriage_custody::state::{Container, State};
use celltriage_document::form::html;
use celltriage_report::container_label::{Labelled, container_label};
use celltriage_report::container_page::{ContainerShown, container_page};
use celltriage_report::counter::counter_line;
use celltriage_report::custody_lists::containers_page;
use jiff::civil::Date;
use serde_json::{Value, json};

/// Says which limits are passed after a cell was put in.
pub(super) fn tell_passed(desk: &Desk, state: &State, name: &str, io: &mut Io<'_>) {
    for counter in of_container(state, name, &desk.circumstances()) {
        if counter.passed == Some(true) {
            io.note(&format!("warning: limit passed: {}", counter_line(&counter).said()));
        }
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
    if state.containers.is_empty() {
        io.note("no containers");
    } else {
        io.show(&containers_page(state));
    }
    Ok(())
}

fn find<'a>(state: &'a State, name: &str) -> Result<&'a Container, Error> {
    let unknown = Refusal::UnknownContainer(name.to_owned());
    state.containers.get(name).ok_or_else(|| Error::input(unknown.to_string()).hint(hint(&unknown)))
}

/// Returns the earliest day on which one of its cells was discarded.
fn first_date(state: &State, name: &str) -> Option<Date> {
    state.cells_in(name).filter_map(|(_, cell)| cell.discarded_on()).min()
}

/// Returns the words to be written on it or its cells.
fn words(desk: &Desk, container: &Container) -> Vec<Mark> {
    let circumstances = desk.circumstances();
    let state = container.opened.kind.counted_as();
    circumstances.rules.words_on_container(&container.opened.place, circumstances.today, state)
}

/// Shows one container.
///
/// # Errors
/// An input error where there is none of that name.
pub(super) fn show(desk: &Desk, name: &str, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let state = desk.state()?;
    let container = find(&state, name)?;
    let counters = of_container(&state, name, &desk.circumstances());
    let words = words(desk, container);
    if as_json {
        let mut row = container_json(&state, name, container);
        row["schema"] = json!("celltriage.container/1");
        row["counters"] = serde_json::to_value(&counters)?;
        row["words"] = serde_json::to_value(&words)?;
        return say_json(&row, io);
    }
    io.show(&container_page(&ContainerShown {
        state: &state,
        name,
        container,
        first: first_date(&state, name),
        words: &words,
        counters: &counters,
        uncounted: &desk.uncounted(container),
        more: &format!("`celltriage rules show {}` tells each", container.opened.place),
    }));
    Ok(())
}

/// Prints the words for a container.
///
/// # Errors
/// An input error where there is none of that name.
pub(super) fn label(desk: &Desk, name: &str, as_html: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let state = desk.state()?;
    let container = find(&state, name)?;
    let (opened, words) = (&container.opened, words(desk, container));
    let (first, simulated) = (first_date(&state, name), state.holds_simulated(name));
    let labels = container_label(&Labelled { name, opened, words: &words, first, simulated });
    if words.is_empty() {
        io.note(&format!(
            "no words for a container are known here for {}: ask the authority; below is the shop's own label",
            opened.place
        ));
    }
    if as_html {
        io.say(&html::page(&labels))
    } else {
        io.show(&labels)
    }
    Ok(())
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
