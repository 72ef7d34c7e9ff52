//! The record of one assessment: what is written as JSON, kept in the book and shown on the page.
//!
//! Takes label, observations, estimates and the circumstances; gives the whole with verdict and cautions. The names
//! in JSON are the contract of `host/JSON.md`: later versions only add.

use crate::adapter::AdapterUsed;
use crate::case_file::CaseFile;
use crate::guard::GuardUsed;
use crate::health::{Health, Sibling, health};
use crate::history::fixture_name;
use celltriage_instrument::calibration::CalibrationUsed;
use celltriage_instrument::simulated::{SIMULATED, is_simulated_source};
use celltriage_measure::estimate::{Circuit, Estimate, Estimates, Quantity};
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::Observations;
use celltriage_rules::{Caution, Packs, PlaceCode, Situation, cautions};
use celltriage_verdict::{
    Contradiction, DeviceAnswer, Evidence, KnownFinding, LabelOfModel, Lifetime, Policy, RunOutcome, Verdict,
    answer_device, decide, take_out_what_is_hidden,
};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What the record says it is.
pub const SCHEMA: &str = "celltriage.assessment/1";

/// How the source of a decision begins that was made from a file.
pub const FROM_FILE: &str = "file ";

/// The record of one assessment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Assessment {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The cell.
    pub cell: Cell,
    /// When, where, with what, and what could not be measured.
    pub conditions: Circumstances,
    /// What was measured.
    pub estimates: BTreeMap<Quantity, Estimate>,
    /// Description of the largest pulse's curve.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub circuit: Option<Circuit>,
    /// What becomes of it.
    pub verdict: Verdict,
    /// Whether it explains what its device did, where somebody asked; takes no part in the verdict.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device: Option<DeviceAnswer>,
    /// What can be said of its health; takes no part in the verdict.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub health: Option<Health>,
    /// What was found of it before, and stands.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub known: Vec<KnownFinding>,
    /// What else was known of it then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case_file: Option<CaseFile>,
    /// What is recorded of its life, where anything is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifetime: Option<Lifetime>,
    /// What cannot follow from what was measured of it before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub contradictions: Vec<Contradiction>,
    /// What to heed.
    pub cautions: Vec<Caution>,
}

/// The cell as it was presented.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// Number that the workshop gave it.
    pub id: Option<String>,
    /// Its label.
    pub nameplate: Nameplate,
    /// What was seen; every sign is named.
    pub observations: Observations,
    /// What was odd about the label.
    pub warnings: Vec<String>,
}

/// When, where and with what.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Circumstances {
    /// Day of the decision, where the cell is.
    pub date: Date,
    /// Where the cell is.
    pub place: Option<PlaceCode>,
    /// Temperature of the cell at the first load, or at the end of the trace, in degC.
    pub temperature_c: Option<f64>,
    /// Where the trace comes from: a port, the simulated bench, a file.
    pub source: String,
    /// The measuring front end and its error budget, in words.
    pub front_end: Option<String>,
    /// Which fixture.
    pub fixture: Option<String>,
    /// Which guard watched over the run: the fixture's program, limits, board.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guard: Option<GuardUsed>,
    /// Which adapter was between fixture and cell, as the fixture was told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adapter: Option<AdapterUsed>,
    /// Number of the calibration that the fixture used.
    pub calibration: Option<u32>,
    /// What is known of that calibration: day, reference, what it left in doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_used: Option<CalibrationUsed>,
    /// Version of this program.
    pub program: String,
    /// How the measurement went.
    pub run: RunOutcome,
    /// What was odd in the trace.
    #[serde(default)]
    pub trace_notes: Vec<String>,
    /// Why the other estimates are not there.
    #[serde(default)]
    pub not_estimated: BTreeMap<Quantity, String>,
}

impl Circumstances {
    /// Makes circumstances of which only day, origin and course are known.
    pub fn new(date: Date, source: &str, run: RunOutcome) -> Self {
        Self {
            date,
            place: None,
            temperature_c: None,
            source: source.to_owned(),
            front_end: None,
            fixture: None,
            guard: None,
            adapter: None,
            calibration: None,
            calibration_used: None,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            run,
            trace_notes: Vec::new(),
            not_estimated: BTreeMap::new(),
        }
    }
}

