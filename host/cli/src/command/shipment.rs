//! `shipment`: draft papers, agreement, hand-over; and the test record of a used cell.

mod arguments;

pub use arguments::{Form, ShipmentAction, ShipmentArguments};

use super::say_json;
use crate::desk::{Desk, Signing, kilograms, line};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::paper::{Files, pdf_can_be_made};
use celltriage_custody::Scope;
use celltriage_custody::draft::Request;
use celltriage_custody::event::{FollowUp, HandedOver, ReceiverAgreed, ShipmentWithdrawn};
use celltriage_custody::state::{Progress, Shipment, State};
use celltriage_custody::used::RecallCheck;
use celltriage_document::document::Document;
use celltriage_document::form::html;
use celltriage_report::custody_lists::shipments_page;
use celltriage_report::draft_paper::{DRAFT, draft_paper};
use celltriage_report::used_paper::used_paper;
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::shipments::ShipmentView;
use celltriage_workshop::used_records::{ForUse, RecordMade};
use jiff::civil::Date;
use serde_json::{Value, json};

/// Runs `shipment`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &ShipmentArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    use ShipmentAction as Do;
    let reads = matches!(arguments.action, Do::List { .. } | Do::Show { .. });
    if let Do::Draft { form, .. } | Do::Show { form, .. } | Do::UsedRecord { form, .. } = &arguments.action
        && form.pdf.is_some()
    {
        pdf_can_be_made()?;
    }
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::open(&arguments.desk, !reads, &clock, io)?;
    match &arguments.action {
        Do::Draft { name, containers, mode, purpose, receiver, gross_kg, planned_on, form, who } => {
            let request = Request {
                shipment: name.clone(),
                container: containers.first().cloned().unwrap_or_default(),
                more: containers.iter().skip(1).cloned().collect(),
                mode: *mode,
                purpose: *purpose,
                receiver: receiver.clone(),
                planned_on: planned_on.or(who.on).unwrap_or_else(|| desk.shop.today()),
                gross: kilograms(Some(*gross_kg))?.unwrap_or_default(),
            };
            let signer = desk.signer(who, io)?;
            let entered = desk.shop.draft_shipment(&signer, &desk.rules, &request)?;
            io.note(&line(&entered));
            desk.tell_written(&entered, io);
            papers(&ShipmentView::of(&entered.state, name)?, form, io)?;
        }
        Do::Agree { name, reference, who } => {
            let agreed = ReceiverAgreed { shipment: name.clone(), reference: reference.clone() };
            let signer = desk.signs(who, io)?;
            let entered = desk.shop.receiver_agrees(&signer, &desk.rules, agreed)?;
            desk.tell(&entered, io);
        }
        Do::Withdraw { name, because, who } => {
            let withdrawn = ShipmentWithdrawn { shipment: name.clone(), because: because.clone() };
            let signer = desk.signs(who, io)?;
            let entered = desk.shop.withdraw(&signer, &desk.rules, withdrawn)?;
            desk.tell(&entered, io);
        }
        Do::HandOver { name, document, received_by, checked_by, training, waste_code, as_it_was, who } => {
            let handed = HandedOver {
                shipment: name.clone(),
                document: document.clone(),
                received_by: received_by.clone(),
                checked_by: checked_by.clone(),
                training: training.clone(),
                waste_code: waste_code.clone(),
            };
            let signer = desk.signs(who, io)?;
            let happened = Happened::HandedOver(handed.clone());
            let entered = as_it_was.enter(&mut desk, &signer, &happened, |desk| {
                desk.shop.hand_over(&signer, &desk.rules, &handed)
            })?;
            desk.tell(&entered, io);
        }
        Do::Receipt { name, reference, net_kg, who } => {
            let net = kilograms(*net_kg)?;
            let after = FollowUp::Receipt { reference: reference.clone(), net };
            follow_up(&mut desk, name, &after, who, io)?;
        }
        Do::Certificate { name, number, issued_by, who } => {
            let after = FollowUp::Certificate { number: number.clone(), issued_by: issued_by.clone() };
            follow_up(&mut desk, name, &after, who, io)?;
        }
        Do::Refused { name, cells, refused_by, because, who } => {
            let (refused_by, because, cells) = (refused_by.clone(), because.clone(), cells.clone());
            follow_up(&mut desk, name, &FollowUp::Refused { refused_by, because, cells }, who, io)?;
        }
        Do::Settled { name, because, who } => {
            follow_up(&mut desk, name, &FollowUp::Settled { because: because.clone() }, who, io)?;
        }
        Do::List { json } => list(&desk.shop.state(Scope::AllShipments)?, *json, io)?,
        Do::Show { name, form } => papers(&desk.shop.shipment(name)?, form, io)?,
        Do::UsedRecord { .. } => used_record(&mut desk, &arguments.action, io)?,
    }
    Ok(EXIT_DONE)
}

fn follow_up(
    desk: &mut Desk<'_>,
    name: &str,
    after: &FollowUp,
    who: &Signing,
    io: &mut Io<'_>,
) -> Result<(), Error> {
    let signer = desk.signs(who, io)?;
    let entered = desk.shop.follow_up(&signer, &desk.rules, name, after)?;
    desk.tell(&entered, io);
    let weighed = entered.state.shipments.get(name).and_then(Shipment::weighed_words);
    if let (FollowUp::Receipt { net: Some(_), .. }, Some(weighed)) = (after, weighed) {
        io.note(&format!("weight: {weighed}"));
    }
    Ok(())
}

