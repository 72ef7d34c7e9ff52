//! Cuts a long CSV file that holds the traces of many cells into one piece for each cell, while it is read.
//!
//! Input: text whose header row has a column for the cell's name (`Cell ID`), the rows of a cell standing together;
//! output: the rows of one cell after the other. No more than two cells are held at a time, whatever the file's length.
//! One or two odd rows between rows of one cell stay with that cell, where reading it then fails with their line: a torn
//! line must not make one cell into two.

use std::borrow::Cow;
use std::io::{BufRead, ErrorKind};

/// A cell's rows are held in memory; 64 MB are a day at 20 rows a second.
const MOST_BYTES: usize = 64 << 20;
/// So many rows of another name between rows of one cell are torn lines.
const MOST_TORN: u64 = 2;

/// The rows of one cell.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Piece {
    /// The cell's name as written in the file; empty if the rows name none.
    pub cell: Vec<u8>,
    /// Line of the first row, counted from 1.
    pub first_line: u64,
    /// How many lines.
    pub lines: u64,
    /// The rows as written in the file.
    pub text: Vec<u8>,
    /// Whether the rows were too many to hold; the text is then empty.
    pub is_too_long: bool,
}

impl Piece {
    /// Returns the cell's name.
    pub fn name(&self) -> String {
        String::from_utf8_lossy(&self.cell).into_owned()
    }

    /// Returns the line of the last row.
    pub const fn last_line(&self) -> u64 {
        self.first_line + self.lines.saturating_sub(1)
    }

    fn push(&mut self, text: &[u8], lines: u64) {
        self.lines += lines;
        self.is_too_long |= self.text.len() + text.len() > MOST_BYTES;
        if self.is_too_long {
            self.text = Vec::new();
        } else {
            self.text.extend_from_slice(text);
        }
    }
}

/// Gives one piece after the other.
#[derive(Debug)]
pub struct Pieces<R> {
    input: R,
    column: usize,
    line: u64,
    /// The cell before the current one: complete, unless the current one turns out to be torn lines.
    before: Option<Piece>,
    current: Option<Piece>,
    bytes: u64,
}

impl<R: BufRead> Pieces<R> {
    /// Begins below the header row, which was the first line; `column` is the place of the cell's name.
    pub const fn new(input: R, column: usize) -> Self {
        Self { input, column, line: 1, before: None, current: None, bytes: 0 }
    }

    /// Returns how many bytes of rows were read so far.
    pub const fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Takes a line; returns a cell that is complete now.
    fn take(&mut self, line: &[u8]) -> Option<Piece> {
        self.line += 1;
        let named = cell_of(line, self.column);
        let Some(current) = self.current.as_mut() else {
            self.current = Some(piece(named, self.line, line));
            return None;
        };
        // A line that names no cell is a torn one of the cell around it.
        if named.as_ref().is_none_or(|cell| **cell == *current.cell) {
            current.push(line, 1);
            return None;
        }
        let is_same = |before: &mut Piece| named.as_deref() == Some(&before.cell);
        if let Some(mut before) = self.before.take_if(|before| current.lines <= MOST_TORN && is_same(before))
        {
            before.push(&current.text, current.lines);
            before.push(line, 1);
            self.current = Some(before);
            return None;
        }
        let next = piece(named, self.line, line);
        std::mem::replace(&mut self.before, self.current.replace(next))
    }
}

impl<R: BufRead> Iterator for Pieces<R> {
    type Item = std::io::Result<Piece>;

    fn next(&mut self) -> Option<Self::Item> {
        let mut line = Vec::new();
        loop {
            line.clear();
            // A file without line ends must not fill the memory either: such a "line" is cut, and its parts are torn.
            let mut some = std::io::Read::take(&mut self.input, MOST_BYTES as u64);
            match some.read_until(b'\n', &mut line) {
                Ok(0) => return self.before.take().or_else(|| self.current.take()).map(Ok),
                Ok(count) => self.bytes += count as u64,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => return Some(Err(error)),
            }
            if line.trim_ascii().is_empty() {
                if let Some(current) = self.current.as_mut() {
                    current.push(&line, 1);
                }
                self.line += 1;
                continue;
            }
            if let Some(complete) = self.take(&line) {
                return Some(Ok(complete));
            }
        }
    }
}

