//! What is kept of folds, put in place and forgotten: drawn from the entries, so no rule holds for it.

use super::super::store::KeptRow;
use super::tables::Tables;

impl Tables {
    /// Puts a value and its labels in place of those that the key had.
    pub(super) fn put_kept(
        &mut self,
        fold: &str,
        key: &str,
        value: Option<&KeptRow>,
        labels: &[(String, i64)],
    ) {
        self.kept_under.retain(|(of, _, _, under)| of != fold || under != key);
        let place = (fold.to_owned(), key.to_owned());
        let Some(value) = value else {
            self.kept.remove(&place);
            return;
        };
        self.kept.insert(place, value.clone());
        for (label, rank) in labels {
            self.kept_under.insert((fold.to_owned(), label.clone(), *rank, key.to_owned()));
        }
    }

    /// Forgets folds with all that they keep.
    pub(super) fn forget_kept(&mut self, which: impl Fn(&str) -> bool) {
        self.kept.retain(|(fold, _), _| !which(fold));
        self.kept_under.retain(|(fold, ..)| !which(fold));
        self.kept_to.retain(|fold, _| !which(fold));
    }
}
