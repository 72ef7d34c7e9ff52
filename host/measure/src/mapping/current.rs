//! Which way a current flows.

use super::number::Written;
use super::parts::{CurrentColumn, CurrentUnit, DecimalMark, Positive};

impl CurrentColumn {
    /// Returns the current in A, above zero charging, as text with the decimals that the file has; or what cannot be told.
    pub(super) fn charging(
        &self,
        text: &str,
        mode: Option<&str>,
        mark: DecimalMark,
    ) -> Result<String, String> {
        let Some(written) = mark.read(text) else { return Err(text.to_owned()) };
        let sign = match self.positive {
            Positive::Charges => 1.0,
            Positive::Discharges => -1.0,
            Positive::AsModeSays => self.sign_of(written.value, mode)?,
        };
        let written = Written { value: written.value * sign, ..written };
        Ok(written.shifted(match self.unit {
            CurrentUnit::Amps => 0,
            CurrentUnit::Milliamps => 3,
        }))
    }

    /// Returns the sign that the mode of a row gives its current.
    fn sign_of(&self, value: f64, mode: Option<&str>) -> Result<f64, String> {
        let word = mode.unwrap_or_default().trim();
        let has = |words: &[String]| words.iter().any(|each| each.trim().eq_ignore_ascii_case(word));
        let (charges, discharges) =
            self.mode.as_ref().map_or((false, false), |mode| (has(&mode.charge), has(&mode.discharge)));
        // With words for the way, a sign of the number's own says nothing more.
        match (charges, discharges) {
            (true, false) => Ok(value.signum()),
            (false, true) => Ok(-value.signum()),
            _ if value == 0.0 => Ok(1.0),
            _ => Err(format!("{value} in mode {word}")),
        }
    }
}