fn papers(view: &ShipmentView, form: &Form, io: &mut Io<'_>) -> Result<(), Error> {
    if form.json {
        return say_json(&shipment_json(view), io);
    }
    print(&draft_paper(&view.shipment, view.simulated), view.shipment.draft.planned_on, form, io)
}

/// Prints a paper of a day in the form that is asked for.
fn print(paper: &Document, day: Date, form: &Form, io: &mut Io<'_>) -> Result<(), Error> {
    let files = Files { pdf: form.pdf.as_deref(), html: None };
    if form.html {
        io.say(&html::page(paper));
    } else if files.write(paper, day, io)?.is_empty() {
        io.show(paper);
    }
    Ok(())
}

fn shipment_json(view: &ShipmentView) -> Value {
    let ShipmentView { shipment, simulated } = view;
    let (stage, on) = match shipment.progress {
        Progress::Drafted => ("drafted", None),
        Progress::Withdrawn => ("withdrawn", None),
        Progress::HandedOver { on } => ("handed_over", Some(on)),
    };
    json!({
        "schema": "celltriage.shipment/1", "notice": DRAFT, "stage": stage,
        "simulated": simulated, "drafted_on": shipment.drafted_on,
        "drafted_by": shipment.drafted_by, "draft": shipment.draft,
        "receiver_agreed": shipment.agreed.as_ref().map(|(day, reference)| json!({ "on": day, "reference": reference })),
        "handed_over_on": on, "handed_over": shipment.handed_over,
        "followed": shipment.followed.iter().map(|(entry, on, what)| json!({ "entry": entry, "on": on, "what": what }))
            .collect::<Vec<_>>(),
        "weight": shipment.weighed_words(), "refused": shipment.refused,
        "returned": shipment.returned.iter().map(|(cell, on)| json!({ "cell": cell, "on": on })).collect::<Vec<_>>(),
    })
}

fn list(state: &State, as_json: bool, io: &mut Io<'_>) -> Result<(), Error> {
    if as_json {
        let row = |(name, shipment): (&String, &Shipment)| json!({ "shipment": name, "stands": shipment });
        let rows: Vec<_> = state.shipments.iter().map(row).collect();
        return say_json(&json!({ "schema": "celltriage.shipments/1", "shipments": rows }), io);
    }
    if state.shipments.is_empty() {
        io.note("no shipments");
    } else {
        io.show(&shipments_page(state));
    }
    Ok(())
}

fn used_record(desk: &mut Desk<'_>, action: &ShipmentAction, io: &mut Io<'_>) -> Result<(), Error> {
    let ShipmentAction::UsedRecord {
        cell,
        item,
        production_year,
        company,
        address,
        recall_checked_on,
        recall_looked_in,
        recall_listed,
        contract,
        form,
        who,
    } = action
    else {
        return Ok(());
    };
    let tested = desk.shop.tested(cell)?;
    let given = ForUse {
        item: item.clone(),
        production_year: *production_year,
        company: company.clone(),
        address: address.clone(),
        recall: recall(*recall_checked_on, recall_looked_in.as_deref(), *recall_listed, io)?,
        contract: contract.clone(),
    };
    let signer = desk.signer(who, io)?;
    let made = desk.shop.make_used_record(&signer, &desk.rules, &tested, given)?;
    io.note(&line(&made.entered));
    desk.tell_written(&made.entered, io);
    let RecordMade { record, on, needed, .. } = made;
    if form.json {
        return say_json(
            &json!({ "schema": "celltriage.used/1", "record": record, "made_by": who.by, "needed": needed }),
            io,
        );
    }
    print(&used_paper(&record, &who.by, on, &needed), on, form, io)
}

/// Returns what came out of looking in recall lists; asks for what was not told, where somebody is there to answer.
fn recall(
    on: Option<Date>,
    looked_in: Option<&str>,
    listed: bool,
    io: &mut Io<'_>,
) -> Result<RecallCheck, Error> {
    let open = || {
        Error::input("nobody has told on which day the cell was looked up in recall lists, and in which; nothing was written")
            .hint("look it up, then give --recall-checked-on DATE and --recall-looked-in TEXT")
    };
    if let (Some(on), Some(looked_in)) = (on, looked_in) {
        return Ok(RecallCheck { on, looked_in: looked_in.to_owned(), listed });
    }
    let Some(ask) = io.ask.as_mut() else { return Err(open()) };
    let mut asked =
        |question: &str| ask(question).map(|line| line.trim().to_owned()).filter(|line| !line.is_empty());
    let on = match on {
        Some(on) => on,
        None => {
            let line =
                asked("On which day was it looked up in recall lists? [as 2026-11-25, empty = not yet] ");
            line.ok_or_else(open)?.parse().map_err(|_| open())?
        }
    };
    let looked_in = match looked_in {
        Some(looked_in) => looked_in.to_owned(),
        None => asked("In which lists? ").ok_or_else(open)?,
    };
    let listed = listed
        || match asked("Is it on one of them? [y/n] ").as_deref() {
            Some("y" | "yes") => true,
            Some("n" | "no") => false,
            _ => return Err(open()),
        };
    Ok(RecallCheck { on, looked_in, listed })
}
