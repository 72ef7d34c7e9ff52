//! The test record that goes with a used cell, so that it is not taken for waste.
//!
//! Takes an assessment and what the shop adds; gives a [`UsedRecord`]. Its fields are those that the pack of the European
//! Union names for used batteries (annex XIV of Regulation (EU) 2023/1542). The declaration is the holder's; this program
//! cannot make it.

use crate::need::Need;
use celltriage_assessment::Assessment;
use celltriage_measure::estimate::Quantity;
use celltriage_rules::{LegalState, Packs, PlaceCode, Section};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// One result of a test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TestResult {
    /// What was tested, as it is named in the assessment.
    pub quantity: String,
    /// How.
    pub method: String,
    /// Result, in `unit`.
    pub value: f64,
    /// One standard deviation, in `unit`.
    pub standard_uncertainty: f64,
    /// Unit.
    pub unit: String,
}

/// What came out of looking a cell up in recall lists.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecallCheck {
    /// On what day it was looked up.
    pub on: Date,
    /// Where it was looked up.
    pub looked_in: String,
    /// Whether it was on a list.
    pub listed: bool,
}

/// The record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UsedRecord {
    /// Number of the item in the shop.
    pub cell: String,
    /// Name of the item.
    pub item: String,
    /// Year in which it was made, where it is known.
    pub production_year: Option<i16>,
    /// Company that answers for the evidence.
    pub company: String,
    /// Its address.
    pub address: String,
    /// Entry of the assessment.
    pub assessment: u32,
    /// Day of the test.
    pub tested_on: Date,
    /// Tests and their results.
    pub results: Vec<TestResult>,
    /// What was decided, in one sentence.
    pub statement: String,
    /// What is recorded of its life before the test, in one line; nothing in records of before that was asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub life: Option<String>,
    /// Recall lists.
    pub recall: RecallCheck,
    /// Invoice or contract, where there is one already.
    pub contract: Option<String>,
}

/// Returns the results of an assessment as a record lists them.
pub fn results_of(assessment: &Assessment) -> Vec<TestResult> {
    Quantity::ALL
        .into_iter()
        .filter_map(|quantity| assessment.estimates.get(&quantity).map(|estimate| (quantity, estimate)))
        .map(|(quantity, estimate)| TestResult {
            quantity: quantity.key().to_owned(),
            method: estimate.method.clone(),
            value: estimate.value,
            standard_uncertainty: estimate.standard_uncertainty,
            unit: estimate.unit.clone(),
        })
        .collect()
}

/// Returns what the packs say of used cells that are not waste: the European Union's rules, which are the pattern of the
/// record, and those of the place.
pub fn needed(packs: &Packs, place: Option<&PlaceCode>, date: Date) -> Vec<Need> {
    let union: Option<PlaceCode> = "EU".parse().ok();
    let mut needed: Vec<Need> = Vec::new();
    for place in [union.as_ref(), place] {
        for told in packs.in_papers(place, date, LegalState::NotWaste) {
            let need = Need::of(&told.fact);
            if told.fact.in_papers == Some(Section::UsedRecord) && !needed.contains(&need) {
                needed.push(need);
            }
        }
    }
    needed
}
