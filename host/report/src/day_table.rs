//! The table of a day or a batch: one line for each cell, with its fate and what decided it.

use crate::deciding::{deciding, in_short};
use celltriage_assessment::Assessment;
use celltriage_document::document::{Block, Document, Heading, Paragraph, Table};
use celltriage_document::phrase::Phrase;
use celltriage_document::text::Text;
use celltriage_instrument::simulated::FIRST_LINE;

/// Most columns of a name, a fate, what decided, and its value; the limit takes the rest.
const WIDEST: [usize; 4] = [14, 10, 25, 24];

/// What became of a cell.
#[derive(Clone, Copy, Debug)]
pub enum Row<'a> {
    /// It was decided.
    Decided(&'a Assessment),
    /// It was not: its name, what happened, and why.
    Not(&'a str, Phrase, &'a str),
}

/// Puts the table together; why a cell was not decided stands below it.
pub fn day_table(title: Phrase, rows: &[Row<'_>]) -> Document {
    let mut page = Document::screen(title);
    let simulated = |row: &Row<'_>| matches!(row, Row::Decided(one) if one.conditions.is_simulated());
    if rows.iter().any(simulated) {
        page.notice(FIRST_LINE);
    }
    page.push(Heading::title(title));
    let headings = [Phrase::Cell, Phrase::DayFate, Phrase::DayDecided, Phrase::Found, Phrase::Limit];
    let mut table = Table::under(headings).widest(&WIDEST).indented(0);
    let mut below: Vec<Block> = Vec::new();
    for row in rows {
        match row {
            Row::Decided(assessment) => {
                table.row(decided(assessment));
            }
            Row::Not(cell, what, why) => {
                table.row([Text::from(*cell), (*what).into()]);
                below.push(Paragraph::of(*why).after(0, format!("{cell}:"), cell.chars().count() + 2).into());
            }
        }
    }
    page.push(table);
    page.blocks.extend(below);
    page
}

fn decided(assessment: &Assessment) -> [Text; 5] {
    let verdict = &assessment.verdict;
    let cell = assessment.cell.id.as_deref().unwrap_or(Phrase::WithoutNumber.english());
    let [what, found, limit] = deciding(verdict).map(in_short).unwrap_or_default();
    [cell.into(), verdict.fate.key().to_uppercase().into(), what, found, limit]
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;
    use celltriage_document::form::terminal::Terminal;
    use celltriage_measure::estimate::{Estimate, Quantity};
    use celltriage_measure::observation::{Answer, Sign};

    #[test]
    fn each_cell_has_a_line_with_fate_what_decided_value_and_limit() {
        let put = |quantity, value| {
            example(|subject| {
                subject.estimates.put(quantity, Ok(Estimate::new(quantity, value, 0.004, "test")));
            })
        };
        let sound = example(|_| {});
        let (worn, high) =
            (put(Quantity::CapacityFraction, 0.694), put(Quantity::Resistance25Celsius, 0.241));
        let swollen = example(|subject| subject.observations.set(Sign::Swollen, Answer::Yes));
        let screened = example(|subject| {
            subject
                .estimates
                .measured
                .retain(|of, _| ![Quantity::Capacity, Quantity::CapacityFraction].contains(of));
        });
        let decided = [&sound, &worn, &high, &swollen, &screened].map(Row::Decided);
        let not = Row::Not("PE-0413", Phrase::DayNotTested, "the port /dev/ttyACM9 cannot be opened");
        let rows: Vec<Row<'_>> = decided.into_iter().chain([not]).collect();
        let expected = "THE DAY\n\
            cell     fate        decided by             found                 limit\n\
            PE-0412  REUSE       capacity of rated      93.03 ± 0.94 %        ≥ 80 %\n\
            PE-0412  RECYCLE     capacity of rated      69.40 ± 0.80 %        ≥ 80 %\n\
            PE-0412  RECYCLE     resistance × capacity  0.723 ± 0.024 Ohm·Ah  ≤ 0.68 Ohm·Ah\n\
            PE-0412  QUARANTINE  swollen                yes\n\
            PE-0412  UNDECIDED   capacity of rated      -                     ≥ 80 %\n\
            PE-0413  NOT TESTED\n\
            PE-0413: the port /dev/ttyACM9 cannot be opened\n";
        assert_eq!(Terminal::new(80).text(&day_table(Phrase::DayTitle, &rows)), expected);
    }
}
