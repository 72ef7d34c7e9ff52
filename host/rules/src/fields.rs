//! A TOML table taken apart key by key, so that one reading finds every mistake in it and not only the first.
//!
//! Takes the text of a file; gives values with their places, and the mistakes collected on the way.

use crate::pack::PackError;
use celltriage_written::toml_place::Place;
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Collects mistakes with their places in one file.
#[derive(Debug)]
pub(super) struct Mistakes<'t> {
    file: &'t str,
    text: &'t str,
    found: Vec<PackError>,
}

impl<'t> Mistakes<'t> {
    /// Begins with none.
    pub(super) fn none(file: &'t str, text: &'t str) -> Self {
        Self { file, text, found: Vec::new() }
    }

    /// Notes one at the start of a byte range.
    pub(super) fn add(&mut self, span: Range<usize>, what: impl Into<String>) {
        let place = Place::of(self.file, self.text, Some(span));
        self.found.push(PackError { place, what: what.into() });
    }

    /// Notes one in the TOML reader's own words.
    fn add_error(&mut self, error: &toml::de::Error, span: Range<usize>) {
        let words = error.message().lines().collect::<Vec<_>>().join("; ");
        // The reader speaks of Rust's types; a person at the bench does not.
        let words = words.replace("expected f64", "expected a number").replace("floating point", "number");
        self.add(error.span().unwrap_or(span), words);
    }

    /// Reads the file's outermost table; mistakes of writing are noted, and what could be read goes on.
    pub(super) fn read(&mut self) -> Fields<'t> {
        let (table, errors) = DeTable::parse_recoverable(self.text);
        for error in &errors {
            self.add_error(error, 0..0);
        }
        let span = table.span();
        Fields { table: table.into_inner(), span }
    }

    /// Returns the mistakes in the order of their places.
    pub(super) fn into_found(mut self) -> Vec<PackError> {
        self.found.sort_by_key(|one| (one.place.line, one.place.column));
        self.found
    }
}

/// A value with its place.
#[derive(Clone, Debug)]
pub(super) struct Found<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Range<usize>,
}

/// The keys of a table that have not been taken yet.
#[derive(Debug)]
pub(super) struct Fields<'t> {
    table: DeTable<'t>,
    span: Range<usize>,
}

impl<'t> Fields<'t> {
    /// Returns where the table begins.
    pub(super) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Takes a key that may be missing; a value of the wrong type is a mistake and comes back as missing.
    pub(super) fn take<T: DeserializeOwned>(
        &mut self,
        key: &str,
        mistakes: &mut Mistakes<'_>,
    ) -> Option<Found<T>> {
        let value = self.table.remove(key)?;
        let span = value.span();
        // Dates may stand with or without quotation marks.
        let value = match value.get_ref() {
            DeValue::Datetime(date) => {
                toml::Spanned::new(span.clone(), DeValue::String(date.to_string().into()))
            }
            _ => value,
        };
        match T::deserialize(toml::de::ValueDeserializer::from(value)) {
            Ok(value) => Some(Found { value, span }),
            Err(error) => {
                mistakes.add_error(&error, span);
                None
            }
        }
    }

    /// Takes a key that must be there.
    pub(super) fn need<T: DeserializeOwned>(
        &mut self,
        key: &str,
        mistakes: &mut Mistakes<'_>,
    ) -> Option<Found<T>> {
        if !self.table.contains_key(key) {
            mistakes.add(self.span(), format!("`{key}` is missing"));
        }
        self.take(key, mistakes)
    }

    /// Takes an array of tables.
    pub(super) fn tables(&mut self, key: &str, mistakes: &mut Mistakes<'_>) -> Vec<Fields<'t>> {
        let Some(value) = self.table.remove(key) else { return Vec::new() };
        let span = value.span();
        let DeValue::Array(values) = value.into_inner() else {
            mistakes.add(span, format!("write [[{key}]] before each one"));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for value in values {
            let span = value.span();
            match value.into_inner() {
                DeValue::Table(table) => tables.push(Fields { table, span }),
                _ => mistakes.add(span, format!("write [[{key}]] before each one")),
            }
        }
        tables
    }

    /// Notes every key that nobody has taken: it is unknown, and might be a misspelt one.
    pub(super) fn finish(self, known: &[&str], mistakes: &mut Mistakes<'_>) {
        for key in self.table.keys() {
            let what =
                format!("`{}` is not a key of this table; there are: {}", key.get_ref(), known.join(", "));
            mistakes.add(key.span(), what);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_mistake_is_found_in_one_reading() {
        let text = "a = 1\nb = \"x\"\nc = 2026-01-31\n[[rule]]\nd = \"y\"\n";
        let mut mistakes = Mistakes::none("f.toml", text);
        let mut fields = mistakes.read();
        assert_eq!(fields.take::<String>("a", &mut mistakes).map(|found| found.value), None);
        assert_eq!(fields.take::<f64>("b", &mut mistakes).map(|found| found.value), None);
        let date = fields.take::<jiff::civil::Date>("c", &mut mistakes).map(|found| found.value);
        assert_eq!(date, Some(jiff::civil::date(2026, 1, 31)));
        for mut rule in fields.tables("rule", &mut mistakes) {
            assert!(rule.need::<String>("id", &mut mistakes).is_none());
            rule.finish(&["id"], &mut mistakes);
        }
        fields.finish(&[], &mut mistakes);
        let places: Vec<_> = mistakes.into_found().iter().map(|one| one.place.to_string()).collect();
        assert_eq!(places, ["f.toml:1:5", "f.toml:2:5", "f.toml:4:1", "f.toml:5:1"]);
    }

    #[test]
    fn a_mistake_of_writing_does_not_hide_the_others() {
        let text = "a = = 1\nb = 2\n";
        let mut mistakes = Mistakes::none("f.toml", text);
        let mut fields = mistakes.read();
        assert_eq!(fields.take::<String>("b", &mut mistakes).map(|found| found.value), None);
        let lines: Vec<_> = mistakes.into_found().iter().map(|one| one.place.line).collect();
        assert_eq!((lines.first(), lines.last()), (Some(&1), Some(&2)));
    }
}