fn piece(cell: Option<Cow<'_, [u8]>>, line: u64, text: &[u8]) -> Piece {
    let cell = cell.map(Cow::into_owned).unwrap_or_default();
    let mut piece = Piece { cell, first_line: line, ..Piece::default() };
    piece.push(text, 1);
    piece
}

/// Returns the field of a line that names the cell.
fn cell_of(line: &[u8], column: usize) -> Option<Cow<'_, [u8]>> {
    let field = if line.contains(&b'"') {
        let mut reader = csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(line);
        let mut record = csv::ByteRecord::new();
        reader.read_byte_record(&mut record).ok()?;
        Cow::Owned(record.get(column)?.trim_ascii().to_vec())
    } else {
        Cow::Borrowed(line.split(|byte| *byte == b',').nth(column)?.trim_ascii())
    };
    (!field.is_empty()).then_some(field)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn pieces(text: &str, column: usize) -> Vec<(String, u64, u64)> {
        Pieces::new(text.as_bytes(), column)
            .map(|piece| {
                let piece = piece.unwrap();
                (piece.name(), piece.first_line, piece.last_line())
            })
            .collect()
    }

    #[test]
    fn cells_come_one_after_the_other_with_their_lines() {
        let found = pieces("a,1\na,2\nb,1\nc,1\nc,2\nc,3\n", 0);
        let expected = [("a", 2, 3), ("b", 4, 4), ("c", 5, 7)].map(|(id, a, b)| (id.to_owned(), a, b));
        assert_eq!(found, expected);
        assert_eq!(pieces("1,a\n2,\"a\"\r\n1,b", 1).len(), 2);
        assert!(pieces("", 0).is_empty());
    }

    #[test]
    fn one_or_two_odd_lines_do_not_make_two_cells_of_one() {
        for odd in ["PE-04,7\n", "PE-04,7\nPE-04,8\n", "\n", "2.5\n", ",3\n"] {
            let text = format!("x,1\nPE-0412,1\nPE-0412,2\n{odd}PE-0412,4\ny,1\n");
            let found = pieces(&text, 0);
            let names: Vec<&str> = found.iter().map(|(cell, _, _)| cell.as_str()).collect();
            if odd == "2.5\n" {
                // Such a fragment is a name like any other: it is torn for standing inside a cell.
                assert_eq!(names, ["x", "PE-0412", "y"]);
            }
            assert_eq!(names, ["x", "PE-0412", "y"], "{odd:?}");
            let lines = 3 + odd.lines().count() as u64;
            assert_eq!(found[1].2 - found[1].1 + 1, lines, "{odd:?}");
        }
    }

    #[test]
    fn a_cell_of_few_rows_between_others_stays_a_cell() {
        let names: Vec<String> = pieces("a,1\nb,1\nc,1\na,1\na,2\n", 0).into_iter().map(|p| p.0).collect();
        assert_eq!(names, ["a", "b", "c", "a"]);
    }

    #[test]
    fn rows_without_end_are_told_and_not_held() {
        let row = format!("long,{}\n", "0".repeat(1 << 20));
        let mut text = row.repeat(MOST_BYTES / row.len() + 2);
        text.push_str("next,1\n");
        let found: Vec<Piece> = Pieces::new(text.as_bytes(), 0).map(Result::unwrap).collect();
        assert_eq!(found.len(), 2);
        assert!(found[0].is_too_long && found[0].text.is_empty() && !found[1].is_too_long);
    }

    proptest! {
        #[test]
        fn no_row_is_lost_or_moved(cells in proptest::collection::vec(3usize..6, 1..8)) {
            let rows: Vec<String> = cells
                .iter()
                .enumerate()
                .flat_map(|(cell, count)| (0..*count).map(move |row| format!("cell-{cell},{row}\n")))
                .collect();
            let text = rows.concat();
            let found: Vec<Piece> = Pieces::new(text.as_bytes(), 0).map(Result::unwrap).collect();
            prop_assert_eq!(found.len(), cells.len());
            let together: Vec<u8> = found.iter().flat_map(|piece| piece.text.clone()).collect();
            prop_assert_eq!(together, text.into_bytes());
        }
    }
}
