//! What people read: every page and paper, put together from the data of the floors below as one
//! [`Document`](celltriage_document::document::Document).
//!
//! One file for each page. Nothing here decides, measures or prints: the forms of `celltriage-document` make text or HTML of it.

/// Says a phrase with its blanks filled: `say!(DayBy, day = on, by = person)`.
macro_rules! say {
    ($phrase:ident $(, $name:ident = $value:expr)* $(,)?) => {
        celltriage_document::text::Text::phrase(
            celltriage_document::phrase::Phrase::$phrase,
            [$((stringify!($name), $value.to_string())),*],
        )
    };
}

pub mod calibration_page;
pub mod case_file_page;
pub mod cautions;
pub mod cell_label;
pub mod cell_report;
pub mod check_chart;
pub mod columns_page;
pub mod container_label;
pub mod container_page;
pub mod container_sheet;
pub mod counter;
mod criterion;
pub mod custody_lists;
pub mod day_table;
mod deciding;
pub mod decision_page;
pub mod draft_paper;
pub mod drawing;
pub mod due_page;
mod estimates;
pub mod explanation_page;
pub mod first_screen;
pub mod fixture_page;
pub mod guided_page;
pub mod judgement_page;
pub mod known_page;
pub mod known_table_page;
pub mod mailing_page;
pub mod model_page;
pub mod month_page;
mod point;
pub mod program_page;
pub mod quantity_words;
mod reason_row;
mod reasons;
mod rule_fact;
pub mod rules_page;
pub mod standing_page;
pub mod story_page;
pub mod used_paper;

#[cfg(test)]
mod contradiction;
#[cfg(test)]
mod tests;
