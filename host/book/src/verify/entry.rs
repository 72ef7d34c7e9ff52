//! One entry: whether it and all that belongs to it are what was written.

use super::super::identity::Identity;
use super::super::read::{sealed_text, words_of_row};
use super::super::seal::Belongings;
use super::super::store::{EntryRow, PersonalRow, Rows};
use super::super::{Digest, Problem};
use super::found::Verification;

/// Looks at an entry row by row, and says what does not fit.
pub(super) fn entry_fits(
    rows: &dyn Rows,
    identity: &Identity,
    row: &EntryRow,
    found: &mut Verification,
) -> Result<(), Problem> {
    let number = row.number;
    let (inputs, result) = (sealed_text(rows, number * 2)?, sealed_text(rows, number * 2 + 1)?);
    found.bytes = found.bytes.saturating_add((inputs.len() + result.len()) as u64);
    let belongings = Belongings::read(rows, number)?;
    if row.form == 0 {
        found.fault(Some(number), "it was lost when the book was saved from a damaged file");
        return Ok(());
    }
    let sealed = match row.form {
        1 => row.seal_1(&inputs, &result, &belongings),
        _ => {
            let texts = (Digest::of(inputs.as_bytes()), Digest::of(result.as_bytes()));
            if texts != (row.inputs, row.result) {
                found.fault(Some(number), "what it was made from, or what came out, is not what was written");
            }
            row.seal(identity, &belongings)
        }
    };
    if sealed != row.digest {
        found.fault(Some(number), "it, or the list of what belongs to it, is not what was written");
    }
    if belongings.about.first() != Some(&row.subject) {
        found.fault(Some(number), "it is not found under what it stands under");
    }
    if !belongings.personal.iter().all(PersonalRow::fits) {
        found.fault(Some(number), "a text about a person is not what was written");
    }
    let link = rows.link(row.stream.0)?.map(|link| link.digest);
    if row.origin == 1 && row.form == 2 && row.stream.0 > 0 && link != Some(row.stream.1) {
        found.fault(Some(number), "what was recorded before it is not what was recorded then");
    }
    // The words of a search are drawn from the entry; altered ones would hide it.
    if rows.words(number)? != Some(words_of_row(row, &inputs, &belongings.personal)?) {
        found.fault(Some(number), "the words by which it is found are not its own");
    }
    Ok(())
}
