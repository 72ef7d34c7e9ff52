//! Finds the columns of a Battery Data Format file by their names, in any order.
//!
//! Input: the header row; output: the places of the columns this tool reads, or what is missing and what to do. Columns
//! that are not read are named in a note.

use crate::trace::{NoteKind, Place, TraceNote};
use csv::ByteRecord;

/// Spellings of each column: the format's label first, then its machine name and what its newer versions call it.
const TIME: &[&str] = &["Test Time / s", "test_time_second"];
const CURRENT: &[&str] = &["Current / A", "current_ampere"];
const VOLTAGE: &[&str] = &["Voltage / V", "voltage_volt"];
const CELL: &[&str] = &[
    "Surface Temperature T1 / degC",
    "temperature_t1_celsius",
    "surface_temperature_t1_celsius",
    "Surface Temperature / degC",
    "surface_temperature_celsius",
    "Temperature T1 / degC",
];
const AMBIENT: &[&str] = &["Ambient Temperature / degC", "ambient_temperature_celsius"];
/// Not a column of the format, which keeps one cell in one file: names the cell of a row in a file of many.
const CELL_ID: &[&str] = &["Cell ID", "cell_id"];

/// One column of a file.
#[derive(Clone, Debug)]
pub(super) struct Column {
    index: usize,
    name: &'static str,
}

impl Column {
    /// Returns its place in a row, counted from 0.
    pub(super) const fn index(&self) -> usize {
        self.index
    }

    /// Returns whether a row has nothing in this column.
    pub(super) fn is_blank(&self, record: &ByteRecord) -> bool {
        record.get(self.index).is_none_or(|field| field.trim_ascii().is_empty())
    }

    /// Returns how many decimals a row writes its number with.
    pub(super) fn decimals(&self, record: &ByteRecord) -> i32 {
        let text = String::from_utf8_lossy(record.get(self.index).unwrap_or_default()).to_lowercase();
        let (digits, exponent) = text.trim().split_once('e').unwrap_or((text.trim(), "0"));
        let written = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        i32::try_from(written).unwrap_or(0).saturating_sub(exponent.parse::<i32>().unwrap_or(0))
    }

    /// Returns the number in a row, or what is wrong with it.
    pub(super) fn number(&self, record: &ByteRecord, range: Option<[f64; 2]>) -> Result<f64, String> {
        let name = self.name;
        let Some(field) = record.get(self.index) else {
            return Err(format!("column `{name}` is missing: the row has only {} fields", record.len()));
        };
        let text = String::from_utf8_lossy(field);
        let text = text.trim();
        let value = match text.parse::<f64>() {
            _ if text.is_empty() => return Err(format!("column `{name}` is empty")),
            Ok(value) if value.is_finite() => value,
            _ => return Err(format!("column `{name}` reads `{text}`, which is no number")),
        };
        match range {
            Some([low, high]) if value < low || value > high => Err(format!(
                "column `{name}` reads {value}, outside {low} to {high}: check its unit, and that it is one cell"
            )),
            _ => Ok(value),
        }
    }
}

/// The columns that are read.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    pub(super) time: Column,
    pub(super) current: Column,
    pub(super) voltage: Column,
    pub(super) cell: Option<Column>,
    pub(super) ambient: Option<Column>,
    pub(super) cell_id: Option<Column>,
}

impl Columns {
    /// Finds the columns; columns that are not read are listed in one note.
    pub(super) fn find(header: &ByteRecord, notes: &mut Vec<TraceNote>) -> Result<Self, String> {
        let names: Vec<String> =
            header.iter().map(|name| String::from_utf8_lossy(name).trim().to_owned()).collect();
        if names.iter().all(String::is_empty) {
            return Err("there is no header row; the first line must name the columns".to_owned());
        }
        let find = |spellings: &'static [&'static str]| find(&names, spellings);
        let required =
            |spellings: &'static [&'static str]| find(spellings)?.ok_or_else(|| absent(&names, spellings));
        let columns = Self {
            time: required(TIME)?,
            current: required(CURRENT)?,
            voltage: required(VOLTAGE)?,
            cell: find(CELL)?,
            ambient: find(AMBIENT)?,
            cell_id: find(CELL_ID)?,
        };
        let read = [Some(&columns.time), Some(&columns.current), Some(&columns.voltage)];
        let optional = [columns.cell.as_ref(), columns.ambient.as_ref(), columns.cell_id.as_ref()];
        let read = read.into_iter().chain(optional).flatten();
        let read: Vec<usize> = read.map(|column| column.index).collect();
        let unread =
            names.iter().enumerate().filter(|(index, name)| !read.contains(index) && !name.is_empty());
        let unread: Vec<String> = unread.map(|(_, name)| format!("`{name}`")).collect();
        if !unread.is_empty() {
            let text = format!("columns that are not used: {}", unread.join(", "));
            notes.push(TraceNote::new(Place::Line(1), NoteKind::NotUsed, text));
        }
        Ok(columns)
    }

    /// Returns the cell that a row names, where it names one.
    pub(super) fn cell_id<'r>(&self, record: &'r ByteRecord) -> Option<&'r [u8]> {
        let id = record.get(self.cell_id.as_ref()?.index)?.trim_ascii();
        (!id.is_empty()).then_some(id)
    }
}

/// Finds a column by the first of its spellings that occurs.
fn find(names: &[String], spellings: &'static [&'static str]) -> Result<Option<Column>, String> {
    for &name in spellings {
        let mut places =
            (0..names.len()).filter(|index| names.get(*index).is_some_and(|n| plain(n) == plain(name)));
        if let Some(index) = places.next() {
            if let Some(second) = places.next() {
                return Err(format!(
                    "`{name}` is there twice, as columns {} and {}; leave one",
                    index + 1,
                    second + 1
                ));
            }
            return Ok(Some(Column { index, name }));
        }
    }
    Ok(None)
}

/// Returns a name without case, spaces and spellings of degrees.
fn plain(name: &str) -> String {
    name.to_lowercase().replace('°', "deg").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Returns what to say where a column was not found.
fn absent(names: &[String], spellings: &[&str]) -> String {
    let wanted = spellings.first().copied().unwrap_or_default();
    let quantity = plain(wanted.split('/').next().unwrap_or(wanted));
    if let [only] = names
        && (only.contains(';') || only.contains('\t'))
    {
        return "the columns are not separated by commas; save the file as comma-separated text with decimal points"
            .to_owned();
    }
    let near = names.iter().find(|name| plain(name).contains(quantity.trim()));
    let seen = match near {
        Some(near) => {
            format!("`{near}` looks like it, in another unit or spelling: convert it and name it `{wanted}`")
        }
        None => format!(
            "the columns are {}: name it `{wanted}`, or export the file in the Battery Data Format",
            names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
        ),
    };
    format!("column `{wanted}` is missing; {seen}")
}
