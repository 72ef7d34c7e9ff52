//! What the person sees, smells, feels and knows of the cell: a checklist, each point yes, no or not observed.
//!
//! Input: a TOML file or `sign=answer` options (see [`Observations::from_toml`] and [`Observations::parse_option`]);
//! output: [`Observations`]. The points are those of the note to special provision 376 of the UN Model Regulations
//! (acute hazard, misuse, deformation, colour, short-circuit protection, internal safety parts), of its list of
//! damaged or defective cells (recalled, leaked or vented), and the swelling sign of the United States' DOT guide.

mod adapter;
mod device;
mod read;
mod sensed_at;
mod sign;
mod thickness_readings;
mod typed_thickness;
mod wires;

pub use device::{DeviceDid, DeviceSaid};
pub use read::ObservationError;
pub use sensed_at::SensedAt;
pub use sign::{Answer, Sign};

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How to measure a thickness: printed where it is asked for. The force is that of common practice for soft cells.
pub const HOW_TO_MEASURE_THICKNESS: &str = "Thickness: lay the cell flat on glass. Let wide flat jaws (10 mm or more) just touch it, by no more than the weight \
     of 300 g (3 N, common practice); never squeeze, never press on a bulge, no pointed jaws. The middle first, then the \
     corners, 5 mm from the edge; read each point three times.";

/// How to try whether a cell lies flat: printed where it is asked for, of a cell of which no thickness is known (common practice, no
/// source; a sheet of office paper is 0.1 mm).
pub const HOW_TO_TRY_FLATNESS: &str = "No thickness is on the label, so: lay the cell on a plate of glass, one face and then the other, without pressing. It lies flat if \
     it does not rock and a sheet of paper (0.1 mm) goes under it nowhere.";

/// All answers, with who gave them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Observations {
    /// Answers; a sign that is not in the map was not observed.
    #[serde(default)]
    pub signs: BTreeMap<Sign, Answer>,
    /// Measured thicknesses in mm.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub thickness_mm: Vec<f64>,
    /// All readings of each point, where any was read more than once; `thickness_mm` holds their means.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub thickness_readings_mm: Vec<Vec<f64>>,
    /// Whether the cell lies flat on a plate, on either face; `None` if it was not tried.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lies_flat: Option<bool>,
    /// Whether the cell is new and unused.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub new_cell: bool,
    /// For how many hours the cell has lain unused: neither charged nor loaded.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rested_h: Option<f64>,
    /// Whether the cell was charged until the charger ended by itself.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub charger_ended: bool,
    /// Rated capacity in Ah as a second look at the label reads it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub label_again_ah: Option<f64>,
    /// Where the voltage was picked up, where somebody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sensed_at: Option<SensedAt>,
    /// How many wires measured, two or four, where somebody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wires: Option<u32>,
    /// Number written on the adapter between the leads and the cell, where there is one and somebody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adapter: Option<u32>,
    /// What the device did with the cell in it, where somebody said it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<DeviceSaid>,
    /// Who looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assessor: Option<String>,
    /// What else was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Why it is the same cell as before, where what is seen or measured speaks against it; who looked answers for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_cell: Option<String>,
}

impl Observations {
    /// Makes the answers of a person who looked for every sign and found none.
    pub fn no_signs() -> Self {
        Self { signs: Sign::ALL.into_iter().map(|sign| (sign, Answer::No)).collect(), ..Self::default() }
    }

    /// Returns the answer to a point; not observed where none was given.
    pub fn answer(&self, sign: Sign) -> Answer {
        self.signs.get(&sign).copied().unwrap_or_default()
    }

    /// Keeps an answer, in place of an earlier one.
    pub fn set(&mut self, sign: Sign, answer: Answer) {
        self.signs.insert(sign, answer);
    }

    /// Returns whether every sign was looked for and none was found.
    pub fn all_answered_no(&self) -> bool {
        Sign::ALL.into_iter().all(|sign| self.answer(sign) == Answer::No)
    }

