//! `receive`: something comes in before anybody has measured it: what it is, what was seen of it, whose it is. Or, with
//! `--before-mailing`, what to say to somebody who asks before a thing is sent: nothing is written then.

use super::say_json;
use crate::choice::{CONSENTS, RECEIVED_AS, RESTS_ON, WHOSE, one_of, place_named};
use crate::clock_check::stated_day_holds;
use crate::desk::{AtDesk, Desk, DeskArguments, Who, grams, watt_hours};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use crate::spoken::yes_or_no;
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_custody::event::{Consent, Received, ReceivedAs, RestsOn, Stated, Symptom, Whose};
use celltriage_custody::mailing::{MailAdvice, before_mailing};
use celltriage_measure::observation::Sign;
use celltriage_report::mailing_page::mailing_page;
use celltriage_rules::{PlaceCode, Presents};
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::receiving::NewReceipt;
use clap::{ArgAction, Args};
use jiff::civil::Date;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Options of `receive`.
#[derive(Debug, Args)]
pub struct ReceiveArguments {
    /// The name that it is kept under, or its tag as scanned; a name that the book knows is added to or corrected, fact by fact.
    #[arg(value_parser = new_cell, required_unless_present = "before_mailing")]
    pub cell: Option<String>,
    /// Nothing is received: what to say to somebody who asks before a thing is mailed. Nothing is written.
    #[arg(long, conflicts_with_all = ["cell", "what"])]
    pub before_mailing: bool,
    /// What it is.
    #[arg(long, value_parser = one_of(&RECEIVED_AS))]
    pub what: Option<ReceivedAs>,
    /// What was seen: a sign of the checklist, as `swollen=yes`, `=no` or `=cannot-be-told`; may be given again. What nobody tells was not
    /// looked for and counts as the worst where a rule asks.
    #[arg(long = "sign", value_name = "SIGN=ANSWER")]
    pub signs: Vec<String>,
    /// Every sign was looked for and none was found.
    #[arg(long)]
    pub no_signs: bool,
    /// Whether it bears a label that can be read.
    #[arg(long, value_name = "YES|NO", action = ArgAction::Set, value_parser = yes_or_no)]
    pub labelled: Option<bool>,
    /// Who brought it; can be blanked later like other names.
    #[arg(long, value_name = "NAME")]
    pub from: Option<String>,
    /// Where it was found.
    #[arg(long, value_name = "TEXT")]
    pub found: Option<String>,
    /// Whose it is; by default nobody knows.
    #[arg(long, value_parser = one_of(&WHOSE))]
    pub whose: Option<Whose>,
    /// The name of whose it is, where that is not who brought it.
    #[arg(long, value_name = "NAME")]
    pub owner: Option<String>,
    /// Whether whose it is agrees that it is discarded; by default nobody has asked.
    #[arg(long, value_parser = one_of(&CONSENTS))]
    pub consent: Option<Consent>,
    /// A photograph of it, taken into the book: JPEG, PNG or WebP; may be given again.
    #[arg(long = "photo", value_name = "FILE")]
    pub photographs: Vec<PathBuf>,
    /// Its mass in g, of a device with the device.
    #[arg(long, value_name = "G")]
    pub mass_g: Option<f64>,
    /// What the mass rests on.
    #[arg(long, value_parser = one_of(&RESTS_ON), default_value = "estimated")]
    pub mass_is: RestsOn,
    /// The energy of its cells in Wh.
    #[arg(long, value_name = "WH")]
    pub energy_wh: Option<f64>,
    /// What the energy rests on.
    #[arg(long, value_parser = one_of(&RESTS_ON), default_value = "estimated")]
    pub energy_is: RestsOn,
    /// How many cells a lot has.
    #[arg(long, value_name = "COUNT")]
    pub count: Option<u32>,
    /// Mass in g of the heaviest cell of a lot, estimated; without it all of the lot counts as one.
    #[arg(long, value_name = "G")]
    pub heaviest_g: Option<f64>,
    /// Energy in Wh of the largest cell of a lot, estimated; without it all of the lot counts as one.
    #[arg(long, value_name = "WH")]
    pub largest_wh: Option<f64>,
    /// What else is to be said.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// Where the shop is, as ISO 3166 code, for its emergency number and its rules; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_place", long = "place", value_name = "CODE")]
    pub place: Option<String>,
    /// Name of the person who receives it and answers for it; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_person", long = "by", value_name = "NAME")]
    pub by: Option<String>,
    /// Day on which it came, as 2026-11-25; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
    /// As JSON.
    #[arg(long)]
    pub json: bool,
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
}

