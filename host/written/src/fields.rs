//! A TOML table taken apart key by key: values with their places, and faults noted on the way.

use crate::reading::Reading;
use crate::words::closest;
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// A value with its place.
#[derive(Clone, Debug)]
pub struct Found<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Range<usize>,
}

/// The keys of a table that have not been taken yet.
#[derive(Debug)]
pub struct Fields<'t> {
    table: DeTable<'t>,
    span: Range<usize>,
}

impl<'t> Fields<'t> {
    /// Makes the fields of a table.
    pub(crate) fn new(table: DeTable<'t>, span: Range<usize>) -> Self {
        Self { table, span }
    }

    /// Returns where the table begins.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Takes a key that may be missing; a value of the wrong type is a mistake and comes back as missing.
    pub fn take<T: DeserializeOwned>(&mut self, key: &str, reading: &mut Reading<'_>) -> Option<Found<T>> {
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
                reading.add_error(key, &error, span);
                None
            }
        }
    }

    /// Takes a key that must be present.
    pub fn need<T: DeserializeOwned>(&mut self, key: &str, reading: &mut Reading<'_>) -> Option<Found<T>> {
        if !self.table.contains_key(key) {
            reading.add(self.span(), format!("`{key}` is missing"));
        }
        self.take(key, reading)
    }

    /// Takes an array of tables.
    pub fn tables(&mut self, key: &str, reading: &mut Reading<'_>) -> Vec<Fields<'t>> {
        let Some(value) = self.table.remove(key) else { return Vec::new() };
        let span = value.span();
        let DeValue::Array(values) = value.into_inner() else {
            reading.add(span, format!("write [[{key}]] before each one"));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for value in values {
            let span = value.span();
            match value.into_inner() {
                DeValue::Table(table) => tables.push(Fields { table, span }),
                _ => reading.add(span, format!("write [[{key}]] before each one")),
            }
        }
        tables
    }

    /// Takes a table below a key; a value of another type is a fault.
    pub fn table(&mut self, key: &str, reading: &mut Reading<'_>) -> Option<Fields<'t>> {
        let value = self.table.remove(key)?;
        let span = value.span();
        match value.into_inner() {
            DeValue::Table(table) => Some(Self { table, span }),
            _ => {
                reading.add(span, format!("write [{key}] on a line of its own, and its keys below"));
                None
            }
        }
    }

    /// Returns whether a key is there and not taken yet.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Returns the keys that nobody has taken yet, in the order of the file.
    pub fn left(&self) -> Vec<Found<String>> {
        let mut keys: Vec<Found<String>> = (self.table.keys())
            .map(|key| Found { value: key.get_ref().to_string(), span: key.span() })
            .collect();
        keys.sort_by_key(|key| key.span.start);
        keys
    }

    /// Notes every key that nobody has taken: it is unknown, and might be a misspelt one.
    pub fn finish(self, known: &[&str], reading: &mut Reading<'_>) {
        for Found { value: written, span } in self.left() {
            let what = match closest(&written, known) {
                Some(meant) => format!("unknown key `{written}`; did you mean `{meant}`?"),
                None => format!("unknown key `{written}`; the keys here are: {}", known.join(", ")),
            };
            reading.add(span, what);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fault_is_found_in_one_reading() {
        let text = "a = 1\nb = \"x\"\nc = 2026-01-31\n[[rule]]\nd = \"y\"\n";
        let (mut reading, mut fields) = Reading::begin("f.toml", text);
        assert_eq!(fields.take::<String>("a", &mut reading).map(|found| found.value), None);
        assert_eq!(fields.take::<f64>("b", &mut reading).map(|found| found.value), None);
        let date = fields.take::<jiff::civil::Date>("c", &mut reading).map(|found| found.value);
        assert_eq!(date, Some(jiff::civil::date(2026, 1, 31)));
        for mut rule in fields.tables("rule", &mut reading) {
            assert!(rule.need::<String>("id", &mut reading).is_none());
            rule.finish(&["id"], &mut reading);
        }
        fields.finish(&[], &mut reading);
        let places: Vec<_> =
            reading.end(Some(())).unwrap_err().0.iter().map(|one| one.place.to_string()).collect();
        assert_eq!(places, ["f.toml:1:5", "f.toml:2:5", "f.toml:4:1", "f.toml:5:1"]);
    }

    #[test]
    fn a_fault_of_writing_does_not_hide_the_others() {
        let (mut reading, mut fields) = Reading::begin("f.toml", "a = = 1\nb = 2\n");
        assert_eq!(fields.take::<String>("b", &mut reading).map(|found| found.value), None);
        let lines: Vec<_> = reading.end(Some(())).unwrap_err().0.iter().map(|one| one.place.line).collect();
        assert_eq!((lines.first(), lines.last()), (Some(&1), Some(&2)));
    }

    #[test]
    fn a_slip_of_the_pen_is_told_from_another_word() {
        let (mut reading, fields) = Reading::begin("f.toml", "colour = 1\nvolltage = 2\n");
        fields.finish(&["voltage", "current"], &mut reading);
        let told = reading.end(Some(())).unwrap_err().to_string();
        assert_eq!(
            told,
            "f.toml:1:1: unknown key `colour`; the keys here are: voltage, current\n\
             f.toml:2:1: unknown key `volltage`; did you mean `voltage`?"
        );
    }

    #[test]
    fn whole_numbers_are_numbers_and_tables_are_tables() {
        let (mut reading, mut fields) = Reading::begin("f.toml", "a = 3\nb = 1\n[c]\nd = true\n");
        assert_eq!(fields.take::<f64>("a", &mut reading).map(|found| found.value), Some(3.0));
        assert!(fields.table("b", &mut reading).is_none());
        let mut below = fields.table("c", &mut reading).unwrap();
        assert_eq!(below.take::<bool>("d", &mut reading).map(|found| found.value), Some(true));
        assert!(reading.end(Some(())).unwrap_err().to_string().starts_with("f.toml:2:5"));
    }
}