/// What an assessment is made from.
#[derive(Clone, Debug)]
pub struct Subject {
    /// Number that the workshop gave the cell.
    pub cell_id: Option<String>,
    /// The label.
    pub nameplate: Nameplate,
    /// What was seen.
    pub observations: Observations,
    /// What was measured, and why the rest was not.
    pub estimates: Estimates,
    /// When, where and with what; its `not_estimated` is filled in from `estimates`.
    pub circumstances: Circumstances,
    /// Other cells of the same model.
    pub siblings: Vec<Sibling>,
    /// What was found of it before, and stands.
    pub known: Vec<KnownFinding>,
    /// What else is known of it.
    pub case_file: Option<CaseFile>,
    /// What is recorded of its life, where anything is.
    pub lifetime: Option<Lifetime>,
    /// What cannot follow from what was measured of it before.
    pub contradictions: Vec<Contradiction>,
    /// What stands on the labels of other cells of the model.
    pub labels_of_model: Vec<LabelOfModel>,
}

impl Circumstances {
    /// Returns whether the decision was made from a file: what it shows may be of any day.
    pub fn is_from_file(&self) -> bool {
        self.run == RunOutcome::Recorded || self.source.starts_with(FROM_FILE)
    }

    /// Returns whether the decision is about a cell of the simulated bench: its link says so, or the board that measured it.
    pub fn is_simulated(&self) -> bool {
        is_simulated_source(&self.source, self.fixture.as_deref())
    }
}

impl Assessment {
    /// Says it in one line of at most so many columns, for a list.
    pub fn summary(&self, width: usize) -> String {
        let id = self.cell.id.as_deref().unwrap_or("(no number)");
        let simulated = if self.conditions.is_simulated() { format!("{SIMULATED} ") } else { String::new() };
        let (fate, statement) = (self.verdict.fate.key().to_uppercase(), &self.verdict.statement);
        let line = format!("{id:<12} {fate:<10} {simulated}{statement}");
        if line.chars().count() <= width {
            return line;
        }
        let cut: String = line.chars().take(width.saturating_sub(3)).collect();
        format!("{}...", cut.trim_end())
    }

    /// Decides, finds the cautions, and puts the record together.
    pub fn build(subject: Subject, policy: &Policy, packs: &Packs) -> Self {
        let Subject {
            cell_id,
            mut nameplate,
            observations,
            mut estimates,
            mut circumstances,
            siblings,
            known,
            case_file,
            lifetime,
            contradictions,
            labels_of_model,
        } = subject;
        let evidence = Evidence {
            nameplate: &nameplate,
            observations: &observations,
            estimates: &estimates,
            run: &circumstances.run,
            known: &known,
            lifetime: lifetime.as_ref(),
            contradictions: &contradictions,
            labels_of_model: &labels_of_model,
            from_file: circumstances.is_from_file(),
        };
        let verdict = decide(policy, &evidence);
        let device = answer_device(&evidence);
        take_out_what_is_hidden(&verdict, &mut estimates);
        let situation = Situation {
            verdict: &verdict,
            charge_limit_v: nameplate.charge_limit_v,
            place: circumstances.place.as_ref(),
            date: circumstances.date,
        };
        let cautions = cautions(&situation, packs);
        let instrument = fixture_name(circumstances.fixture.as_deref(), circumstances.calibration);
        let health = health(nameplate.model.as_deref(), &estimates, instrument.as_deref(), &siblings);
        let warnings = std::mem::take(&mut nameplate.warnings);
        circumstances.not_estimated = estimates.missing;
        Self {
            schema: SCHEMA.to_owned(),
            cell: Cell { id: cell_id, nameplate, observations: observations.spelled_out(), warnings },
            conditions: circumstances,
            estimates: estimates.measured,
            circuit: estimates.circuit,
            verdict,
            device,
            health,
            known,
            case_file,
            lifetime,
            contradictions,
            cautions,
        }
    }