/// Runs `receive`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &ReceiveArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let signs = signs(arguments)?;
    let place = place_named(arguments.place.as_deref());
    let Some(cell) = &arguments.cell else {
        return advise(&signs, place?.as_ref(), arguments, io);
    };
    let urgent = signs.get(&Sign::ActiveNow) == Some(&Symptom::Yes);
    // A mistyped place keeps no report of a reacting thing back.
    let place = if urgent { place.unwrap_or_default() } else { place? };
    let who = Who::said(arguments.by.as_deref(), arguments.on, "receives it")?;
    let told = told(cell, signs, arguments)?;
    let clock = HeldClock::at(io.now);
    let mut desk = Desk::begin(&arguments.desk, &clock, io)?.told_as_json(arguments.json);
    let signer = if urgent { desk.signer_at_once(&who, io) } else { desk.signer(&who, io)? };
    let new = NewReceipt { told, photographs: arguments.photographs.clone(), place };
    let entered = desk.shop.receive(&signer, &desk.rules, &new, &mut AtDesk(io))?;
    desk.tell(&entered, io);
    if urgent {
        // Nothing stands between the emergency words and the door.
        return Ok(EXIT_DONE);
    }
    if let Some(kept) = entered.state.cells.get(cell) {
        if let Some(why) = kept.lacks_consent() {
            io.note(&format!("note: it is not discarded as it is: {why}"));
        }
        let open = kept.intake().map_or(0, |intake| {
            let told = &intake.told.signs;
            Sign::ALL.iter().filter(|sign| !told.contains_key(sign)).count()
        });
        if open > 0 && kept.facts.is_none() {
            io.note(&format!(
                "note: nobody has looked for {open} of {} signs: until then it is handled as damaged",
                Sign::ALL.len()
            ));
        }
    }
    io.note(&format!("note: next: celltriage judge {cell}, then a container for it"));
    Ok(EXIT_DONE)
}

fn told(cell: &str, signs: BTreeMap<Sign, Symptom>, arguments: &ReceiveArguments) -> Result<Received, Error> {
    let mass = grams(arguments.mass_g)?.map(|value| Stated { value, rests_on: arguments.mass_is });
    let energy =
        watt_hours(arguments.energy_wh)?.map(|value| Stated { value, rests_on: arguments.energy_is });
    let rests_on = RestsOn::Estimated;
    Ok(Received {
        is: arguments.what,
        labelled: arguments.labelled,
        from: arguments.from.clone(),
        found: arguments.found.clone(),
        signs,
        whose: arguments.whose,
        owner: arguments.owner.clone(),
        consent: arguments.consent,
        photographs: Vec::new(),
        mass,
        energy,
        count: arguments.count,
        heaviest: grams(arguments.heaviest_g)?.map(|value| Stated { value, rests_on }),
        largest: watt_hours(arguments.largest_wh)?.map(|value| Stated { value, rests_on }),
        note: arguments.note.clone(),
        ..Received::of(cell)
    })
}

/// Reads what was seen; what is told of a single sign goes before what is told of all.
fn signs(arguments: &ReceiveArguments) -> Result<BTreeMap<Sign, Symptom>, Error> {
    let all = Sign::ALL.into_iter().filter(|_| arguments.no_signs).map(|sign| (sign, Symptom::No));
    let mut signs: BTreeMap<Sign, Symptom> = all.collect();
    for given in &arguments.signs {
        let (sign, told) = sign(given)?;
        signs.insert(sign, told);
    }
    Ok(signs)
}

fn sign(given: &str) -> Result<(Sign, Symptom), Error> {
    let wrong = || {
        let known: Vec<&str> = Sign::ALL.into_iter().map(Sign::key).collect();
        Error::input(format!("\"{given}\" is no sign with an answer; nothing was written"))
            .hint(format!("write SIGN=yes, =no or =cannot-be-told; the signs: {}", known.join(", ")))
    };
    let (key, told) = given.split_once('=').ok_or_else(wrong)?;
    let sign = Sign::from_key(&key.trim().to_lowercase().replace('-', "_")).ok_or_else(wrong)?;
    let told = match told.trim().to_lowercase().replace('_', "-").as_str() {
        "yes" | "y" | "true" => Symptom::Yes,
        "no" | "n" | "false" => Symptom::No,
        "cannot-be-told" | "?" => Symptom::CannotBeTold,
        _ => return Err(wrong()),
    };
    Ok((sign, told))
}

/// Says what there is to say before a thing is mailed.
fn advise(
    signs: &BTreeMap<Sign, Symptom>,
    place: Option<&PlaceCode>,
    arguments: &ReceiveArguments,
    io: &mut Io<'_>,
) -> Result<u8, Error> {
    stated_day_holds(io)?;
    let packs = super::rules::read_packs(arguments.desk.rules.as_deref())?;
    let advice = before_mailing(signs, place, io.today(), &packs);
    if advice.presents == Presents::ActiveNow {
        io.ring();
    }
    if arguments.json {
        say_json(&advice_json(&advice, place), io)?;
    } else {
        io.show(&mailing_page(&advice, place));
    }
    Ok(EXIT_DONE)
}

fn advice_json(advice: &MailAdvice, place: Option<&PlaceCode>) -> serde_json::Value {
    json!({
        "schema": "celltriage.before-mailing/1",
        "first": celltriage_document::phrase::Phrase::MailFirst.english(),
        "place": place, "shows": advice.shows, "open": advice.open,
        "cautions": advice.cautions, "facts": advice.facts,
    })
}
