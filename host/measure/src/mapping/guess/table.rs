//! The columns of a file with their names and a sample of their values.

use super::words::Name;
use crate::mapping::parts::{ColumnName, DecimalMark, Layout, TimeUnit};

/// Rows that are looked at in a file, spread over it.
const ROWS: usize = 4_000;
/// Different texts that a column of words may have.
pub(super) const MOST_WORDS: usize = 24;

/// One column.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub(super) place: usize,
    pub(super) title: String,
    pub(super) name: Name,
    /// The fields of the rows that are looked at.
    pub(super) fields: Vec<String>,
    /// Their numbers, where most of them are numbers.
    pub(super) numbers: Vec<f64>,
}

/// Reads the columns of a file; rows are those of the beginning and others, evenly spread, in order.
pub(super) fn columns(layout: Layout, lines: &[&str]) -> Vec<Column> {
    let names = match layout.names_in_line {
        0 => Vec::new(),
        line => lines.get(line - 1).map(|line| layout.separator.fields(line)).unwrap_or_default(),
    };
    // A line between the names and the rows has the units.
    let units = if layout.names_in_line > 0 && layout.first_row_in_line > layout.names_in_line + 1 {
        lines.get(layout.names_in_line).map(|line| layout.separator.fields(line)).unwrap_or_default()
    } else {
        Vec::new()
    };
    let rows: Vec<&&str> =
        lines.iter().skip(layout.first_row_in_line - 1).filter(|line| !line.trim().is_empty()).collect();
    // Steps of a current and clocks that begin again show only in rows that follow each other: no row is left out as
    // long as there are few enough.
    let apart = rows.len().div_ceil(ROWS).max(1);
    let rows: Vec<Vec<String>> =
        rows.iter().step_by(apart).map(|line| layout.separator.fields(line)).collect();
    let width = rows
        .iter()
        .map(Vec::len)
        .max()
        .unwrap_or(0)
        .min(names.len().max(1).max(rows.first().map_or(0, Vec::len)));
    (0..width)
        .map(|place| {
            let title = names.get(place).cloned().unwrap_or_default();
            let fields: Vec<String> =
                rows.iter().map(|row| row.get(place).cloned().unwrap_or_default()).collect();
            let numbers: Vec<f64> = fields
                .iter()
                .filter_map(|field| layout.decimal.read(field))
                .map(|written| written.value)
                .collect();
            let filled = fields.iter().filter(|field| !field.is_empty()).count();
            let numbers = if numbers.len() * 10 >= filled * 9 { numbers } else { Vec::new() };
            Column {
                place,
                name: Name::of(&title, units.get(place).map(String::as_str)),
                title,
                fields,
                numbers,
            }
        })
        .collect()
}

impl Column {
    /// Returns how a mapping names it: by its place where its name is empty or stands there twice.
    pub(super) fn named(&self, all: &[Self]) -> ColumnName {
        let alone = all.iter().filter(|other| other.title == self.title).count() == 1;
        if self.title.is_empty() || !alone {
            ColumnName::Place(self.place + 1)
        } else {
            ColumnName::Name(self.title.clone())
        }
    }

    /// Returns the median of its values without their signs; `None` without values.
    pub(super) fn middle(&self) -> Option<f64> {
        let mut values: Vec<f64> = self.numbers.iter().map(|value| value.abs()).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    }

    /// Returns its largest value without sign.
    pub(super) fn largest(&self) -> f64 {
        self.numbers.iter().fold(0.0, |most, value| most.max(value.abs()))
    }

    /// Returns the share of rows in which it does not fall.
    pub(super) fn rising(&self) -> f64 {
        share_rising(&self.numbers)
    }

    /// Returns the share of rows whose value is that of the row before.
    pub(super) fn stays(&self) -> f64 {
        let same = self.numbers.windows(2).filter(|pair| matches!(pair, [a, b] if a == b)).count();
        same as f64 / self.numbers.len().saturating_sub(1).max(1) as f64
    }

    /// Returns how a time is written in it: as a clock or a date, if it is one of them.
    pub(super) fn clock(&self, mark: DecimalMark) -> Option<TimeUnit> {
        let filled: Vec<&String> = self.fields.iter().filter(|field| !field.is_empty()).take(200).collect();
        // Day before month is tried first: where both can be read, the day of a test seldom decides.
        let units = [TimeUnit::Clock, TimeUnit::Date, TimeUnit::DateDayFirst, TimeUnit::DateMonthFirst];
        units.into_iter().find(|unit| {
            let read = filled.iter().filter(|field| unit.read(field, mark).is_some()).count();
            read > 0 && read * 10 >= filled.len() * 9
        })
    }

    /// Returns the different texts in it; `None` where there are too many for words that say what is done.
    pub(super) fn words(&self) -> Option<Vec<String>> {
        let mut words: Vec<String> = Vec::new();
        for field in &self.fields {
            if !field.is_empty() && !words.contains(field) {
                words.push(field.clone());
            }
            if words.len() > MOST_WORDS {
                return None;
            }
        }
        Some(words)
    }
}

/// Returns the share of neighbours that do not fall.
pub(super) fn share_rising(values: &[f64]) -> f64 {
    let pairs = values.windows(2).filter(|pair| matches!(pair, [a, b] if b >= a)).count();
    pairs as f64 / values.len().saturating_sub(1).max(1) as f64
}
