//! What a guided run may tell somebody to charge, and what it must not.

use super::{EVENING, Shop};

/// What only somebody is told who is to charge a cell.
pub const CHARGE: &str = "on your charger";

impl Shop {
    /// Writes a label; returns its path.
    ///
    /// # Panics
    /// If it cannot be written.
    pub fn label(&self, name: &str, charge_limit_v: f64, rated_capacity_ah: f64) -> String {
        let text = format!("rated_capacity_ah = {rated_capacity_ah}\ncharge_limit_v = {charge_limit_v}\n");
        self.file(name, &text)
    }

    /// The fate of the newest decision on a cell.
    ///
    /// # Panics
    /// If the book cannot be read.
    pub fn fate(&self, cell: &str) -> Option<String> {
        let filter = celltriage_book::Filter {
            about: Some(celltriage_book::Subject::cell(cell)),
            ..Default::default()
        };
        self.open().entries(&filter).expect("entries").into_iter().find_map(|entry| entry.head.fate)
    }

    /// Calls `guided` in every way that could tell somebody to charge the cell, and sees that none does.
    ///
    /// # Panics
    /// If one does, or gives another reason.
    pub fn never_charged(&self, cell: &str, why: &str) {
        let call = self.at(EVENING, "guided --no-signs --id", &[cell]);
        assert!(call.code == 2 && call.out.is_empty(), "{cell}: {}{}", call.out, call.err);
        assert!(
            call.err.contains("is not to be charged: ") && call.err.contains(why),
            "{cell}: {}",
            call.err
        );
        for more in [&["--json"][..], &["--charged"], &["--charged", "--json"], &[]] {
            let call = self.at(EVENING, "guided --no-signs --id", &[&[cell], more].concat());
            assert!(call.code == 2 && call.out.is_empty(), "{cell} {more:?}: {}{}", call.out, call.err);
            assert!(!call.err.contains(CHARGE), "{cell} {more:?}: {}", call.err);
        }
        let asked = self.asked(EVENING, "guided --wait --id", &[cell], Some(&["n"; 9]));
        assert!(asked.code == 2 && asked.out.is_empty(), "{cell}: {}{}", asked.out, asked.err);
    }
}
