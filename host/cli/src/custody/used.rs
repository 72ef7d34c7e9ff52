//! The test record that goes with a used cell, so that it is not taken for waste.
//!
//! Takes an assessment and what the shop adds; gives a [`UsedRecord`]. Its fields are those that the pack of the European
//! Union names for used batteries (annex XIV of Regulation (EU) 2023/1542). The declaration is the holder's; this program
//! cannot make it.

use crate::assessment::Assessment;
use crate::custody::papers::Need;
use crate::output::quantity_words;
use crate::output::sheet::{List, Part, Sheet};
use celltriage_measure::estimate::Quantity;
use celltriage_rules::{LegalState, Packs, PlaceCode, Section};
use celltriage_verdict::figure_with_doubt;
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

/// Returns the words for a quantity as it is named in the assessment.
fn words_of(key: &str) -> String {
    let known = Quantity::ALL.into_iter().find(|quantity| quantity.key() == key);
    known.map_or_else(|| key.to_owned(), |quantity| quantity_words(quantity).to_owned())
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

impl UsedRecord {
    /// Lays the record out, to be signed and fixed to the cell or its package; `needed` is what the rules of its place say
    /// of used cells.
    pub fn sheet(&self, signed_by: &str, on: Date, needed: &[Need]) -> Sheet {
        let mut head = Vec::new();
        let mut row = |name: &str, value: String| head.push((name.to_owned(), value));
        row("item", self.item.clone());
        row("identification number", self.cell.clone());
        row(
            "year of production",
            self.production_year.map_or("not known".to_owned(), |year| year.to_string()),
        );
        row("company that answers for it", self.company.clone());
        row("address", self.address.clone());
        row("tested on", self.tested_on.to_string());
        row("result in one sentence", self.statement.clone());
        let listed = if self.recall.listed { "LISTED" } else { "not listed" };
        row(
            "recall lists",
            format!("{listed}; looked up on {} in {}", self.recall.on, self.recall.looked_in),
        );
        row("invoice or contract", self.contract.clone().unwrap_or("(to be added)".to_owned()));
        row("record made by", format!("{signed_by}, {on}"));
        row("book entry", format!("assessment {}", self.assessment));
        let rows = self.results.iter().map(|result| {
            vec![
                words_of(&result.quantity),
                figure_with_doubt(result.value, result.standard_uncertainty, &result.unit),
                result.method.clone(),
            ]
        });
        Sheet {
            title: "Test record of a used cell".to_owned(),
            notice: "to be checked and signed by the company named here".to_owned(),
            head,
            list: Some(List {
                heading: "tests".to_owned(),
                columns: vec!["quantity", "value ± U (k = 2)", "method"],
                rows: rows.collect(),
            }),
            parts: vec![Part {
                heading: "what goes with a used cell".to_owned(),
                points: needed.iter().map(Need::point).collect(),
            }],
            words: Vec::new(),
            to_fill_in: vec![
                "declaration of the holder that nothing in the consignment is waste: name, date, signature"
                    .to_owned(),
            ],
        }
    }
}
