//! What a policy says of counts above the label, as its file gives it.
//!
//! Input: the table `label` of a policy file; output: the share of the rated capacity from which a count asks for a second look.

use crate::consequence_file::value;
use celltriage_written::{Fields, Found, Reading};

/// The keys of the table in a policy file.
const KEYS: [&str; 2] = ["most_of_rated", "source"];
/// A new cell gives up to some per cent more than its label says; beyond a tenth the label is the likelier error.
const MOST_OF_RATED: f64 = 1.10;

/// What a policy says of counts above the label.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelTerms {
    /// Share of the rated capacity above which a count proves nothing until the label was confirmed.
    pub most_of_rated: f64,
    /// Where that comes from.
    pub source: String,
}

impl Default for LabelTerms {
    fn default() -> Self {
        Self { most_of_rated: MOST_OF_RATED, source: "common practice".to_owned() }
    }
}

/// Reads the table `label` of a policy file; without one the usual terms hold.
pub(super) fn read(head: &mut Fields<'_>, reading: &mut Reading<'_>) -> LabelTerms {
    let usual = LabelTerms::default();
    if !head.has("label") {
        return usual;
    }
    let Some(mut table) = head.table("label", reading) else { return usual };
    let most = table.take::<f64>("most_of_rated", reading);
    if let Some(Found { span, .. }) = most.as_ref().filter(|found| !(1.0..=3.0).contains(&found.value)) {
        reading.add(span.clone(), "write a share of the rated capacity between 1 and 3; 1.1 is common");
    }
    let terms = LabelTerms {
        most_of_rated: most.map_or(usual.most_of_rated, |found| found.value),
        source: value(&mut table, "source", reading).unwrap_or(usual.source),
    };
    table.finish(&KEYS, reading);
    terms
}
