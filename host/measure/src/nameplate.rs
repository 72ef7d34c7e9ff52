//! What the cell's label says, with bounds checked; `nameplate_file` reads it from a file or from options.
//!
//! The charge-limit voltage must come from the label: a cell of the 4.35 V class charged to 4.20 V only would be read
//! as 10 to 12 % faded though it is new, so it is never guessed.

mod chemistry;
mod form;
mod thickness_from;

pub use chemistry::Chemistry;
pub use form::Form;
pub use thickness_from::ThicknessFrom;

use celltriage_protocol::limits;
use serde::{Deserialize, Serialize};

/// The label of one cell, checked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Nameplate {
    /// The shop's name for the type of cell: cells of one model are compared with each other.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub model: Option<String>,
    /// Rated capacity in Ah.
    pub rated_capacity_ah: f64,
    /// Charge-limit voltage in V.
    pub charge_limit_v: f64,
    /// End-of-discharge voltage in V.
    pub end_of_discharge_v: f64,
    /// Whether that is only the usual one: the label gives none.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub end_of_discharge_assumed: bool,
    /// Nominal voltage in V.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub nominal_v: Option<f64>,
    /// Thickness in mm that the label or drawing states.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub nominal_thickness_mm: Option<f64>,
    /// Where that figure comes from.
    #[serde(skip_serializing_if = "is_from_label", default)]
    pub thickness_from: ThicknessFrom,
    /// Chemistry.
    #[serde(default)]
    pub chemistry: Chemistry,
    /// Build.
    #[serde(default)]
    pub form: Form,
    /// Mass in g.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub mass_g: Option<f64>,
    /// What was odd about the label and is not an error.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub warnings: Vec<String>,
}

fn is_from_label(source: &ThicknessFrom) -> bool {
    *source == ThicknessFrom::Label
}

/// Bounds of every number on a label: `(key, lowest, highest, unit)`. A figure outside is a typing mistake or another
/// unit. Capacity: from hearing aids to power tools. Charge limit: iron phosphate 3.6 V to high-voltage cobalt 4.5 V.
/// End of discharge: below 2.0 V copper dissolves. Thickness and mass: single cells (common practice).
pub const BOUNDS: [(&str, f64, f64, &str); 6] = [
    ("rated_capacity_ah", 0.02, 50.0, "Ah"),
    ("charge_limit_v", 3.5, 4.55, "V"),
    ("end_of_discharge_v", 2.0, 3.4, "V"),
    ("nominal_v", 3.0, 4.2, "V"),
    ("nominal_thickness_mm", 0.5, 40.0, "mm"),
    ("mass_g", 0.5, 2000.0, "g"),
];

/// Highest charge limit of an iron phosphate cell in V, as the fixture has it; the lowest is that of all cells.
pub const LFP_HIGHEST_CHARGE_LIMIT_V: f64 = limits::HIGHEST_LFP_CHARGE_LIMIT.get() as f64 / 1e6;

/// An iron phosphate cell that was charged to its limit settles near this, in V, whatever the limit (from memory: 3.4 to
/// 3.5 V an hour after the charge). By the equilibrium of a published model (Prada2013) 3.41 V is 99 % and 3.35 V 98 % of
/// the charge; below that lies the plateau, on which a voltage says nothing.
const LFP_SETTLES_V: f64 = 3.40;

/// A cell at rest this close to its charge limit is full, in V: after the charger stops, a cell settles by 15 mV at most
/// in the published tables of full cells.
pub const FULL_MARGIN_V: f64 = 0.015;
/// Within this it is nearly full; a rest this far above the limit is over-charged.
pub const NEARLY_FULL_MARGIN_V: f64 = 0.05;
/// The same after a charger that ended by itself: measured aged cobalt cells settle 50 to 75 mV below their limit. Further below, it
/// ended early, was set to another limit, or the cell has lost charge (our choice).
pub const CHARGED_MARGIN_V: f64 = 0.1;

/// Above its charge limit times this no cell rests, over-charged or not: 5.25 V for one of 4.2 V, where the electrolyte has long
/// come apart. Two in series of any kind read at least 1.4 times one's limit while they hold charge (judged).
const ONE_CELL_SHARE: f64 = 1.25;
/// Most cells in series that a label's voltage is told to be of.
const MOST_IN_SERIES: u32 = 4;

/// How full a cell is that rests at some voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fullness {
    /// At its charge limit.
    Full,
    /// A few per cent below.
    Nearly,
    /// Further below, or not known.
    NotFull,
    /// Above its charge limit by more than chargers differ.
    Over,
}

impl Nameplate {
    /// Returns how full a cell is that rests at a voltage in V.
    pub fn fullness(&self, rest_v: f64) -> Fullness {
        self.within(rest_v, NEARLY_FULL_MARGIN_V)
    }

    /// Returns the same of a cell whose charger ended by itself: an aged one settles lower, and is nearly full there.
    pub fn fullness_off_charger(&self, rest_v: f64) -> Fullness {
        self.within(rest_v, CHARGED_MARGIN_V)
    }

