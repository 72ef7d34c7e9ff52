//! The label that a guided run goes by: as given, else as the book has it.

use crate::arguments::LabelArguments;
use crate::case::read_label;
use crate::error::Error;
use crate::io::Io;
use crate::spoken::agrees;
use celltriage_book::NewAttachment;
use celltriage_link::BenchCell;
use celltriage_measure::nameplate::Nameplate;
use celltriage_verdict::limit_figure;
use celltriage_workshop::known_label::KnownLabel;
use celltriage_workshop::{Fault, Workshop};

/// Reads the label, with the file as it was given. One that contradicts the book is told; one that would allow a higher
/// or stronger charge than the book is taken only where a person says that it is what stands on the cell.
///
/// # Errors
/// An input error where there is no usable label, or nobody has confirmed it; a book error.
pub(super) fn label(
    shop: &Workshop<'_>,
    id: &str,
    given: &LabelArguments,
    bench: Option<&BenchCell>,
    io: &mut Io<'_>,
) -> Result<(Nameplate, Vec<NewAttachment>), Error> {
    let is_given = given.cell.is_some() || given.charge_limit_v.is_some();
    let known = KnownLabel::read(shop.book(), id)?;
    let (mut nameplate, files) = match (&known, bench) {
        (Some(known), _) if !is_given => return Ok((known.nameplate.clone(), Vec::new())),
        (None, Some(cell)) if !is_given => (cell.nameplate.clone(), Vec::new()),
        _ => read_label(given)?,
    };
    let told = known.as_ref().and_then(|known| Some((known, known.contradicted_by(&nameplate)?)));
    if let Some((known, told)) = told {
        io.note(&format!("warning: label: {told}"));
        if known.raised_by(&nameplate) && !confirmed(&nameplate, io) {
            return Err(Fault::LabelRaised { cell: id.to_owned() }.into());
        }
        nameplate.warnings.push(told);
    }
    Ok((nameplate, files))
}

/// Asks whether the label's figures stand on the cell; without a person, they do not.
fn confirmed(nameplate: &Nameplate, io: &mut Io<'_>) -> bool {
    let question = format!(
        "Do {} and {} stand on the cell itself? [y/n] ",
        limit_figure(nameplate.charge_limit_v, "V"),
        limit_figure(nameplate.rated_capacity_ah, "Ah")
    );
    let answer = io.ask.as_mut().and_then(|ask| ask(&question));
    answer.is_some_and(|line| agrees(&line))
}
