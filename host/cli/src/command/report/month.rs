//! `report month`: a month in numbers.

use crate::command::say_json;
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::paper::Files;
use celltriage_report::month_page::{MonthShown, month_page};
use celltriage_workshop::Workshop;
use celltriage_workshop::month::Month;
use jiff::ToSpan;
use serde_json::json;

/// Runs `report month`.
///
/// # Errors
/// The book cannot be read, or a file not be written.
pub(super) fn run(
    shop: &Workshop<'_>,
    month: Option<Month>,
    files: Files<'_>,
    as_json: bool,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    let last_month = io.today().first_of_month().saturating_sub(1.day());
    let found = shop.month(month.unwrap_or(Month::of(last_month)))?;
    let left: Vec<(&str, u32, String)> =
        found.left.iter().map(|left| (left.how.as_str(), left.cells, left.mass_mg.to_string())).collect();
    let page = month_page(&MonthShown {
        month: &found.month,
        simulated: found.simulated,
        cells: &found.cells,
        decisions: [found.decisions, found.struck],
        left_out: found.simulated_left_out,
        done: [found.judged, found.placed, found.fitted, found.alarms, found.irregularities],
        left: &left,
    });
    let files = files.write(&page, io.today(), io)?;
    if as_json {
        let files: Vec<_> = files.iter().map(|(form, path)| json!({ "form": form, "path": path })).collect();
        say_json(&json!({ "schema": "celltriage.month/1", "summary": found, "files": files }), io)?;
    } else if files.is_empty() {
        io.show(&page);
    }
    Ok(EXIT_DONE)
}
