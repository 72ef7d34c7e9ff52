//! `container`: open, fill, empty, weigh, watch, show; each a signed event in the book.

mod arguments;
mod page;

pub use arguments::{ContainerAction, ContainerArguments};

use crate::desk::{Desk, Who, grams, kilograms, litres, watt_hours};
use crate::error::{EXIT_DONE, Error};
use crate::io::Io;
use celltriage_custody::event::*;
use celltriage_custody::refusal::Refusal;
use celltriage_custody::state::State;
use celltriage_custody::units::Milligrams;
use celltriage_rules::PlaceCode;
use jiff::ToSpan;

/// Length of a watch in days where none is given. No authority's number was found; the emergency guide 147 (ERG 2024)
/// tells of cells that flare up again after weeks, so four weeks is our choice, and on the long side.
const USUAL_WATCH_DAYS: i64 = 28;

/// Runs `container`.
///
/// # Errors
/// Input and book errors, each with what to do.
pub fn run(arguments: &ContainerArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    use ContainerAction as Do;
    let reads = matches!(arguments.action, Do::List { .. } | Do::Show { .. } | Do::Label { .. });
    let mut desk = Desk::open(&arguments.desk, !reads, io)?;
    match &arguments.action {
        Do::Open {
            name,
            kind,
            place,
            stands,
            tare_kg,
            most_cells,
            most_kg,
            most_wh,
            volume_l,
            one_chemistry,
            who,
        } => {
            let place: PlaceCode = place.parse().map_err(|error| Error::input(format!("{error}")))?;
            let event = Event::ContainerOpened(ContainerOpened {
                container: name.clone(),
                kind: *kind,
                place,
                stands: stands.clone(),
                tare: kilograms(*tare_kg)?,
                most_cells: *most_cells,
                most_mass: kilograms(*most_kg)?,
                most_energy: watt_hours(*most_wh)?,
                one_chemistry: *one_chemistry,
                volume: litres(*volume_l)?,
            });
            write(&mut desk, who, event, io)?;
        }
        Do::Place { name, cell, inner, mass_g, who } => {
            let weighed = grams(*mass_g)?.or(ask_for_mass(&desk, cell, io)?);
            let (cell, container, inner) = (cell.clone(), name.clone(), inner.clone());
            let state = write(
                &mut desk,
                who,
                Event::CellPlaced(CellPlaced { cell: cell.clone(), container, inner, weighed }),
                io,
            )?;
            if let Some(held) = state.cells.get(&cell).filter(|held| held.known_mass().is_none()) {
                io.note(&format!(
                    "note: the mass of cell {cell} is not known, so it counts as {}; weigh it: celltriage container weigh {cell}",
                    held.mass()
                ));
            }
            page::tell_passed(&desk, &state, name, io);
        }
        Do::TakeOut { cell, because, who } => {
            let event = Event::CellTakenOut(CellTakenOut { cell: cell.clone(), because: because.clone() });
            write(&mut desk, who, event, io)?;
        }
        Do::Weigh { cell, mass_g, who } => {
            let mass = grams(Some(*mass_g))?.unwrap_or_default();
            write(&mut desk, who, Event::CellWeighed(CellWeighed { cell: cell.clone(), mass }), io)?;
        }
        Do::Hold { cell, because, stands, until, every_days, who } => {
            let hold = Hold {
                cell: cell.clone(),
                because: because.clone(),
                stands: stands.clone(),
                // From the day on which it is written down, also where it is said to have begun before.
                until: until.unwrap_or_else(|| desk.today.saturating_add(USUAL_WATCH_DAYS.days())),
                every_days: *every_days,
            };
            let state = write(&mut desk, who, Event::Hold(hold), io)?;
            if state
                .cells
                .get(cell)
                .and_then(|held| held.watch.as_ref())
                .is_some_and(|watch| watch.ends.is_in_doubt())
            {
                io.note("note: entries before this one have later times, so some clock stood wrong: of the time until the end of this watch only that counts in which something is written at least once a day");
            }
        }
        Do::Inspect { cell, look, temperature_c, air_c, note, who } => {
            if *look == Look::Active {
                desk.emergency(desk.place_of(cell).as_ref(), io);
            }
            let inspection = Inspection {
                cell: cell.clone(),
                temperature_c: *temperature_c,
                air_c: *air_c,
                look: *look,
                note: note.clone(),
            };
            // Whoever sees a cell react has no time to begin a watch first: it is written down as what it is.
            desk.write(who, io, |state, _| {
                let watched = state.cells.get(cell).is_some_and(|known| known.watch.is_some());
                Ok(if *look == Look::Active && !watched {
                    let because = note.clone().unwrap_or_else(|| "found reacting at a look".to_owned());
                    Event::Escalation(Escalation { cell: cell.clone(), because })
                } else {
                    Event::Inspection(inspection.clone())
                })
            })?;
        }
        Do::Release { cell, because, who } => {
            let event = Event::Release(Release { cell: cell.clone(), because: because.clone() });
            write(&mut desk, who, event, io)?;
            io.note("note: have the cell judged before it goes on: celltriage judge");
        }
        Do::Escalate { cell, because, who } => {
            desk.emergency(desk.place_of(cell).as_ref(), io);
            let event = Event::Escalation(Escalation { cell: cell.clone(), because: because.clone() });
            write(&mut desk, who, event, io)?;
        }
        Do::Correct { entry, because, strike, who } => {
            if desk.book().entry(*entry)?.is_none() {
                return Err(Refusal::NoSuchEntry(*entry).into());
            }
            desk.write(who, io, |state, _| {
                let (of, subject) =
                    state.entries.get(entry).cloned().ok_or_else(|| Refusal::NotCorrectable {
                        entry: *entry,
                        why: "it is no event of a cell's custody".to_owned(),
                    })?;
                let because = because.clone();
                Ok(Event::Correction(Correction { entry: *entry, of, subject, because, strike: *strike }))
            })?;
        }
        Do::List { json } => page::list(&desk.state()?, *json, io)?,
        Do::Show { name, json } => page::show(&desk, name, *json, io)?,
        Do::Label { name, html } => page::label(&desk, name, *html, io)?,
    }
    Ok(EXIT_DONE)
}

fn write(desk: &mut Desk, who: &Who, event: Event, io: &mut Io<'_>) -> Result<State, Error> {
    desk.write(who, io, |_, _| Ok(event.clone()))
}

/// Asks for a mass that stands neither on the label nor in the book, where somebody is there to answer.
fn ask_for_mass(desk: &Desk, cell: &str, io: &mut Io<'_>) -> Result<Option<Milligrams>, Error> {
    let state = desk.state()?;
    let unknown = state.cells.get(cell).is_some_and(|found| found.known_mass().is_none());
    let Some(ask) = io.ask.as_mut().filter(|_| unknown) else { return Ok(None) };
    let line =
        ask(&format!("Mass of cell {cell} in g, as weighed [empty = not weighed] ")).unwrap_or_default();
    match line.trim() {
        "" => Ok(None),
        text => match text.replace(',', ".").parse::<f64>() {
            Ok(figure) => grams(Some(figure)),
            Err(_) => Err(Error::input(format!("\"{text}\" is no mass in g; nothing was written"))),
        },
    }
}
