//! The test record of a used cell, laid out to be printed and signed.

use super::quantity_words;
use super::sheet::{List, Part, Sheet};
use celltriage_custody::need::Need;
use celltriage_custody::used::UsedRecord;
use celltriage_measure::estimate::Quantity;
use celltriage_verdict::figure_with_doubt;
use jiff::civil::Date;

/// Lays the record out, to be signed and fixed to the cell or its package; `needed` is what the rules of its place say
/// of used cells.
pub fn used_sheet(record: &UsedRecord, signed_by: &str, on: Date, needed: &[Need]) -> Sheet {
    let mut head = Vec::new();
    let mut row = |name: &str, value: String| head.push((name.to_owned(), value));
    row("item", record.item.clone());
    row("identification number", record.cell.clone());
    row("year of production", record.production_year.map_or("not known".to_owned(), |year| year.to_string()));
    row("company that answers for it", record.company.clone());
    row("address", record.address.clone());
    row("tested on", record.tested_on.to_string());
    row("result in one sentence", record.statement.clone());
    let listed = if record.recall.listed { "LISTED" } else { "not listed" };
    row(
        "recall lists",
        format!("{listed}; looked up on {} in {}", record.recall.on, record.recall.looked_in),
    );
    row("invoice or contract", record.contract.clone().unwrap_or("(to be added)".to_owned()));
    row("record made by", format!("{signed_by}, {on}"));
    row("book entry", format!("assessment {}", record.assessment));
    let rows = record.results.iter().map(|result| {
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
            points: needed.iter().map(super::draft_sheet::point).collect(),
        }],
        words: Vec::new(),
        to_fill_in: vec![
            "declaration of the holder that nothing in the consignment is waste: name, date, signature"
                .to_owned(),
        ],
    }
}

/// Returns the words for a quantity as it is named in the assessment.
fn words_of(key: &str) -> String {
    let known = Quantity::ALL.into_iter().find(|quantity| quantity.key() == key);
    known.map_or_else(|| key.to_owned(), |quantity| quantity_words(quantity).to_owned())
}
