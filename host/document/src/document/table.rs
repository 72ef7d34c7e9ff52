//! A table.

use crate::text::Text;

/// A column of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Column {
    /// Its heading.
    pub heading: Text,
    /// Columns of a terminal that it takes at most; the last column of a table takes what is left.
    pub widest: Option<usize>,
}

/// A table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Vec<Text>>,
    /// Columns of a terminal left free before it.
    pub indent: usize,
}

impl Table {
    /// Makes a table under headings, two columns in.
    pub fn under<T: Into<Text>>(headings: impl IntoIterator<Item = T>) -> Self {
        let columns = headings.into_iter().map(|heading| Column { heading: heading.into(), widest: None });
        Self { columns: columns.collect(), rows: Vec::new(), indent: 2 }
    }

    /// Bounds the first columns.
    #[must_use]
    pub fn widest(mut self, widest: &[usize]) -> Self {
        for (column, most) in self.columns.iter_mut().zip(widest) {
            column.widest = Some(*most);
        }
        self
    }

    /// Sets the columns left free before it.
    #[must_use]
    pub fn indented(self, indent: usize) -> Self {
        Self { indent, ..self }
    }

    /// Adds a row.
    pub fn row<T: Into<Text>>(&mut self, cells: impl IntoIterator<Item = T>) -> &mut Self {
        self.rows.push(cells.into_iter().map(Into::into).collect());
        self
    }
}