    /// Writes the record as JSON, always in the same order, with a line break at the end.
    pub fn to_json(&self) -> Result<String, serde_json::Error> {
        serde_json::to_string_pretty(self).map(|text| text + "\n")
    }

    /// Reads a record back, for example from the book.
    pub fn from_json(text: &str) -> Result<Self, serde_json::Error> {
        serde_json::from_str(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::example;
    use celltriage_measure::observation::{Answer, Sign};

    #[test]
    fn the_keys_in_json_are_those_of_the_contract_in_a_fixed_order() {
        let text = example(|_| {}).to_json().unwrap();
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        let keys: Vec<_> = json.as_object().unwrap().keys().map(String::as_str).collect();
        let mut expected = vec!["schema", "cell", "conditions", "estimates", "verdict", "health", "cautions"];
        // The parsed object may be sorted; the text keeps the order.
        let positions: Vec<_> =
            expected.iter().map(|key| text.find(&format!("\n  \"{key}\":")).expect(key)).collect();
        assert!(positions.is_sorted());
        let mut keys = keys;
        keys.sort_unstable();
        expected.sort_unstable();
        assert_eq!(keys, expected);
        assert_eq!(json["schema"], "celltriage.assessment/1");
        let resistance = &json["estimates"]["resistance_dc_ohm"];
        for key in ["value", "standard_uncertainty", "unit", "method", "warnings"] {
            assert!(resistance.get(key).is_some(), "{key}");
        }
        assert_eq!(json["estimates"].get("self_discharge_v_per_day"), None);
        assert_eq!(json["conditions"]["not_estimated"]["self_discharge_v_per_day"], "needs a second visit");
        assert_eq!(json["verdict"]["fate"], "reuse");
        for reason in json["verdict"]["reasons"].as_array().unwrap() {
            for key in ["criterion", "finding", "value", "limit", "source"] {
                assert!(reason.get(key).is_some(), "{key} in {reason}");
            }
        }
        for caution in json["cautions"].as_array().unwrap() {
            for key in ["text", "severity", "source", "verify"] {
                assert!(caution.get(key).is_some(), "{key} in {caution}");
            }
        }
        assert_eq!(json["cell"]["observations"]["signs"]["swollen"], "no");
        assert_eq!(json["cell"]["warnings"][0], "nominal_thickness_mm is not given");
    }

    #[test]
    fn the_description_of_the_contract_names_everything() {
        let description = include_str!("../../JSON.md");
        let quantities = Quantity::ALL.into_iter().map(Quantity::key);
        let signs = Sign::ALL.into_iter().map(Sign::key);
        let causes = celltriage_verdict::TRIP_CAUSES.into_iter().map(celltriage_verdict::trip_key);
        let fates = celltriage_verdict::Fate::ALL.into_iter().map(celltriage_verdict::Fate::key);
        for name in quantities.chain(signs).chain(causes).chain(fates) {
            assert!(description.contains(&format!("`{name}`")), "{name} is not in host/JSON.md");
        }
        for name in [SCHEMA, "celltriage.policy/1", "celltriage.rules/1"] {
            assert!(description.contains(name), "{name}");
        }
    }

    #[test]
    fn signs_that_nobody_looked_for_are_named_in_json() {
        let unseen = example(|subject| subject.observations = Observations::default());
        assert_eq!(unseen.cell.observations.signs.len(), Sign::ALL.len());
        assert!(unseen.cell.observations.signs.values().all(|answer| *answer == Answer::NotObserved));
        assert_eq!(unseen.verdict.fate.key(), "undecided");
    }

    #[test]
    fn a_record_is_read_back_as_it_was_written() {
        let written = example(|subject| {
            subject.circumstances.run = RunOutcome::Unfinished { why: "link lost".to_owned() };
            subject.circumstances.calibration = Some(7);
        });
        let text = written.to_json().unwrap();
        let read = Assessment::from_json(&text).unwrap();
        assert_eq!(read, written);
        assert_eq!(read.to_json().unwrap(), text);
    }
}
