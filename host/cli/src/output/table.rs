//! A plain table: columns as wide as they need within bounds, the last one takes the rest, long cells are wrapped.

use crate::output::style::wrapped;

/// Space between columns.
const GAP: usize = 2;
/// The last column is not squeezed below this.
const LEAST_LAST: usize = 12;

/// Lays out rows under a head. `widest` bounds every column but the last.
pub(crate) fn table(
    head: &[&str],
    rows: &[Vec<String>],
    widest: &[usize],
    indent: usize,
    width: usize,
) -> String {
    let mut widths: Vec<usize> = head.iter().map(|cell| cell.chars().count()).collect();
    for row in rows {
        for (column, cell) in widths.iter_mut().zip(row) {
            *column = (*column).max(cell.chars().count());
        }
    }
    for (column, most) in widths.iter_mut().zip(widest) {
        *column = (*column).min(*most);
    }
    fit(&mut widths, width.saturating_sub(indent));

    let head: Vec<String> = head.iter().map(|cell| (*cell).to_owned()).collect();
    let mut out = String::new();
    for row in std::iter::once(&head).chain(rows) {
        let cells: Vec<Vec<String>> =
            row.iter().zip(&widths).map(|(cell, width)| wrapped(cell, *width)).collect();
        let height = cells.iter().map(Vec::len).max().unwrap_or(0);
        for line in 0..height {
            let mut text = " ".repeat(indent);
            for (cell, width) in cells.iter().zip(&widths) {
                let part = cell.get(line).map_or("", String::as_str);
                text.push_str(&format!("{part:<width$}{:GAP$}", ""));
            }
            out.push_str(text.trim_end());
            out.push('\n');
        }
    }
    out
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
        let rows = [vec!["a".to_owned(), "one two three four five".to_owned()]];
        let text = table(&["name", "words"], &rows, &[10], 2, 22);
        assert_eq!(text, "  name  words\n  a     one two three\n        four five\n");
    }
}