    /// Returns whether any sign was found.
    pub fn any_found(&self) -> bool {
        Sign::ALL.into_iter().any(|sign| self.answer(sign) == Answer::Yes)
    }

    /// Adds a point of thickness with all its readings.
    pub fn add_thickness(&mut self, readings: Vec<f64>) {
        if readings.is_empty() {
            return;
        }
        // Once one point was read more than once, the readings of all are kept.
        if readings.len() > 1 || !self.thickness_readings_mm.is_empty() {
            let known = self.thickness_readings_mm.len();
            let before = self.thickness_mm.iter().skip(known).map(|one| vec![*one]);
            self.thickness_readings_mm.extend(before);
            self.thickness_readings_mm.push(readings.clone());
        }
        self.thickness_mm.push(readings.iter().sum::<f64>() / readings.len() as f64);
    }

    /// Lays later answers over these: what the later ones say wins, what they leave out stays.
    pub fn overlaid(mut self, later: Observations) -> Self {
        self.signs.extend(later.signs);
        if !later.thickness_mm.is_empty() {
            self.thickness_mm = later.thickness_mm;
            self.thickness_readings_mm = later.thickness_readings_mm;
        }
        self.lies_flat = later.lies_flat.or(self.lies_flat);
        self.new_cell |= later.new_cell;
        self.charger_ended |= later.charger_ended;
        self.rested_h = later.rested_h.or(self.rested_h);
        self.label_again_ah = later.label_again_ah.or(self.label_again_ah);
        self.sensed_at = later.sensed_at.or(self.sensed_at);
        self.wires = later.wires.or(self.wires);
        self.adapter = later.adapter.or(self.adapter);
        self.device = later.device.or(self.device);
        self.assessor = later.assessor.or(self.assessor);
        self.note = later.note.or(self.note);
        self.same_cell = later.same_cell.or(self.same_cell);
        self
    }

    /// Returns who says that it is the same cell as before, and why; an answer without a name or a reason is none.
    pub fn said_to_be_the_same(&self) -> Option<(&str, &str)> {
        let (by, because) = (self.assessor.as_deref()?.trim(), self.same_cell.as_deref()?.trim());
        (!by.is_empty() && !because.is_empty()).then_some((by, because))
    }

    /// Returns the same with every sign named, so that a reader sees what nobody looked for.
    pub fn spelled_out(&self) -> Self {
        let mut all = self.clone();
        all.signs = Sign::ALL.into_iter().map(|sign| (sign, self.answer(sign))).collect();
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_has_its_own_name_and_the_name_in_json_is_the_same() {
        for sign in Sign::ALL {
            assert_eq!(Sign::from_key(sign.key()), Some(sign));
            assert_eq!(serde_json::to_value(sign).unwrap(), sign.key());
        }
        for answer in [Answer::NotObserved, Answer::No, Answer::Yes] {
            assert_eq!(serde_json::to_value(answer).unwrap(), answer.key());
        }
    }

    #[test]
    fn what_nobody_looked_for_is_not_observed_and_not_a_no() {
        let nothing = Observations::default();
        assert!(Sign::ALL.into_iter().all(|sign| nothing.answer(sign) == Answer::NotObserved));
        assert!(!nothing.all_answered_no());
        assert!(!nothing.any_found());
        let mut all_but_one = Observations::no_signs();
        assert!(all_but_one.all_answered_no());
        all_but_one.signs.remove(&Sign::Recalled);
        assert!(!all_but_one.all_answered_no());
    }

    #[test]
    fn later_answers_win_and_the_others_stay() {
        let mut later = Observations { thickness_mm: vec![6.2], ..Observations::default() };
        later.set(Sign::Swollen, Answer::Yes);
        let mut first = Observations::no_signs();
        first.assessor = Some("second bench".to_owned());
        let both = first.overlaid(later);
        assert_eq!(both.answer(Sign::Swollen), Answer::Yes);
        assert_eq!(both.answer(Sign::Leaked), Answer::No);
        assert_eq!(both.assessor.as_deref(), Some("second bench"));
        assert_eq!(both.thickness_mm, [6.2]);
    }
}
