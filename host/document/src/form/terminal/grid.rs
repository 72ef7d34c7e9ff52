//! A table of text: columns as wide as they need within bounds, the last one takes the rest, long cells are broken.

use crate::document::Table;
use crate::text::Text;
use crate::wrap::{Flat, wrapped};
use comfy_table::presets::NOTHING;
use comfy_table::{ColumnConstraint, ContentArrangement, Width};
use textwrap::core::display_width;

/// Space between columns.
const GAP: usize = 2;
/// The last column is not squeezed below this.
const LEAST_LAST: usize = 12;

/// Lays out a table.
pub(super) fn grid(table: &Table, width: usize) -> String {
    let head: Vec<String> = table.columns.iter().map(|column| one_line(&column.heading)).collect();
    let rows: Vec<Vec<String>> =
        table.rows.iter().map(|row| row.iter().take(head.len()).map(one_line).collect()).collect();
    let mut widths: Vec<usize> = head.iter().map(|cell| display_width(cell)).collect();
    for row in &rows {
        for (column, cell) in widths.iter_mut().zip(row) {
            *column = (*column).max(display_width(cell));
        }
    }
    for (column, bound) in widths.iter_mut().zip(&table.columns) {
        *column = (*column).min(bound.widest.unwrap_or(usize::MAX));
    }
    fit(&mut widths, width.saturating_sub(table.indent));

    let mut grid = comfy_table::Table::new();
    grid.load_style(NOTHING).set_content_arrangement(ContentArrangement::Disabled);
    let cells = |row: &[String]| -> Vec<String> {
        row.iter().zip(&widths).map(|(cell, width)| wrapped(cell, *width).join("\n")).collect()
    };
    grid.set_header(cells(&head));
    rows.iter().for_each(|row| {
        grid.add_row(cells(row));
    });
    for (column, width) in grid.column_iter_mut().zip(&widths) {
        let cells = u16::try_from(width + GAP).unwrap_or(u16::MAX);
        column.set_padding((0, GAP as u16)).set_constraint(ColumnConstraint::Absolute(Width::Fixed(cells)));
    }
    let indent = " ".repeat(table.indent);
    let line = |line: &str| format!("{indent}{line}").trim_end().to_owned() + "\n";
    grid.lines().map(|one| line(&one)).collect()
}

/// A cell before its lines are broken. A space that keeps words together stays in it.
fn one_line(text: &Text) -> String {
    Flat::of(text).text
}

/// Takes columns from the widest until the last one has room, then gives it what is left.
fn fit(widths: &mut [usize], room: usize) {
    let Some((last, others)) = widths.split_last_mut() else { return };
    let taken = |others: &[usize]| others.iter().map(|column| column + GAP).sum::<usize>();
    let least = (*last).min(LEAST_LAST);
    while taken(others) + least > room {
        match others.iter_mut().max() {
            Some(widest) if *widest > 1 => *widest -= 1,
            _ => break,
        }
    }
    *last = room.saturating_sub(taken(others)).max(1);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_long_cells_wrap() {
        let mut table = Table::under(["name", "words"]).widest(&[10]);
        table.row(["a", "one two three four five"]);
        assert_eq!(grid(&table, 22), "  name  words\n  a     one two three\n        four five\n");
    }

    #[test]
    fn a_column_that_is_bounded_stays_as_wide_as_its_bound_and_numbers_keep_their_units() {
        let mut table = Table::under(["check", "limit"]).widest(&[12]).indented(0);
        table.row(["sink at 0.1 A: less", "± 25.000 mV"]).row(["x", ""]);
        assert_eq!(grid(&table, 60), "check         limit\nsink at       ± 25.000 mV\n0.1 A: less\nx\n");
    }
}
