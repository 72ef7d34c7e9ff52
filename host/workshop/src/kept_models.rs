//! The cells of each model with the newest value of each number, as the book keeps them.
//!
//! Folded from assessments. What was written since the values were kept is folded on top, in memory; whoever writes keeps it.

use crate::newest_labels::{NewestLabels, UsedLabel};
use celltriage_assessment::health::{Reading, Sibling, sensed_at};
use celltriage_assessment::history::fixture_name;
use celltriage_assessment::record::{ASSESSMENT, assessment_of};
use celltriage_book::{Book, BookError, Change, Entry, FOLDED_AT_ONCE, Fold, Folded, Next};
use celltriage_measure::estimate::{Estimates, Quantity};
use celltriage_measure::nameplate::Nameplate;
use std::collections::BTreeMap;

/// What is kept; another version whenever the same entries would give other values.
pub(crate) const FOLD: Fold = Fold { name: "models", version: 3 };

/// A cell of a model, real or simulated.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    simulated: bool,
    model: String,
    cell: String,
}

/// Keeps what was written since the last time; `step` hears how far it is.
///
/// # Errors
/// A book error.
pub(crate) fn keep_up(book: &mut Book, step: &mut dyn FnMut(u32)) -> Result<(), BookError> {
    book.keep_up(FOLD, folded, step)
}

/// Says whether what is kept is whole, or with `from_entries` what all entries say; see [`Book::kept_fits`].
///
/// # Errors
/// A book error.
pub(crate) fn kept_fits(
    book: &Book,
    from_entries: bool,
    step: &mut dyn FnMut(u32),
) -> Result<bool, BookError> {
    book.kept_fits(FOLD, from_entries, folded, step)
}

/// Reads the cells of a model, real ones or simulated ones, at most so many: new ones first, then the newest.
///
/// # Errors
/// A book error.
pub(crate) fn cells_of(
    book: &Book,
    model: &str,
    simulated: bool,
    most: Option<u32>,
) -> Result<Vec<Sibling>, BookError> {
    let wanted = |key: &Key| key.simulated == simulated && key.model == model;
    let found = book.from_kept(FOLD, |from| {
        let mut found = BTreeMap::new();
        if from > 0 {
            for key in book.kept_under(FOLD, &label(simulated, model), most)? {
                let key = Key::of(&key).filter(wanted).ok_or_else(|| damaged(book, &key))?;
                found.extend(kept(book, &key)?.map(|sibling| (key, sibling)));
            }
        }
        since(book, from, (&mut found, &mut NewestLabels::new()), wanted)?;
        Ok::<_, BookError>(found)
    })?;
    let mut cells: Vec<Sibling> = found.into_values().collect();
    cells.sort_by_key(|cell| std::cmp::Reverse(rank(cell)));
    cells.truncate(most.map_or(usize::MAX, |most| usize::try_from(most).unwrap_or(usize::MAX)));
    Ok(cells)
}

/// Returns how many cells of each model the book knows.
///
/// # Errors
/// A book error.
pub(crate) fn counts(book: &Book) -> Result<BTreeMap<String, usize>, BookError> {
    book.from_kept(FOLD, |from| counted(book, from))
}

fn counted(book: &Book, from: u32) -> Result<BTreeMap<String, usize>, BookError> {
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    if from > 0 {
        for simulated in [false, true] {
            let beginning = label(simulated, "");
            for (label, count) in book.kept_labels(FOLD, &beginning)? {
                let model = label.strip_prefix(&beginning).unwrap_or_default().to_owned();
                *counts.entry(model).or_default() += usize::try_from(count).unwrap_or(usize::MAX);
            }
        }
    }
    let mut found = BTreeMap::new();
    since(book, from, (&mut found, &mut NewestLabels::new()), |_| true)?;
    for key in found.into_keys() {
        if from == 0 || book.kept(FOLD, &key.text())?.is_none() {
            *counts.entry(key.model).or_default() += 1;
        }
    }
    Ok(counts)
}

/// Folds the next entries: those of other kinds are passed over.
fn folded(next: Next<'_>) -> Result<Folded, BookError> {
    let mut entries = next.entries.entries_of_kind_after(ASSESSMENT, next.from, FOLDED_AT_ONCE)?;
    let full = u32::try_from(entries.len()).is_ok_and(|count| count >= FOLDED_AT_ONCE);
    entries.retain(|entry| entry.number <= next.upto);
    let last = entries.last().map(|entry| entry.number).filter(|_| full);
    let (mut found, mut labels) = (BTreeMap::new(), NewestLabels::new());
    take(&entries, next.kept, next.from, (&mut found, &mut labels), &|_| true)?;
    let change = |(key, sibling): (Key, Sibling)| {
        let value =
            serde_json::to_string(&sibling).map_err(|error| next.entries.not_storable("model", error))?;
        let labels = vec![(label(key.simulated, &key.model), rank(&sibling))];
        Ok(Change { key: key.text(), value: Some(value), labels })
    };
    let mut changes: Vec<Change> = found.into_iter().map(change).collect::<Result<_, _>>()?;
    for ((simulated, model), used) in labels {
        let value =
            serde_json::to_string(&used).map_err(|error| next.entries.not_storable("label", error))?;
        let labels = vec![(newest(simulated).to_owned(), i64::from(used.entry))];
        changes.push(Change { key: newest_key(simulated, &model), value: Some(value), labels });
    }
    Ok(Folded { to: last.unwrap_or(next.upto), changes })
}

