//! Blanking: the texts about persons in an entry go for good, and that it was done is an entry.

use crate::fault::Result;
use crate::keeping_fault::KeepingFault;
use crate::shop::Workshop;
use celltriage_book::Entry;

/// Texts that were blanked.
#[derive(Clone, Debug, PartialEq)]
pub struct Blanked {
    /// The entry that says so.
    pub entry: Entry,
    /// How many there were.
    pub texts: usize,
}

impl Workshop<'_> {
    /// Returns the texts about persons that an entry still holds.
    ///
    /// # Errors
    /// [`crate::Fault::NoSuchEntry`], or the book cannot be read.
    pub fn persons_in(&self, number: u64) -> Result<Vec<String>> {
        Ok(self.book.persons_in(self.entry(number)?.number)?)
    }

    /// Blanks the texts about persons in an entry of this book. Copies of the book still hold them.
    ///
    /// # Errors
    /// [`crate::Fault::NoSuchEntry`], [`KeepingFault::NoReason`], [`KeepingFault::ReasonNamesPerson`], or a book error: there is nothing to blank, or the entry is
    /// older than what can be blanked.
    pub fn blank(&mut self, number: u64, because: &str, by: &str) -> Result<Blanked> {
        let entry = self.entry(number)?.number;
        let texts = self.book.persons_in(entry)?;
        if because.trim().is_empty() {
            return Err(KeepingFault::NoReason.into());
        }
        if texts.iter().any(|text| is_in(text, because)) {
            return Err(KeepingFault::ReasonNamesPerson { entry }.into());
        }
        let at = self.now();
        let said = self.book.blank(entry, because.trim(), by, at)?;
        Ok(Blanked { entry: said, texts: texts.len() })
    }
}

/// Returns whether a name stands in a text by itself, in whatever case.
fn is_in(name: &str, text: &str) -> bool {
    let (name, text) = (name.to_lowercase(), text.to_lowercase());
    text.match_indices(&name).any(|(at, found)| {
        let before = text.get(..at).and_then(|text| text.chars().next_back());
        let after = text.get(at + found.len()..).and_then(|text| text.chars().next());
        ![before, after].into_iter().flatten().any(char::is_alphanumeric)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_found_as_a_word_and_not_inside_one() {
        assert!(is_in("Ines Harrow", "asked for by ines harrow, in writing"));
        assert!(is_in("Li", "for Li"));
        assert!(!is_in("Li", "lithium") && !is_in("Ines", "in the mines"));
    }
}
