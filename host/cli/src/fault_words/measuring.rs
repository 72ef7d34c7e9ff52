//! Faults of the workshop on the way from the bench to the decision.

use super::SaidIn;
use crate::error::{Error, Kind};
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::PlanError;
use celltriage_workshop::Fault;
use celltriage_workshop::charge_permit::ChargePermit;
use celltriage_workshop::fault::NoTrace;

/// Returns the error of such a fault, with hints for the place where the person answers it.
pub(super) fn of(fault: Fault, said_in: SaidIn) -> Error {
    let text = fault.to_string();
    match fault {
        Fault::Plan(
            PlanError::FloorTooLow { .. } | PlanError::FloorNotTold { .. } | PlanError::NoPhosphate { .. },
        ) => Error::input(text).hint(
            "compare `chemistry`, `charge_limit_v` and `end_of_discharge_v` with the cell's label or its maker's data sheet",
        ),
        Fault::Plan(PlanError::TooSmall { .. } | PlanError::TooLarge { .. }) => {
            Error::input(text).hint("test it by other means, or send it for recycling untested")
        }
        Fault::AdapterContact { .. } => Error::new(Kind::Measurement, text)
            .hint("clean pins and contacts, put the adapter on again, and call again; where the clips reach the tabs, use them"),
        Fault::NotLookedFor { open, .. } => Error::input(text).hint(look(said_in, &open)),
        Fault::FixtureBusy => Error::new(Kind::Measurement, text)
            .hint("wait for it to end, or unplug the fixture: it drops the load by itself"),
        Fault::TripLatched { .. } => Error::new(Kind::Measurement, text).hint(match said_in {
            SaidIn::Options => "look at the cell and the leads; then call again with --acknowledge-trip",
            SaidIn::BatchFile => {
                "look at the cell and the leads; then `celltriage fixture acknowledge --port PORT`, and begin again"
            }
        }),
        Fault::FixtureStopped { .. } => Error::new(Kind::Measurement, text)
            .hint("find out why, calibrate, and measure the check standard again; or use another fixture")
            .hint(match said_in {
                SaidIn::Options => {
                    "to assess anyway, give a reason with --despite-stop; it is recorded with the decision"
                }
                SaidIn::BatchFile => {
                    "to assess anyway, write despite_stop = \"REASON\" below its [[cell]]; it is recorded with the decision"
                }
            }),
        Fault::NotToBeCharged { cell, .. } => Error::input(text)
            .hint(format!(
                "keep it apart, away from anything that burns; its whole story: celltriage book show {cell}"
            ))
            .hint("where the ground no longer holds, it is assessed again (celltriage assess), and a person judges (celltriage judge)"),
        Fault::NotToBeChargedYet { .. } | Fault::NoRestVoltage { .. } => {
            Error::new(Kind::Measurement, text).hint("check the clips where a figure is missing; `celltriage finding of CELL` has what ends what is known; then call again")
        }
        Fault::NotFull { cell, again, .. } => Error::new(Kind::Measurement, text).hint(match again {
            ChargePermit::Given => format!(
                "charge it again until the charger ends by itself; after charging: celltriage guided --id {cell} --charged"
            ),
            ChargePermit::Open { why } => {
                format!("before it is charged again ({why}): celltriage guided --id {cell}")
            }
            ChargePermit::Refused { why } => format!("{cell} is not to be charged again: {why}"),
        }),
        Fault::LabelRaised { .. } => Error::input(text)
            .hint("read the figures off the cell itself")
            .hint("where this label is right, assess the cell with it first: celltriage assess --id NAME --cell FILE"),
        Fault::ForeignFile { remedy, .. } => Error::input(text).hint(remedy),
        Fault::NoFrames { .. } => Error::input(text)
            .hint("give a CSV file in the columns of the Battery Data Format, or a recording made by celltriage"),
        Fault::Trace { why: NoTrace::ManyCells, .. } => {
            Error::input(text).hint("a file of many cells is for `grade --many`")
        }
        Fault::Trace { why: NoTrace::OtherColumns, file, .. } => Error::input(text)
            .hint(format!("to see how the columns of another program's file would be read: celltriage columns {}", file.display())),
        Fault::Mapped { file, .. } => Error::input(text)
            .hint(format!("to see what the columns give: celltriage columns {} --columns FILE", file.display())),
        Fault::NotConfirmed { file } => Error::input(text).hint(format!(
            "look at what they give, then confirm it: celltriage columns {} --columns FILE --by NAME",
            file.display()
        )),
        Fault::ManyUnreadable { begun: true, .. } => {
            Error::input(text).hint("the cells read so far were graded")
        }
        Fault::NoCellColumn { .. } => Error::input(text)
            .hint("name the column that tells the cells apart `Cell ID`; without it, grade one cell a file"),
        _ => Error::input(text),
    }
}

/// Says how to report what was looked for.
fn look(said_in: SaidIn, open: &[Sign]) -> String {
    let names: Vec<&str> = open.iter().copied().map(Sign::key).collect();
    match said_in {
        SaidIn::Options => format!(
            "look, then answer with --sign NAME=no or --sign NAME=yes (the names: {}); --no-signs answers no to all \
             signs",
            names.join(", ")
        ),
        SaidIn::BatchFile => {
            "look, then write below its [[cell]] no_signs = true, or observations = \"FILE\" with what was seen"
                .to_owned()
        }
    }
}
