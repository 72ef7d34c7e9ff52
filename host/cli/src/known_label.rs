//! Where a label contradicts the one in the book, a person is told.

use crate::error::Error;
use crate::io::Io;
use celltriage_book::Book;
use celltriage_measure::nameplate::Nameplate;
use celltriage_workshop::known_label::KnownLabel;

/// Tells where a label contradicts what the book has of the cell, and adds that to the label's warnings, so that it stands
/// on the decision's page.
///
/// # Errors
/// A book error.
pub fn compare_with_known(
    book: &Book,
    cell: &str,
    label: &mut Nameplate,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    if let Some(told) = KnownLabel::read(book, cell)?.and_then(|known| known.contradicted_by(label)) {
        io.note(&format!("warning: label: {told}"));
        label.warnings.push(told);
    }
    Ok(())
}
