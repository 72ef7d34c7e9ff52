//! What was measured: a table, then what the reader must know of each number.

use crate::quantity_words::quantity_words;
use celltriage_assessment::Assessment;
use celltriage_document::document::{Block, Bullet, Bullets, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_measure::estimate::{Estimate, Quantity};
use celltriage_verdict::{bare_figure, figure_with_few, limit_figure};

/// Lays the estimates out.
pub fn estimates(assessment: &Assessment) -> Vec<Block> {
    let measured =
        || Quantity::ALL.into_iter().filter_map(|q| assessment.estimates.get(&q).map(|found| (q, found)));
    if assessment.estimates.is_empty() {
        return vec![Paragraph::of(Phrase::NothingMeasured).indented(2).into()];
    }
    let headings = [Phrase::Quantity, Phrase::ValueWithDoubt, Phrase::Method];
    let mut table = Table::under(headings).widest(&[24, 24]);
    for (quantity, found) in measured() {
        table.row([quantity_words(quantity).into(), figure(found), found.method.as_str().into()]);
    }
    // What holds for several quantities is said once, where the first of them stands.
    let warnings = measured().flat_map(|(quantity, found)| {
        found.warnings.iter().map(move |warning| (warning.as_str(), quantity_words(quantity)))
    });
    let said = grouped(warnings);
    let heed = said.iter().map(|(warning, quantities)| format!("{}: {warning}", quantities.join(", ")));
    vec![table.into(), Bullets::of(heed).marked(Bullet::Heed, 2).into()]
}

fn figure(found: &Estimate) -> Text {
    let unit = &found.unit;
    match found.interval {
        Some([low, high]) => say!(Span, low = bare_figure(low, unit), high = limit_figure(high, unit)),
        None => {
            figure_with_few(found.value, found.standard_uncertainty, found.degrees_of_freedom, unit).into()
        }
    }
}

/// Puts together what is said of several things, in the order in which it is first said.
pub(crate) fn grouped<'a>(
    pairs: impl IntoIterator<Item = (&'a str, &'a str)>,
) -> Vec<(&'a str, Vec<&'a str>)> {
    let mut said: Vec<(&str, Vec<&str>)> = Vec::new();
    for (text, of) in pairs {
        match said.iter_mut().find(|(known, _)| *known == text) {
            Some((_, all)) => all.push(of),
            None => said.push((text, vec![of])),
        }
    }
    said
}
