//! A table: columns as wide as they need where there is room, rows that stay whole.

use super::super::piece::{Frame, Part, Piece, Role};
use super::Maker;
use crate::font::Weight;
use celltriage_document::document::Table;
use celltriage_document::text::Text;

/// Between columns, in parts of the size of letters.
const BETWEEN: f64 = 0.9;

impl Maker {
    /// Makes a row of the heads, then the rows.
    pub(super) fn table(&mut self, table: &Table) -> Vec<Piece> {
        self.lists += 1;
        let widths = self.columns(table);
        let heads: Vec<Text> = table.columns.iter().map(|column| column.heading.clone()).collect();
        let mut pieces = vec![self.row(&heads, &widths, true)];
        pieces.extend(table.rows.iter().map(|row| self.row(row, &widths, false)));
        pieces
    }

    fn row(&self, cells: &[Text], widths: &[f64], head: bool) -> Piece {
        let size = self.letters.size;
        let weight = if head { Weight::Bold } else { Weight::Regular };
        let mut piece = Piece::new(Role::Row(self.lists), 0.15 * size, 0.0);
        let mut left = 0.0;
        for (cell, width) in cells.iter().zip(widths) {
            let (content, height) = self.lines(cell, size, *width, weight, [left, 0.0]);
            piece.height = piece.height.max(height);
            piece.parts.push(Part { content, head });
            left += width + BETWEEN * size;
        }
        piece.height += 1.0;
        piece.with_next = head;
        let line = if head { 0.6 } else { 0.25 };
        piece.frames.push(Frame { place: [0.0, piece.height - line, self.width, line], filled: true });
        piece
    }

    /// Columns that need less than their share keep what they need; the others share the rest.
    fn columns(&self, table: &Table) -> Vec<f64> {
        let size = self.letters.size;
        let count = table.columns.len();
        let wide =
            |text: &Text, weight| self.letters.width(&self.letters.printed(&text.said()), weight, size) + 0.5;
        let natural = |column: usize| {
            let cells =
                table.rows.iter().filter_map(|row| row.get(column)).map(|cell| wide(cell, Weight::Regular));
            let head = table.columns.get(column).map_or(0.0, |column| wide(&column.heading, Weight::Bold));
            cells.fold(head, f64::max)
        };
        let natural: Vec<f64> = (0..count).map(natural).collect();
        let room = self.width - BETWEEN * size * count.saturating_sub(1) as f64;
        let mut share = room / count.max(1) as f64;
        for _ in 0..count {
            let (kept, sharing) = natural.iter().fold((0.0, 0), |(kept, sharing), wide| {
                if *wide <= share { (kept + wide, sharing) } else { (kept, sharing + 1) }
            });
            if sharing == 0 {
                break;
            }
            share = share.max((room - kept) / f64::from(sharing));
        }
        natural.into_iter().map(|wide| wide.min(share)).collect()
    }
}
