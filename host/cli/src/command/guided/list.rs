//! `guided --list`: all cells that are in a run, and what is next for each.

use crate::command::say_json;
use crate::error::Error;
use crate::io::Io;
use celltriage_custody::cell::Cell;
use celltriage_report::guided_page::run_row;
use celltriage_workshop::Workshop;
use celltriage_workshop::capacity_run::{self, Next, Stage};
use celltriage_workshop::charge_permit::ChargePermit;
use jiff::Timestamp;
use serde_json::json;

/// Lists the open runs; a cell that must not be charged any more says so, whatever stage it was left at.
///
/// # Errors
/// A book error.
pub(super) fn list(shop: &Workshop<'_>, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    let clock = |at: Timestamp| at.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
    let runs = shop.capacity_runs(None)?;
    let mut rows = Vec::new();
    for (id, run) in runs.iter().filter(|(_, run)| !matches!(run.step.stage, Stage::Done { .. })) {
        let due = match capacity_run::next(Some(run), false, shop.now()) {
            Next::Charge => "on or before the charger".to_owned(),
            Next::Rest { until } => format!("rests until {}", clock(until)),
            Next::Measure => "has rested: clip it on".to_owned(),
            Next::BeginCharge { why } => why.unwrap_or_else(|| "to be charged".to_owned()),
            Next::BeginRest => "off the charger".to_owned(),
        };
        let what = match shop.charge_permit(id, &run.step.nameplate)? {
            ChargePermit::Refused { why } => format!("NOT to be charged: {why}"),
            ChargePermit::Given | ChargePermit::Open { .. } => due,
        };
        let simulated = shop.state_about(&[id])?.cells.get(id).is_some_and(Cell::is_simulated);
        rows.push((id, run, what, clock(run.since), simulated));
    }
    if as_json {
        let rows: Vec<_> = rows
            .iter()
            .map(|(id, run, what, _, simulated)| {
                let since = run.since.to_string();
                let mut row = json!({ "cell": id, "since": since, "stage": run.step.stage, "next": what });
                if let Some(members) = row.as_object_mut().filter(|_| *simulated) {
                    members.insert("simulated".to_owned(), true.into());
                }
                row
            })
            .collect();
        return say_json(&json!({ "schema": "celltriage.capacity_runs/1", "runs": rows }), io);
    }
    for (id, _, what, since, simulated) in &rows {
        io.show(&run_row(id, what, since, *simulated));
    }
    if rows.is_empty() {
        io.note("no cell is in a capacity run; begin with: celltriage guided --id NAME --cell LABEL.toml");
    }
    Ok(())
}
