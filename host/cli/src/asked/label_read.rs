//! A label as it was read, with the file it was read from.

use crate::error::Error;
use celltriage_book::NewAttachment;
use celltriage_measure::nameplate::{Form, Nameplate};

/// A label with the file it was read from.
pub type LabelRead = (Nameplate, Vec<NewAttachment>);

/// Returns the same label without what was remarked on it for another cell.
///
/// # Errors
/// Its figures do not fit any more.
pub(super) fn fresh(label: &Nameplate, files: Vec<NewAttachment>) -> Result<LabelRead, Error> {
    Ok((Nameplate::from_toml(&label.to_toml(), "the label")?, files))
}

/// Says the figures of a label that tell it from others.
pub(super) fn said(label: &Nameplate) -> String {
    let mut said = format!("{} Ah  {} V", label.rated_capacity_ah, label.charge_limit_v);
    if label.form != Form::Unknown {
        said = format!("{said}  {}", label.form.key());
    }
    if let Some(thickness) = label.nominal_thickness_mm {
        said = format!("{said}  {thickness} mm");
    }
    said
}
