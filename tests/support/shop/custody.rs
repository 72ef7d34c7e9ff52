//! What a person of the workshop does with a cell after its decision: judge it, box it, draft its papers.

use super::{NOON, Shop};
use crate::Call;

/// Who did it.
pub const BY: [&str; 2] = ["--by", "Ines Harrow"];
/// Why that person may judge.
pub const ABLE: [&str; 2] = ["--qualification", "battery technician with the maker's criteria"];

impl Shop {
    /// Runs a command that writes, by Ines Harrow.
    ///
    /// # Panics
    /// If it is refused.
    pub fn does(&self, typed: &[&str]) -> Call {
        let done = self.run(NOON, &[typed, &BY].concat());
        assert_eq!(done.code, 0, "{typed:?}: {}", done.err);
        done
    }

    /// The story of a cell.
    ///
    /// # Panics
    /// If the book has none.
    pub fn story(&self, cell: &str) -> String {
        self.prints(&["book", "show", cell])
    }

    /// Runs a command of Ines Harrow that is refused, and returns what it says.
    ///
    /// # Panics
    /// If it is done, prints or writes something, or gives no hint.
    pub fn refuses(&self, typed: &[&str]) -> String {
        let before = self.newest();
        let done = self.run(NOON, &[typed, &BY].concat());
        assert_eq!(done.code, 2, "{typed:?}: {}{}", done.out, done.err);
        assert!(done.err.starts_with("error: ") && done.err.contains("\nhint: "), "{}", done.err);
        assert_eq!((done.out.as_str(), self.newest()), ("", before), "nothing printed, nothing written");
        done.err
    }

    /// Judges a cell as the book has it, with the two questions answered that the book leaves open.
    ///
    /// # Panics
    /// If it is refused.
    pub fn judge(&self, cell: &str, state: &str, more: &[&str]) -> Call {
        let typed = ["judge", cell, "--state", state, "--as-recorded"];
        let rest = ["--answer", "short_circuit_protection=no", "--answer", "safety_features=no"];
        self.does(&[&typed[..], &rest, &ABLE, more].concat())
    }

    /// Judges a cell as waste without damage and puts it into a new container.
    ///
    /// # Panics
    /// If it is refused.
    pub fn boxes(&self, place: &str, name: &str, cell: &str) {
        self.judge(cell, "intact_waste", &["--because", "seen"]);
        self.does(&["container", "open", name, "--kind", "intact", "--place", place, "--stands", "shelf"]);
        self.does(&["container", "place", name, cell, "--mass-g", "68"]);
    }

    /// Drafts the papers of a container for the road; returns them.
    ///
    /// # Panics
    /// If it is refused.
    pub fn drafts(&self, shipment: &str, container: &str) -> String {
        let typed = ["shipment", "draft", shipment, "--container", container, "--mode", "road"];
        self.does(&[&typed[..], &["--receiver", "Gull Point", "--gross-kg", "2"]].concat()).out
    }
}