    fn within(&self, rest_v: f64, nearly_v: f64) -> Fullness {
        let lacking = self.charge_limit_v - rest_v;
        // What settles lower is full there; over-charged is only what rests above the limit.
        let below_full = if lacking > 0.0 { lacking - self.settles_v().unwrap_or(0.0) } else { lacking };
        match below_full {
            // Both are decimal figures; a nanovolt keeps their rounding out.
            _ if lacking < -NEARLY_FULL_MARGIN_V - 1e-9 => Fullness::Over,
            below if below <= FULL_MARGIN_V + 1e-9 => Fullness::Full,
            below if below <= nearly_v + 1e-9 => Fullness::Nearly,
            _ => Fullness::NotFull,
        }
    }

    /// Returns the voltage in V above which what is measured is more than one cell.
    pub fn one_cell_v(&self) -> f64 {
        self.charge_limit_v * ONE_CELL_SHARE
    }

    /// Returns by how much a full cell settles below its charge limit, in V, where its chemistry alone tells it.
    pub fn settles_v(&self) -> Option<f64> {
        (self.chemistry == Chemistry::Lfp).then(|| (self.charge_limit_v - LFP_SETTLES_V).max(0.0))
    }

    /// Returns the voltage in V below which a resting cell of this label is deeply discharged. Iron phosphate that was
    /// discharged to the end on its label, e.g. by the fixture, rests between that and 3 V; without such an end on the label
    /// it counts like all others.
    pub fn deeply_discharged_v(&self) -> f64 {
        let strictest = f64::from(limits::LOWEST_START.get()) * 1e-6;
        let ends_lower = self.chemistry == Chemistry::Lfp && !self.end_of_discharge_assumed;
        if ends_lower { self.end_of_discharge_v.min(strictest) } else { strictest }
    }

    /// Returns the current It in A: the rated capacity drawn in one hour (IEC 61960-3 names currents by it).
    pub const fn unit_current_a(&self) -> f64 {
        self.rated_capacity_ah
    }

    /// Returns what is wrong with the figures, each with its key and a sentence; empty if all is well.
    pub fn faults(&self) -> Vec<(&'static str, String)> {
        let mut faults = Vec::new();
        let values = [
            Some(self.rated_capacity_ah),
            Some(self.charge_limit_v),
            Some(self.end_of_discharge_v),
            self.nominal_v,
            self.nominal_thickness_mm,
            self.mass_g,
        ];
        for ((key, low, high, unit), value) in BOUNDS.into_iter().zip(values) {
            if let Some(value) = value
                && !(low..=high).contains(&value)
            {
                let text = format!("{value} {unit} is outside {low} to {high} {unit}; ");
                let text = match in_series(key, value, low..=high) {
                    Some(cells) => format!(
                        "{text}it is the voltage of {cells} cells in series: give the figures of one ({:.2} V), and measure each \
                         cell by itself, at its own tabs",
                        value / f64::from(cells)
                    ),
                    None => text + "check figure and unit",
                };
                faults.push((key, text));
            }
        }
        if self.chemistry == Chemistry::Lfp && self.charge_limit_v > LFP_HIGHEST_CHARGE_LIMIT_V {
            let text = format!(
                "{} V is above {LFP_HIGHEST_CHARGE_LIMIT_V} V, the highest for iron phosphate; \
                 check the charge limit and the chemistry on the label",
                self.charge_limit_v
            );
            faults.push(("charge_limit_v", text));
        }
        if self.chemistry != Chemistry::Lfp && self.charge_limit_v < 4.0 && self.charge_limit_v >= 3.5 {
            let text = format!(
                "{} V is the limit of an iron phosphate cell, but the chemistry is not; \
                 a nominal voltage may have been taken for the charge limit",
                self.charge_limit_v
            );
            faults.push(("charge_limit_v", text));
        }
        if let Some(nominal) = self.nominal_v
            && !(self.end_of_discharge_v < nominal && nominal < self.charge_limit_v)
        {
            let text = format!(
                "{nominal} V does not lie between end of discharge ({} V) and charge limit ({} V)",
                self.end_of_discharge_v, self.charge_limit_v
            );
            faults.push(("nominal_v", text));
        }
        faults
    }
}

