//! The adapter before a run: the fixture is told of it, and small currents try its contacts.

use crate::event::{Attendant, WorkEvent};
use crate::fault::{Fault, Result};
use celltriage_instrument::adapter_check::check;
use celltriage_instrument::readings::ReadingEvent;
use celltriage_link::Client;
use celltriage_measure::plan::Planned;
use celltriage_protocol::fitted::Adapter;
use celltriage_protocol::label::CellPlan;
use celltriage_protocol::limits;
use celltriage_protocol::plan::Permit;
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;

/// What came of it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Told {
    /// The adapter that the fixture knows now, for the recording.
    pub adapter: Option<Adapter>,
    /// What is to be noted of the run.
    pub notes: Vec<String>,
}

/// Tells the fixture which adapter is on, or that none is where an earlier one would hold the plan down; then tries the
/// contacts, if the plan loads the cell through an adapter.
pub(crate) fn fit(client: &mut Client<'_>, planned: &Planned, attendant: &mut Attendant<'_>) -> Result<Told> {
    let knows = client.description().is_some_and(|description| description.abilities.adapter);
    let Some(adapter) = planned.adapter else {
        let largest = planned.plan.steps.iter().map(|step| step.action.current()).max();
        if knows && largest.is_some_and(|current| current > limits::LARGEST_ADAPTER_PULSE) {
            take_off(client)?;
        }
        return Ok(Told::default());
    };
    let mut told = Told::default();
    if knows {
        client.ask(&Request::FitAdapter(adapter))?;
        told.adapter = Some(adapter);
    } else {
        told.notes.push(
            "the fixture's program knows no adapter: only this plan kept its currents below what the adapter bears"
                .to_owned(),
        );
    }
    if planned.plan.permit == Permit::WatchOnly {
        return Ok(told);
    }
    let follows = CellPlan { label: planned.label, plan: planned.plan.clone() };
    match check(client, &follows, &mut Quiet(attendant))? {
        Ok(seen) => told.notes.push(format!(
            "contacts of the adapter tried before: {:.0} mOhm at 0.1 A, {:.0} mOhm at 0.5 A",
            seen.first_ohm * 1e3,
            seen.second_ohm * 1e3
        )),
        Err(what) => return Err(Fault::AdapterContact { what }),
    }
    Ok(told)
}

fn take_off(client: &mut Client<'_>) -> Result<()> {
    if let Reply::Adapter(before) = client.ask(&Request::ReadAdapter)?
        && before.id != 0
    {
        client.ask(&Request::FitAdapter(Adapter::NONE))?;
    }
    Ok(())
}

/// Shows nothing of the check but what is odd about the link; a wish to stop is passed on.
struct Quiet<'a, 'b>(&'a mut Attendant<'b>);

impl celltriage_link::Attendant<ReadingEvent> for Quiet<'_, '_> {
    fn sees(&mut self, event: &ReadingEvent) {
        if let ReadingEvent::Remark(text) = event {
            self.0.sees(&WorkEvent::Run(celltriage_link::RunEvent::Remark(text.clone())));
        }
    }

    fn stop_wanted(&self) -> bool {
        self.0.stop_wanted()
    }
}
