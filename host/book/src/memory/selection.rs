//! Which entries of a book in memory fit what is wanted.

use super::super::Problem;
use super::super::store::{EntryRow, Take, Wanted};
use super::tables::{Tables, of};

impl Tables {
    /// Hears the entries that are wanted.
    pub(super) fn select(&self, wanted: &Wanted<'_>, take: Take<'_, EntryRow>) -> Result<(), Problem> {
        let rows: Vec<&EntryRow> =
            self.entries.values().map(|row| &**row).filter(|row| self.fits(wanted, row)).collect();
        let most = wanted.limit.map_or(rows.len(), |limit| limit as usize);
        let mut ordered: Box<dyn Iterator<Item = &EntryRow>> =
            if wanted.newest_first { Box::new(rows.into_iter().rev()) } else { Box::new(rows.into_iter()) };
        for row in ordered.by_ref().take(most) {
            if !take(row.clone())? {
                break;
            }
        }
        Ok(())
    }

    fn fits(&self, wanted: &Wanted<'_>, row: &EntryRow) -> bool {
        let about = |subject| of(&self.about, row.number).any(|(_, one)| one == subject);
        let words = |text: &str| self.words.get(&row.number).is_some_and(|words| holds(words, text));
        wanted.subject.is_none_or(about)
            && wanted.kind.is_none_or(|kind| row.kind == kind)
            && wanted.fate.is_none_or(|fate| row.fate.as_deref() == Some(fate))
            && wanted.since_ms.is_none_or(|since| row.at_ms >= since)
            && wanted.until_ms.is_none_or(|until| row.at_ms < until)
            && wanted.after.is_none_or(|after| row.number > after)
            && wanted.words.is_none_or(words)
    }
}

/// Returns whether words hold a text; letters a to z match their capitals.
fn holds(words: &str, text: &str) -> bool {
    let searched = words.split('\0').next().unwrap_or_default();
    searched.to_ascii_lowercase().contains(&text.to_ascii_lowercase()) && !text.contains('\0')
}