/// Reads with which label each model of real cells, or of simulated ones, was assessed last.
///
/// # Errors
/// A book error.
pub(crate) fn newest_labels(book: &Book, simulated: bool) -> Result<NewestLabels, BookError> {
    book.from_kept(FOLD, |from| {
        let mut labels = NewestLabels::new();
        if from > 0 {
            for key in book.kept_under(FOLD, newest(simulated), None)? {
                let model =
                    key.strip_prefix(&newest_key(simulated, "")).ok_or_else(|| damaged(book, &key))?;
                let value = book.kept(FOLD, &key)?.ok_or_else(|| damaged(book, &key))?;
                let used =
                    serde_json::from_str(&value).map_err(|error| book.kept_is_damaged(FOLD, &key, error))?;
                labels.insert((simulated, model.to_owned()), used);
            }
        }
        let of_this_sort = |key: &Key| key.simulated == simulated;
        since(book, from, (&mut BTreeMap::new(), &mut labels), of_this_sort)?;
        Ok::<_, BookError>(labels)
    })
}

/// Folds all entries after `from` on top of what is kept up to there.
fn since(
    book: &Book,
    from: u32,
    (found, labels): (&mut BTreeMap<Key, Sibling>, &mut NewestLabels),
    wanted: impl Fn(&Key) -> bool,
) -> Result<(), BookError> {
    let mut after = from;
    loop {
        let entries = book.entries_of_kind_after(ASSESSMENT, after, FOLDED_AT_ONCE)?;
        let Some(last) = entries.last() else { return Ok(()) };
        after = last.number;
        take(&entries, book, from, (&mut *found, &mut *labels), &wanted)?;
    }
}

/// Takes entries in, on top of what is kept up to `from`.
fn take(
    entries: &[Entry],
    kept_in: &Book,
    from: u32,
    (found, labels): (&mut BTreeMap<Key, Sibling>, &mut NewestLabels),
    wanted: &dyn Fn(&Key) -> bool,
) -> Result<(), BookError> {
    for entry in entries {
        let Some((key, sibling, nameplate)) = told(entry).filter(|(key, ..)| wanted(key)) else { continue };
        let used = UsedLabel { entry: entry.number, at: entry.at, cell: key.cell.clone(), nameplate };
        labels.insert((key.simulated, key.model.clone()), used);
        if !found.contains_key(&key) && from > 0 {
            found.extend(kept(kept_in, &key)?.map(|kept| (key.clone(), kept)));
        }
        let before = found.remove(&key);
        found.insert(key, newer(before, sibling));
    }
    Ok(())
}

/// What an assessment tells of its model.
fn told(entry: &Entry) -> Option<(Key, Sibling, Nameplate)> {
    let assessment =
        Some(entry).filter(|one| one.kind == ASSESSMENT).and_then(|one| assessment_of(one).ok())?;
    let model = assessment.cell.nameplate.model.clone().filter(|model| !model.contains('\n'))?;
    let conditions = &assessment.conditions;
    let simulated = conditions.is_simulated();
    let instrument = fixture_name(conditions.fixture.as_deref(), conditions.calibration);
    let instrument = instrument.as_deref().unwrap_or("an unknown instrument");
    let new = assessment.cell.observations.new_cell;
    let (rated_ah, again) =
        (assessment.cell.nameplate.rated_capacity_ah, assessment.cell.observations.label_again_ah);
    let estimates = Estimates { measured: assessment.estimates, ..Estimates::default() };
    let known = |quantity| Reading::of(&estimates, quantity, instrument);
    let cell = entry.subject.name.clone();
    let sibling = Sibling {
        cell: cell.clone(),
        entry: entry.number,
        new,
        capacity_fraction: known(Quantity::CapacityFraction),
        resistance_25c: known(Quantity::Resistance25Celsius),
        sensed_at: sensed_at(&estimates),
        rated_ah: Some(rated_ah),
        read_again: again.is_some_and(|read| (read / rated_ah - 1.0).abs() < 1e-3),
    };
    Some((Key { simulated, model, cell }, sibling, assessment.cell.nameplate))
}

