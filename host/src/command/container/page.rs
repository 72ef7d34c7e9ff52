//! What `container` shows: lists, one container with its counters, as text and as JSON.

use crate::custody::cell::Whereabouts;
use crate::custody::counters::{Counter, of_container};
use crate::custody::desk::Desk;
use crate::custody::limits::Amount;
use crate::custody::refusal::Refusal;
use crate::custody::state::{Container, State};
use crate::custody::summary::cells;
use crate::error::Error;
use crate::io::Io;
use serde_json::{Value, json};

/// Says which limits are passed after a cell was put in.
pub(super) fn tell_passed(desk: &Desk, state: &State, name: &str, io: &mut Io<'_>) {
    for counter in of_container(state, name, &desk.circumstances()) {
        if counter.passed == Some(true) {
            io.note(&format!("warning: limit passed: {}", counter_text(&counter)));
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
    for (name, container) in &state.containers {
        let opened = &container.opened;
        io.say(&format!(
            "{name:<14} {:<27} {:>9} {:>10} {:>10}  {} {}{}",
            opened.kind.words(),
            cells(state.cells_in(name).count()),
            state.mass_in(name).to_string(),
            state.energy_in(name).to_string(),
            opened.place,
            opened.stands,
            stage(container)
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

/// Shows one container.
///
/// # Errors
/// An input error where there is none of that name.
pub(super) fn show(desk: &Desk, name: &str, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let state = desk.state()?;
    let Some(container) = state.containers.get(name) else {
        return Err(Refusal::UnknownContainer(name.to_owned()).into());
    };
    let counters = of_container(&state, name, &desk.circumstances());
    if as_json {
        let mut row = container_json(&state, name, container);
        row["schema"] = json!("celltriage.container/1");
        row["counters"] = serde_json::to_value(&counters).map_err(Error::book)?;
        return say_json(&row, io);
    }
    let opened = &container.opened;
    let mut page = format!(
        "container {name}: {}, {}, stands {}, opened {}{}\n",
        opened.kind.words(),
        opened.place,
        opened.stands,
        container.opened_on,
        stage(container)
    );
    page.push_str(&format!(
        "{}, {}, {}\n",
        cells(state.cells_in(name).count()),
        state.mass_in(name),
        state.energy_in(name)
    ));
    for (cell, held) in state.cells_in(name) {
        let discarded = held.discarded_on().map_or("no clock".to_owned(), |day| format!("discarded {day}"));
        page.push_str(&format!(
            "  {cell:<14} {}, {}, {}, {discarded}; {}\n",
            held.legal(),
            held.mass(),
            held.energy(),
            held.whereabouts.words()
        ));
    }
    page.push_str("counted\n");
    for counter in &counters {
        page.push_str(&format!("  {}\n", counter_text(counter)));
    }
    if counters.is_empty() {
        page.push_str("  this program knows no counted limits of this place; ask your authority\n");
    }
    io.say(&page);
    Ok(())
}

fn counter_text(counter: &Counter) -> String {
    let limit = match counter.limit.limit {
        Amount::Days(days) => format!("{days} d"),
        Amount::Years(years) => format!("{years} year"),
        Amount::Mass(mass) => mass.to_string(),
        Amount::Energy(energy) => energy.to_string(),
    };
    let passed = match counter.passed {
        Some(true) => "PASSED",
        Some(false) => "within",
        None => "not known",
    };
    let counted = counter.counted.as_deref().unwrap_or("not counted");
    let notes: String = counter.notes.iter().map(|note| format!("; {note}")).collect();
    let verify = if counter.limit.verify { " VERIFY" } else { "" };
    // The rule of a clock speaks of days that stand in the count already.
    let means = if counter.until.is_some() { String::new() } else { format!(": {}", counter.limit.means) };
    format!(
        "{}: {counted} of {limit}, {passed}{means} [{}{verify}]{notes}",
        counter.limit.what.words(),
        counter.limit.citation
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
        "stands": container.opened.stands, "opened_on": container.opened_on, "cells": cells,
        "mass_mg": state.mass_in(name), "energy_mwh": state.energy_in(name),
        "drafted_for": container.drafted_for, "left_with": container.left_with,
    })
}

/// Prints JSON.
///
/// # Errors
/// A book error where it cannot be written.
pub(in crate::command) fn say_json(value: &Value, io: &mut Io<'_>) -> Result<(), Error> {
    io.say(&serde_json::to_string_pretty(value).map_err(Error::book)?);
    Ok(())
}
