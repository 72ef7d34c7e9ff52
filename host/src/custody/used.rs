//! The test record that goes with a used cell, so that it is not taken for waste.
//!
//! Takes an assessment and what the shop adds; gives a [`UsedRecord`]. Its fields are those of annex XIV of Regulation
//! (EU) 2023/1542: point 1 (contract, test record for each battery, declaration, protection against damage) was seen in
//! the German text; the list of what a record holds (name, number, year, company, kind of tests, results) is from
//! memory. The declaration is the holder's; this program cannot make it.

use crate::assessment::Assessment;
use crate::estimate::Quantity;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Where the fields come from.
pub const SOURCE: &str =
    "Regulation (EU) 2023/1542 annex XIV; the list of fields from memory: verify with your waste authority";

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

impl UsedRecord {
    /// Writes the record as plain text, to be fixed to the cell's package.
    pub fn text(&self, signed_by: &str, on: Date) -> String {
        let mut out = String::from(
            "TEST RECORD OF A USED CELL\nto be checked and signed by the company named here\n\n",
        );
        let mut line = |name: &str, value: &str| out.push_str(&format!("{name:<28}{value}\n"));
        line("item", &self.item);
        line("identification number", &self.cell);
        let year = self.production_year.map_or_else(|| "not known".to_owned(), |year| year.to_string());
        line("year of production", &year);
        line("company that answers for it", &self.company);
        line("address", &self.address);
        line("tested on", &self.tested_on.to_string());
        line("result in one sentence", &self.statement);
        let listed = if self.recall.listed { "LISTED" } else { "not listed" };
        line(
            "recall lists",
            &format!("{listed}; looked up on {} in {}", self.recall.on, self.recall.looked_in),
        );
        line("invoice or contract", self.contract.as_deref().unwrap_or("(to be added)"));
        line("record made by", &format!("{signed_by}, {on}"));
        line("book entry", &format!("assessment {}", self.assessment));
        out.push_str("\ntests\n");
        for result in &self.results {
            out.push_str(&format!(
                "  {:<26}{:.4} {} (standard uncertainty {:.4}); {}\n",
                result.quantity, result.value, result.unit, result.standard_uncertainty, result.method
            ));
        }
        out.push_str(
            "\nalso needed, and not made by this program:\n  \
             the holder's declaration that nothing in the consignment is waste\n  \
             protection against damage on the way, in loading and unloading\n  \
             the transport rules apply to used cells as to new ones\n",
        );
        out.push_str(&format!("source: {SOURCE}\n"));
        out
    }
}