/// Returns of how many cells in series a label's voltage is, where it is that of some.
fn in_series(key: &str, value: f64, of_one: std::ops::RangeInclusive<f64>) -> Option<u32> {
    let is_told = matches!(key, "charge_limit_v" | "nominal_v");
    (2..=MOST_IN_SERIES).find(|cells| is_told && of_one.contains(&(value / f64::from(*cells))))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound() -> Nameplate {
        Nameplate { mass_g: Some(45.0), ..crate::test_support::nameplate() }
    }

    #[test]
    fn a_sound_label_has_no_faults() {
        assert_eq!(sound().faults(), Vec::new());
    }

    #[test]
    fn milliampere_hours_and_nan_are_caught() {
        for capacity in [3000.0, f64::NAN, 0.0, -1.0] {
            let faults = Nameplate { rated_capacity_ah: capacity, ..sound() }.faults();
            assert_eq!(faults.len(), 1, "{capacity}: {faults:?}");
            assert_eq!(faults[0].0, "rated_capacity_ah");
        }
    }

    #[test]
    fn a_label_of_cells_in_series_is_named_as_one() {
        for (limit, nominal, cells) in [
            (8.7, 7.7, Some(2)),
            (8.4, 7.2, Some(2)),
            (7.3, 6.4, Some(2)),
            (13.05, 11.4, Some(3)),
            (5.0, 5.0, None),
        ] {
            let faults = Nameplate { charge_limit_v: limit, nominal_v: Some(nominal), ..sound() }.faults();
            for key in ["charge_limit_v", "nominal_v"] {
                let text = &faults.iter().find(|fault| fault.0 == key).unwrap().1;
                let expected =
                    cells.map_or("check figure".to_owned(), |cells| format!("{cells} cells in series"));
                assert!(text.contains(&expected), "{limit} {nominal}: {text}");
            }
        }
        // A capacity is no voltage.
        assert!(!Nameplate { rated_capacity_ah: 70.0, ..sound() }.faults()[0].1.contains("in series"));
    }

    #[test]
    fn a_nominal_voltage_given_as_charge_limit_is_caught() {
        let faults = Nameplate { charge_limit_v: 3.85, ..sound() }.faults();
        assert_eq!(faults[0].0, "charge_limit_v");
    }

    #[test]
    fn iron_phosphate_has_its_own_limits() {
        let cell = Nameplate {
            chemistry: Chemistry::Lfp,
            charge_limit_v: 3.65,
            end_of_discharge_v: 2.5,
            nominal_v: Some(3.2),
            ..sound()
        };
        assert_eq!(cell.faults(), Vec::new());
        assert_eq!(Nameplate { charge_limit_v: 4.2, ..cell }.faults()[0].0, "charge_limit_v");
    }

    #[test]
    fn iron_phosphate_is_full_where_it_settles_and_not_on_its_plateau() {
        let cell = Nameplate { chemistry: Chemistry::Lfp, charge_limit_v: 3.65, nominal_v: None, ..sound() };
        for (rest_v, fullness) in [
            (3.2, Fullness::NotFull),
            (3.34, Fullness::NotFull),
            (3.35, Fullness::Nearly),
            (3.38, Fullness::Nearly),
            (3.385, Fullness::Full),
            (3.45, Fullness::Full),
            (3.65, Fullness::Full),
            (3.70, Fullness::Full),
            (3.71, Fullness::Over),
        ] {
            assert_eq!(cell.fullness(rest_v), fullness, "{rest_v}");
        }
        assert_eq!(Nameplate { end_of_discharge_v: 2.0, ..cell.clone() }.deeply_discharged_v(), 2.0);
        assert_eq!(Nameplate { end_of_discharge_v: 3.2, ..cell.clone() }.deeply_discharged_v(), 3.0);
        let assumed = Nameplate { end_of_discharge_v: 2.5, end_of_discharge_assumed: true, ..cell };
        assert_eq!(assumed.deeply_discharged_v(), 3.0);
        let cobalt = Nameplate { charge_limit_v: 4.35, ..sound() };
        assert_eq!(Nameplate { end_of_discharge_v: 2.5, ..cobalt.clone() }.deeply_discharged_v(), 3.0);
        assert_eq!(cobalt.fullness(4.2), Fullness::NotFull);
        assert_eq!(cobalt.fullness(4.336), Fullness::Full);
    }

    #[test]
    fn the_nominal_voltage_lies_between_the_ends() {
        assert_eq!(
            Nameplate { nominal_v: Some(4.2), charge_limit_v: 4.2, ..sound() }.faults()[0].0,
            "nominal_v"
        );
    }

    #[test]
    fn labels_are_understood_in_their_usual_spellings() {
        let spellings = [
            ("LCO/graphite", Chemistry::Lco),
            ("lithium cobalt oxide", Chemistry::Lco),
            ("ICP6/65/75", Chemistry::Lco),
            ("NMC 622", Chemistry::Nmc),
            ("Lithium Nickel Manganese Cobalt Oxide", Chemistry::Nmc),
            ("NCA", Chemistry::Nca),
            ("LiMn2O4", Chemistry::Lmo),
            ("LiFePO4", Chemistry::Lfp),
            ("Li-ion", Chemistry::LithiumIon),
            ("Li-Polymer", Chemistry::LithiumIon),
        ];
        for (text, expected) in spellings {
            assert_eq!(Chemistry::from_label(text), Some(expected), "{text}");
        }
        assert_eq!(Chemistry::from_label("nickel-cadmium"), None);
        assert_eq!(Form::from_label("Pouch cell"), Some(Form::Pouch));
    }
}
