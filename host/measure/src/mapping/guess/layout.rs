//! How a text is written: what stands between its fields and before its decimals, and where its rows begin.

use crate::mapping::parts::{DecimalMark, Encoding, Layout, Separator};

/// Lines that are looked at: a file's beginning shows how it is written.
const LINES: usize = 2_000;
/// Rows that make a table.
const FEWEST_ROWS: usize = 3;
/// Columns that a trace needs at least: time, current, voltage.
const FEWEST_COLUMNS: usize = 3;

/// Finds the longest stretch of rows, over all ways of reading them; `None` where there is no table of numbers.
pub(super) fn layout(encoding: Encoding, lines: &[&str]) -> Option<Layout> {
    let lines = lines.get(..lines.len().min(LINES)).unwrap_or(lines);
    let separators = [Separator::Tab, Separator::Semicolon, Separator::Comma, Separator::Space];
    let mut best: Option<(usize, Layout)> = None;
    for separator in separators {
        for decimal in [DecimalMark::Point, DecimalMark::Comma] {
            let Some((first, numbers)) = rows(lines, separator, decimal) else { continue };
            if best.as_ref().is_none_or(|(most, _)| numbers > *most) {
                let names_in_line = names_above(lines, first, separator, decimal);
                let first_row_in_line = first + 1;
                best = Some((
                    numbers,
                    Layout { encoding, separator, decimal, names_in_line, first_row_in_line },
                ));
            }
        }
    }
    best.map(|(_, layout)| layout)
}

/// Returns where the longest stretch of rows begins, and how many numbers stand in it.
fn rows(lines: &[&str], separator: Separator, decimal: DecimalMark) -> Option<(usize, usize)> {
    let mut best: Option<(usize, usize, usize)> = None;
    let mut current: Option<(usize, usize, usize, usize)> = None;
    for (index, line) in lines.iter().enumerate() {
        let fields = separator.fields(line);
        let numbers = fields.iter().filter(|field| decimal.read(field).is_some()).count();
        // A row has at least a voltage and a current; its time may be a date, and words may stand beside them.
        let is_row = fields.len() >= FEWEST_COLUMNS && numbers >= 2;
        current = match current {
            Some((first, width, rows, sum)) if is_row && width == fields.len() => {
                Some((first, width, rows + 1, sum + numbers))
            }
            _ if is_row => Some((index, fields.len(), 1, numbers)),
            // An empty line or a torn one between rows ends nothing.
            Some(kept) if line.trim().is_empty() => Some(kept),
            _ => None,
        };
        if let Some((first, _, rows, sum)) = current
            && best.is_none_or(|(_, _, most)| sum > most)
        {
            best = Some((first, rows, sum));
        }
    }
    best.filter(|(_, rows, _)| *rows >= FEWEST_ROWS).map(|(first, _, sum)| (first, sum))
}

/// Returns the line, from 1, that names the columns of rows that begin at a place; 0 where none does.
fn names_above(lines: &[&str], first: usize, separator: Separator, decimal: DecimalMark) -> usize {
    let Some(row) = lines.get(first) else { return 0 };
    let width = separator.fields(row).len();
    let is_names = |index: usize| {
        let fields = lines.get(index).map(|line| separator.fields(line)).unwrap_or_default();
        let words = fields.iter().filter(|field| !field.is_empty() && decimal.read(field).is_none()).count();
        fields.len().abs_diff(width) <= 1 && words * 2 > width
    };
    // Where two lines of words stand above the rows, the upper one names the columns and the lower one their units.
    let above = |back: usize| first.checked_sub(back).filter(|index| is_names(*index));
    match (above(1), above(2)) {
        (Some(_), Some(upper)) => upper + 1,
        (Some(only), None) => only + 1,
        // An empty line may stand between.
        (None, Some(upper)) if lines.get(first - 1).is_some_and(|line| line.trim().is_empty()) => upper + 1,
        (None, _) => 0,
    }
}
