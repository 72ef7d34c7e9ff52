//! The policy file as it is written: its head, its criteria, and what the ways a test can end mean.
//!
//! One reading finds every mistake, each with its place. A criterion's table is read by [`crate::criterion_file`].

use crate::consequence_file::{self, consequence};
use crate::criterion::{Consequence, Criterion};
use crate::criterion_file::{RISKS, checked_risk, criterion};
use crate::evidence::{TRIP_CAUSES, trip_key};
use crate::label_terms::{self, LabelTerms};
use crate::limit::Guard;
use crate::traceability::{self, Traceability};
use celltriage_written::{Faults, Fields, Found, Reading, suggestion};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

/// What a policy file must say it is.
const SCHEMA: &str = "celltriage.policy/1";
/// The keys at the top of a policy file.
const KEYS: [&str; 10] = [
    "schema",
    "name",
    "version",
    "risk",
    "criterion",
    "unfinished",
    "not_measured",
    "trip",
    "traceability",
    "label",
];

/// A policy file as it was read.
pub(super) struct Parts {
    pub name: String,
    pub version: String,
    pub criteria: Vec<Criterion>,
    pub unfinished: Consequence,
    pub not_measured: Consequence,
    pub trips: BTreeMap<String, Consequence>,
    pub traceability: Traceability,
    pub label: LabelTerms,
    pub guard: Guard,
}

/// Reads a policy; `file` is its name for messages.
pub(super) fn read(text: &str, file: &str) -> Result<Parts, Faults> {
    let (mut reading, head) = Reading::begin(file, text);
    let parts = parts(head, &mut reading);
    reading.end(parts)
}

fn parts(mut head: Fields<'_>, reading: &mut Reading<'_>) -> Option<Parts> {
    let schema = head.take::<String>("schema", reading);
    if schema.as_ref().is_none_or(|found| found.value != SCHEMA) {
        let span = schema.map_or(0..0, |found| found.span);
        let what = "this is not a policy that this program reads; it must say schema = ";
        reading.add(span, format!("{what}\"{SCHEMA}\""));
        // Nothing below is known to mean what it would mean in a policy.
        return None;
    }
    let name = head.need::<String>("name", reading);
    let version = head.need::<String>("version", reading);
    let risk = head.need::<f64>("risk", reading).and_then(|found| checked_risk(found, reading));
    let tables = head.tables("criterion", reading);
    // A mistyped risk was noted above and refuses the file, so this figure judges nothing.
    let risk = risk.unwrap_or(*RISKS.start());
    let mut ids = BTreeSet::new();
    let mut criteria = Vec::new();
    for table in tables {
        criteria.extend(criterion(table, risk, &mut ids, reading));
    }
    let unfinished = end_of_test(&mut head, "unfinished", reading);
    let not_measured = end_of_test(&mut head, "not_measured", reading);
    let mut trips = BTreeMap::new();
    for table in head.tables("trip", reading) {
        read_trip(table, &mut trips, reading);
    }
    let traceability = traceability::read(&mut head, reading);
    let label = label_terms::read(&mut head, reading);
    head.finish(&KEYS, reading);
    Some(Parts {
        name: name?.value,
        version: version?.value,
        criteria,
        unfinished: unfinished?,
        not_measured: not_measured?,
        trips,
        traceability,
        label,
        guard: Guard::for_risk(risk),
    })
}

fn end_of_test(head: &mut Fields<'_>, key: &str, reading: &mut Reading<'_>) -> Option<Consequence> {
    if !head.has(key) {
        reading.add_whole(format!("[{key}] is missing"));
    }
    let mut table = head.table(key, reading)?;
    let consequence = consequence(&mut table, reading);
    table.finish(&consequence_file::KEYS, reading);
    consequence
}

fn read_trip(mut table: Fields<'_>, trips: &mut BTreeMap<String, Consequence>, reading: &mut Reading<'_>) {
    let cause = table.need::<String>("cause", reading);
    let consequence = consequence(&mut table, reading);
    let keys: Vec<&str> = ["cause"].into_iter().chain(consequence_file::KEYS).collect();
    table.finish(&keys, reading);
    let (Some(Found { value: cause, span }), Some(consequence)) = (cause, consequence) else { return };
    let known = TRIP_CAUSES.map(trip_key);
    if !known.contains(&cause.as_str()) {
        let meant = suggestion(&cause, &known);
        let known = known.join(", ");
        reading.add(span, format!("\"{cause}\" is not a cause of a trip{meant}; there are {known}"));
        return;
    }
    match trips.entry(cause) {
        Entry::Vacant(free) => {
            free.insert(consequence);
        }
        Entry::Occupied(taken) => reading.add(span, format!("the cause \"{}\" is there twice", taken.key())),
    }
}