/// The newest value of each number.
fn newer(before: Option<Sibling>, now: Sibling) -> Sibling {
    let Some(before) = before else { return now };
    // The place goes with the resistance that is kept.
    let sensed_at = if now.resistance_25c.is_some() { now.sensed_at } else { before.sensed_at };
    Sibling {
        new: before.new || now.new,
        sensed_at,
        read_again: now.read_again || before.read_again && before.rated_ah == now.rated_ah,
        capacity_fraction: now.capacity_fraction.or(before.capacity_fraction),
        resistance_25c: now.resistance_25c.or(before.resistance_25c),
        ..now
    }
}

/// New cells are references and come before all used ones; then the newest first.
fn rank(sibling: &Sibling) -> i64 {
    (i64::from(sibling.new) << 32) | i64::from(sibling.entry)
}

fn kept(book: &Book, key: &Key) -> Result<Option<Sibling>, BookError> {
    let text = key.text();
    let read = |value: String| {
        serde_json::from_str(&value).map_err(|error| book.kept_is_damaged(FOLD, &text, error))
    };
    book.kept(FOLD, &text)?.map(read).transpose()
}

fn label(simulated: bool, model: &str) -> String {
    format!("{} {model}", if simulated { "simulated" } else { "real" })
}

/// Under what the newest labels are found.
const fn newest(simulated: bool) -> &'static str {
    if simulated { "newest simulated" } else { "newest real" }
}

fn newest_key(simulated: bool, model: &str) -> String {
    format!("{}\n{model}", newest(simulated))
}

fn damaged(book: &Book, key: &str) -> BookError {
    book.kept_is_damaged(FOLD, key, "not a cell of this model")
}

impl Key {
    fn text(&self) -> String {
        format!("{}\n{}", label(self.simulated, &self.model), self.cell)
    }

    fn of(text: &str) -> Option<Self> {
        let (label, cell) = text.split_once('\n')?;
        let (sort, model) = label.split_once(' ')?;
        Some(Self { simulated: sort == "simulated", model: model.to_owned(), cell: cell.to_owned() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;
    use celltriage_book::{NewEntry, Subject};
    use jiff::Timestamp;

    fn assess(book: &mut Book, cell: &str, model: &str, new_cell: bool) {
        let made = example(|subject| {
            subject.nameplate.model = Some(model.to_owned());
            subject.observations.new_cell = new_cell;
        });
        let result = serde_json::to_value(&made).unwrap();
        let new = NewEntry::of(ASSESSMENT, Subject::cell(cell), Timestamp::UNIX_EPOCH);
        book.append(NewEntry { summary: "one".to_owned(), result, ..new }).unwrap();
    }

    #[test]
    fn what_is_kept_is_what_all_entries_say_whenever_it_was_kept() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        let told = |book: &Book| -> Vec<(String, u32, bool)> {
            let cells = cells_of(book, "scanner B", false, Some(3)).unwrap();
            cells.into_iter().map(|cell| (cell.cell, cell.entry, cell.new)).collect()
        };
        for (count, (cell, model, new_cell)) in [
            ("A", "scanner B", false),
            ("B", "scanner B", true),
            ("C", "tablet 2", false),
            ("A", "scanner B", false),
            ("D", "scanner B", false),
            ("E", "scanner B", false),
            ("B", "scanner B", false),
        ]
        .into_iter()
        .enumerate()
        {
            assess(&mut book, cell, model, new_cell);
            let read = |book: &Book| newest_labels(book, false).unwrap();
            let before = (told(&book), counts(&book).unwrap(), read(&book));
            if count % 3 == 1 {
                keep_up(&mut book, &mut |_| {}).unwrap();
                assert!(kept_fits(&book, true, &mut |_| {}).unwrap());
            }
            let now = (told(&book), counts(&book).unwrap(), read(&book));
            assert_eq!(now, before, "kept or not, after {count}");
        }
        // New ones first, then the newest; no more than asked for.
        let expected = [("B", 7, true), ("E", 6, false), ("D", 5, false)];
        assert_eq!(told(&book), expected.map(|(cell, entry, new)| (cell.to_owned(), entry, new)));
        let expected = BTreeMap::from([("scanner B".to_owned(), 4), ("tablet 2".to_owned(), 1)]);
        assert_eq!(counts(&book).unwrap(), expected);
        let used = |simulated| -> Vec<_> {
            let labels = newest_labels(&book, simulated).unwrap().into_iter();
            labels.map(|((_, model), used)| (model, used.entry, used.cell)).collect()
        };
        let expected = [("scanner B", 7, "B"), ("tablet 2", 3, "C")];
        assert_eq!(
            used(false),
            expected.map(|(model, entry, cell)| (model.to_owned(), entry, cell.to_owned()))
        );
        assert_eq!(used(true), []);
        book.forget_kept(FOLD).unwrap();
        assert_eq!(told(&book).len(), 3);
    }
}
