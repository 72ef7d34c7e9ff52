//! What a workshop does with its fixture: calibrate it, define and measure a check standard, assess a cell on it.

use super::{NOON, Shop};
use crate::Call;

/// The simulated fixture's name in the book.
pub const FIXTURE: &str = "fixture 0000000000000001";

impl Shop {
    /// Calibrates one quantity against a meter.
    pub fn calibrate(&self, quantity: &str, simulated: &str, percent: &str, plus: &str) -> Call {
        let what = ["fixture", "calibrate", quantity, "--simulated", simulated, "--by", "M. Adeyemi"];
        let with = ["--reference", "bench meter 7, certificate of 2026-03-02"];
        let doubt = ["--of-reading-percent", percent, "--plus", plus];
        self.run(NOON, &[&what[..], &with, &doubt].concat())
    }

    /// Calibrates all three quantities.
    ///
    /// # Panics
    /// If one is refused.
    pub fn calibrate_all(&self, simulated: &str) {
        for (quantity, percent, plus) in
            [("voltage", "0.05", "0.0002"), ("current", "0.2", "0.0005"), ("thermometers", "0", "0.1")]
        {
            let done = self.calibrate(quantity, simulated, percent, plus);
            assert_eq!(done.code, 0, "{quantity}: {}", done.err);
        }
    }

    /// Asks for a check standard of a resistance, with its limit and certificate.
    pub fn standard(&self, name: &str, milliohm: &str, certificate: &str, more: &[&str]) -> Call {
        let what = ["fixture", "check-standard", "define", name, "--resistance-mohm", milliohm];
        let rest = ["--limit-percent", "0.5", "--certificate", certificate, "--by", "M. Adeyemi"];
        self.run(NOON, &[&what[..], &rest, more].concat())
    }

    /// Defines R1 of 50 milliohm.
    ///
    /// # Panics
    /// If it is refused.
    pub fn define(&self, more: &[&str]) {
        let done = self.standard("R1", "50", "maker's tolerance", more);
        assert_eq!(done.code, 0, "{}", done.err);
    }

    /// Measures the check standard.
    pub fn measure(&self, simulated: &str) -> Call {
        let typed = ["fixture", "check-standard", "measure", "--simulated", simulated, "--by", "M. Adeyemi"];
        self.run(NOON, &typed)
    }

    /// Assesses a sound cell.
    pub fn assess(&self, more: &[&str]) -> Call {
        let typed =
            ["assess", "--id", "PE-0501", "--simulated", "sound", "--no-signs", "--thickness-mm", "4.05"];
        self.run(NOON, &[&typed[..], more].concat())
    }
}
