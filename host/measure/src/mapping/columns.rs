//! Where the columns of a mapping are in a file.

use super::MappingError;
use super::parts::{ColumnName, Layout, Mapping, Mode, Positive, Selection};

/// Places in a row, from 0.
#[derive(Clone, Debug)]
pub(super) struct Places {
    pub(super) time: usize,
    pub(super) voltage: usize,
    pub(super) current: usize,
    pub(super) mode: Option<usize>,
    pub(super) cell: Option<usize>,
    pub(super) air: Option<usize>,
    pub(super) cycle: Option<usize>,
    pub(super) step: Option<usize>,
}

impl Places {
    /// Finds the columns that the mapping names.
    pub(super) fn find(mapping: &Mapping, lines: &[&str], name: &str) -> Result<Self, MappingError> {
        let Layout { separator, names_in_line, .. } = mapping.text;
        let names = match names_in_line {
            0 => Vec::new(),
            line => lines.get(line - 1).map(|line| separator.fields(line)).unwrap_or_default(),
        };
        let fault =
            |what: String| MappingError::Column { name: name.to_owned(), line: names_in_line.max(1), what };
        let place = |column: &ColumnName| place(column, &names).map_err(fault);
        let optional = |column: Option<&ColumnName>| column.map(place).transpose();
        let current = &mapping.current;
        if current.positive == Positive::AsModeSays && current.mode.is_none() {
            return Err(fault(
                "`positive = \"as-mode-says\"` needs [current.mode]: the column and its words".to_owned(),
            ));
        }
        Ok(Self {
            time: place(&mapping.time.column)?,
            voltage: place(&mapping.voltage.column)?,
            current: place(&current.column)?,
            mode: optional(current.mode.as_ref().map(|Mode { column, .. }| column))?,
            cell: optional(mapping.cell_temperature.as_ref().map(|found| &found.column))?,
            air: optional(mapping.air_temperature.as_ref().map(|found| &found.column))?,
            cycle: optional(mapping.rows.cycle.as_ref().map(|Selection { column, .. }| column))?,
            step: optional(mapping.rows.step.as_ref().map(|Selection { column, .. }| column))?,
        })
    }
}

fn place(column: &ColumnName, names: &[String]) -> Result<usize, String> {
    let wanted = match column {
        ColumnName::Place(0) => return Err("columns are counted from 1; there is no column 0".to_owned()),
        ColumnName::Place(place) if names.is_empty() || *place <= names.len() => return Ok(place - 1),
        ColumnName::Place(place) => {
            return Err(format!("there is no column {place}: the line has {} columns", names.len()));
        }
        ColumnName::Name(wanted) => wanted,
    };
    let mut found =
        names.iter().enumerate().filter(|(_, name)| *name == wanted.trim()).map(|(index, _)| index);
    match (found.next(), found.next()) {
        (Some(only), None) => Ok(only),
        (Some(first), Some(second)) => Err(format!(
            "`{wanted}` is there twice: give its place instead, `column = {}` or `column = {}`",
            first + 1,
            second + 1
        )),
        (None, _) => Err(format!(
            "there is no column `{wanted}`{}; the columns are {}",
            celltriage_written::suggestion(wanted, &names.iter().map(String::as_str).collect::<Vec<_>>()),
            names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
        )),
    }
}
