//! The label that the book knows of a cell, and where a new one contradicts it.
//!
//! A tag on the wrong cell, or a label file of another type, shows first here: nothing on the fixture can tell a charge
//! limit of 4.35 V from one of 4.20 V, and a charger set by the wrong one over-charges the cell.

use crate::capacity_run;
use crate::fault::Fault;
use crate::shop::Workshop;
use celltriage_assessment::case::Case;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_assessment::same_cell::other_label;
use celltriage_book::{Book, Subject};
use celltriage_custody::CustodyError;
use celltriage_measure::nameplate::Nameplate;

/// A cell's label as an entry of the book has it.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownLabel {
    /// Number of the entry.
    pub entry: u32,
    /// The label.
    pub nameplate: Nameplate,
}

impl Workshop<'_> {
    /// Returns where a label contradicts what the book has of the cell.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn label_contradiction(&self, cell: &str, label: &Nameplate) -> Result<Option<String>, Fault> {
        Ok(contradiction(&self.book, cell, label)?)
    }
}

impl Workshop<'_> {
    /// Checks, before a load, that the label is the one that the book has of the cell, or that a person says why it is the same
    /// cell all the same. A cell with a sign is never sent away for its label: what was found goes into the book first.
    ///
    /// # Errors
    /// [`Fault::AnotherLabel`], or the book cannot be read.
    pub fn label_answered_for(&self, case: &Case) -> Result<(), Fault> {
        if case.observations.any_found() || case.observations.said_to_be_the_same().is_some() {
            return Ok(());
        }
        match self.label_contradiction(&case.id, &case.nameplate)? {
            Some(told) => Err(Fault::AnotherLabel { cell: case.id.clone(), told }),
            None => Ok(()),
        }
    }
}

/// Returns where a label contradicts what a book has of the cell.
///
/// # Errors
/// The book cannot be read.
pub fn contradiction(book: &Book, cell: &str, label: &Nameplate) -> Result<Option<String>, CustodyError> {
    Ok(KnownLabel::read(book, cell)?.and_then(|known| known.contradicted_by(label)))
}

impl KnownLabel {
    /// Reads the newest label that the book has of a cell.
    ///
    /// # Errors
    /// A book error.
    pub fn read(book: &Book, cell: &str) -> Result<Option<Self>, CustodyError> {
        let newest_first = book.entries_of(&Subject::cell(cell))?.into_iter().rev();
        let mut labelled =
            newest_first.filter(|entry| [ASSESSMENT, capacity_run::KIND].contains(&entry.kind.as_str()));
        Ok(labelled.find_map(|entry| {
            let nameplate = serde_json::from_value(entry.inputs.get("nameplate")?.clone()).ok()?;
            Some(Self { entry: entry.number, nameplate })
        }))
    }

    /// Returns whether another label allows a charge to a higher voltage or with a larger current.
    pub fn raised_by(&self, now: &Nameplate) -> bool {
        now.charge_limit_v > self.nameplate.charge_limit_v
            || now.rated_capacity_ah > self.nameplate.rated_capacity_ah
    }

    /// Says where another label of the same cell contradicts this one; `None` if it does not.
    pub fn contradicted_by(&self, now: &Nameplate) -> Option<String> {
        let told: Vec<String> = other_label(&self.nameplate, now)
            .iter()
            .map(|one| format!("{} {} there, {} now", one.name, one.before, one.now))
            .collect();
        (!told.is_empty()).then(|| {
            format!(
                "entry {} has another label of this cell ({}); compare both with the cell itself",
                self.entry,
                told.join("; ")
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capacity_run::{Stage, Step, write};
    use celltriage_measure::nameplate::{Chemistry, ThicknessFrom};
    use celltriage_measure::test_support::nameplate;

    #[test]
    fn what_differs_is_told_and_what_is_only_missing_is_not() {
        let known =
            KnownLabel { entry: 7, nameplate: Nameplate { nominal_thickness_mm: Some(4.0), ..nameplate() } };
        let told = |change: &dyn Fn(&mut Nameplate)| {
            let mut now = known.nameplate.clone();
            change(&mut now);
            known.contradicted_by(&now)
        };
        assert_eq!(told(&|_| {}), None);
        assert_eq!(told(&|now| (now.nominal_v, now.mass_g) = (None, Some(45.0))), None);
        // A drawing states another thickness of the same cell.
        let drawn = |now: &mut Nameplate| {
            (now.nominal_thickness_mm, now.thickness_from) = (Some(4.3), ThicknessFrom::Drawing);
        };
        assert_eq!(told(&drawn), None);
        let lower = told(&|now| (now.charge_limit_v, now.rated_capacity_ah) = (4.2, 5.1)).unwrap();
        assert!(
            lower.contains("entry 7") && lower.contains("charge limit 4.35 V there, 4.2 V now"),
            "{lower}"
        );
        assert!(lower.contains("rated capacity 3 Ah there, 5.1 Ah now"), "{lower}");
        let raised = |change: &dyn Fn(&mut Nameplate)| {
            let mut now = known.nameplate.clone();
            change(&mut now);
            known.raised_by(&now)
        };
        assert!(raised(&|now| now.charge_limit_v = 4.4) && raised(&|now| now.rated_capacity_ah = 3.1));
        assert!(!raised(&|now| now.charge_limit_v = 4.2) && !raised(&|_| {}));
        assert!(told(&|now| now.chemistry = Chemistry::Lfp).unwrap().contains("chemistry"));
    }

    #[test]
    fn the_newest_label_in_the_book_counts() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        assert_eq!(KnownLabel::read(&book, "PE-7").unwrap(), None);
        for charge_limit_v in [4.35, 4.2] {
            let nameplate = Nameplate { charge_limit_v, ..nameplate() };
            let step = Step::new(Stage::ToCharge { why: None }, nameplate);
            write(&mut book, "PE-7", &step, Vec::new(), jiff::Timestamp::UNIX_EPOCH).unwrap();
        }
        let known = KnownLabel::read(&book, "PE-7").unwrap().unwrap();
        assert_eq!((known.entry, known.nameplate.charge_limit_v), (2, 4.2));
    }
}
