//! Guesses how a file of another program is to be read. What is guessed is shown to a person before it is used.

mod layout;
mod meaning;
mod table;
mod way;
mod words;

use super::MappingError;
use super::parts::{
    CurrentColumn, Encoding, Mapping, Positive, RowChoice, Selection, TemperatureColumn, TimeColumn,
    VoltageColumn,
};
use crate::trace::Trace;
use meaning::Found;

/// A mapping that nobody has confirmed, and what a person should look at.
#[derive(Clone, Debug)]
pub struct Guess {
    /// How the file would be read.
    pub mapping: Mapping,
    /// What could not be told from the file.
    pub doubts: Vec<String>,
    /// Columns that would not be read.
    pub not_used: Vec<String>,
    /// What it would give; or why it gives no trace.
    pub trace: Result<Trace, String>,
}

/// Guesses how a file is read; `name` is what messages call it.
///
/// # Errors
/// [`MappingError::Text`], or [`MappingError::NotRecognised`] where there is no table with a time, a voltage and a current.
pub fn guess(bytes: &[u8], name: &str) -> Result<Guess, MappingError> {
    let encoding = Encoding::of(bytes);
    let text = encoding.decode(bytes).map_err(|what| MappingError::Text { name: name.to_owned(), what })?;
    let lines: Vec<&str> = text.lines().collect();
    let unknown = |what: &str| MappingError::NotRecognised { name: name.to_owned(), what: what.to_owned() };
    let layout = layout::layout(encoding, &lines).ok_or_else(|| {
        unknown(
            "there is no table with three columns of numbers; export the readings as text, one row a reading",
        )
    })?;
    let columns = table::columns(layout, &lines);
    let mut doubts = Vec::new();
    if layout.names_in_line == 0 {
        doubts.push("no line names the columns: they are guessed from their values alone".to_owned());
    }
    let found = Found::among(&columns, layout.decimal, &mut doubts).map_err(|what| unknown(&what))?;
    let column = |place: usize| columns.iter().find(|column| column.place == place);
    let named = |place: usize| {
        column(place).map_or(super::ColumnName::Place(place + 1), |column| column.named(&columns))
    };
    let temperature = |found: Option<(usize, super::TemperatureUnit)>| {
        found.map(|(place, unit)| TemperatureColumn { column: named(place), unit })
    };
    let cycle = found.cycle.and_then(column).and_then(|column| column.words().map(|words| (column, words)));
    let cycle = cycle.filter(|(_, words)| words.len() > 1).map(|(column, words)| {
        let last = words.last().cloned().unwrap_or_default();
        doubts.push(format!(
            "there are {} cycles ({}): the last one is taken; `values` of [rows.cycle] has those that count",
            words.len(),
            words.join(", ")
        ));
        Selection { column: column.named(&columns), values: vec![last] }
    });
    let mut mapping = Mapping {
        confirmed_by: None,
        text: layout,
        time: TimeColumn { column: named(found.time), unit: found.time_unit, restarts: found.restarts },
        voltage: VoltageColumn { column: named(found.voltage), unit: found.voltage_unit },
        current: CurrentColumn {
            column: named(found.current),
            unit: found.current_unit,
            positive: Positive::Charges,
            mode: None,
        },
        cell_temperature: temperature(found.cell),
        air_temperature: temperature(found.air),
        rows: RowChoice { cycle, step: None },
    };
    let trace = way::find(&mut mapping, &found, &columns, &lines, name, &mut doubts);
    let trace = trace.map_err(|error| error.to_string());
    let used = found.places(&mapping, &columns);
    let not_used = columns.iter().filter(|column| !used.contains(&column.place) && !column.title.is_empty());
    let not_used = not_used.map(|column| column.title.clone()).collect();
    Ok(Guess { mapping, doubts, not_used, trace })
}
