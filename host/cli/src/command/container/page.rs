//! What `container` shows: lists, one container with its counters and words, as text, for the printer and as JSON.

use crate::command::say_json;
use crate::error::Error;
use crate::io::Io;
use crate::label_files::LabelFiles;
use celltriage_custody::cell::Whereabouts;
use celltriage_custody::counters::Counter;
use celltriage_custody::state::{Container, State};
use celltriage_document::document::Document;
use celltriage_document::form::html;
use celltriage_report::container_label::{Labelled, container_label, container_tag};
use celltriage_report::container_page::{ContainerShown, container_page};
use celltriage_report::container_sheet::container_sheet;
use celltriage_report::counter::counter_line;
use celltriage_report::custody_lists::containers_page;
use celltriage_workshop::containers::ContainerView;
use jiff::civil::Date;
use serde_json::{Value, json};

/// Says which limits are passed after a cell was put in.
pub(super) fn tell_passed(passed: &[Counter], io: &mut Io<'_>) {
    for counter in passed {
        io.note(&format!("warning: limit passed: {}", counter_line(counter).said()));
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

/// Shows one container.
///
/// # Errors
/// A book error where JSON cannot be written.
pub(super) fn show(view: &ContainerView, name: &str, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let ContainerView { state, container, counters, words, .. } = view;
    if as_json {
        let mut row = container_json(state, name, container);
        row["schema"] = json!("celltriage.container/1");
        row["counters"] = serde_json::to_value(counters)?;
        row["words"] = serde_json::to_value(words)?;
        return say_json(&row, io);
    }
    let more = format!("`celltriage rules show {}` tells each", container.opened.place);
    io.show(&container_page(&shown(view, name, &more)));
    Ok(())
}

/// Returns the sheet of a container.
pub(super) fn sheet(view: &ContainerView, name: &str, today: Date) -> Document {
    container_sheet(&shown(view, name, ""), today)
}

fn shown<'a>(view: &'a ContainerView, name: &'a str, more: &'a str) -> ContainerShown<'a> {
    let ContainerView { state, container, counters, words, uncounted, earliest } = view;
    ContainerShown { state, name, container, first: *earliest, words, counters, uncounted, more }
}

/// Prints the words for a container.
///
/// # Errors
/// An input error where a page cannot be made.
pub(super) fn label(view: &ContainerView, name: &str, as_html: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let labels = container_label(&labelled(view, name));
    tell_no_words(view, "below is", io);
    if as_html {
        io.say(&html::page(&labels))
    } else {
        io.show(&labels)
    }
    Ok(())
}

/// Writes the one label of a container.
///
/// # Errors
/// An input error where it has no room or a file cannot be written.
pub(super) fn one_label(
    view: &ContainerView,
    name: &str,
    today: Date,
    files: &LabelFiles,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let label = container_tag(&labelled(view, name));
    let written = files.write(&label, today, io)?;
    tell_no_words(view, "this is", io);
    if written.marks_elsewhere {
        io.note(&format!(
            "note: the words that the rules ask for do not fit on this label in letters of their height, and it says so: they stand on the container's sheet: celltriage container sheet {name} --pdf sheet.pdf"
        ));
    }
    if as_json { say_json(&written.in_json(&label), io) } else { Ok(()) }
}

fn labelled<'a>(view: &'a ContainerView, name: &'a str) -> Labelled<'a> {
    let ContainerView { state, container, words, earliest: first, .. } = view;
    Labelled { name, opened: &container.opened, words, first: *first, simulated: state.holds_simulated(name) }
}

fn tell_no_words(view: &ContainerView, which: &str, io: &mut Io<'_>) {
    if view.words.is_empty() {
        io.note(&format!(
            "no words for a container are known here for {}: ask the authority; {which} the shop's own label",
            view.container.opened.place
        ));
    }
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
                "is": held.is_as().filter(|_| held.is_received()), "cells": held.count(),
                "mass_rests_on": held.stated_mass().map(|mass| mass.rests_on),
                "energy_rests_on": held.stated_energy().map(|energy| energy.rests_on),
            })
        })
        .collect();
    json!({
        "container": name, "kind": container.opened.kind, "place": container.opened.place,
        "stands": container.opened.stands, "opened_on": container.opened_on,
        "earliest_date": state.cells_in(name).filter_map(|(_, cell)| cell.discarded_on()).min(), "cells": cells,
        "mass_mg": state.mass_in(name), "energy_mwh": state.energy_in(name), "volume_ml": container.opened.volume,
        "drafted_for": container.drafted_for, "left_with": container.left_with,
        "irregular": state.irregular_with(name).map(|(entry, _)| entry).collect::<Vec<_>>(),
        "left": container.left, "simulated": state.holds_simulated(name),
    })
}
