//! Checks of what is judged, seen and weighed of one cell.

use super::receiving::may_be_discarded;
use crate::cell::{Cell, Watch};
use crate::checklist::{answered, mildest};
use crate::circumstances::Circumstances;
use crate::event::{CellWeighed, Escalation, Hold, Inspection, Judgement, Look, Release};
use crate::fit::not_damaged;
use crate::lookup::{known, may_be_new, not_before, not_later_than, one_line, present};
use crate::refusal::Refusal;
use crate::state::State;
use crate::used::UsedRecord;
use crate::watch_end::CRITICAL_WATCH_DAYS;
use celltriage_measure::observation::Answer;
use celltriage_rules::LegalState;
use celltriage_verdict::{Barred, Fate};
use jiff::civil::Date;

/// A watched cell that is warmer than the air by more than this, in K, is not as it was: the same figure as the built-in
/// policy has for warmth at rest (common practice).
pub const WARM_K: f64 = 2.0;
/// Temperatures in degC outside of which a figure is a slip of the pen.
const PLAUSIBLE_C: std::ops::RangeInclusive<f64> = -40.0..=200.0;
/// Longest time from one look at a watched cell to the next, in days: a watch without looks is none (our choice).
const RAREST_LOOK_DAYS: u32 = 31;

pub(super) fn judgement(
    state: &State,
    event: &Judgement,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Result<(), Refusal> {
    let no = |text: String| Err(Refusal::BadJudgement(text));
    let cell = present(state, &event.cell)?;
    let Some((looked, looked_on)) = cell.to_be_judged() else {
        return Err(Refusal::UnknownCell(event.cell.clone()));
    };
    one_line("qualification", &event.qualification)?;
    event.because.iter().try_for_each(|text| one_line("reason", text))?;
    event.device.iter().try_for_each(|text| one_line("device", text))?;
    event.photo.iter().try_for_each(|text| one_line("place of the photograph", text))?;
    event.removed_on.map_or(Ok(()), |day| not_later_than(day, on, "later than the judgement"))?;
    let what =
        if cell.facts.is_some() { "the assessment that is judged" } else { "the receipt that is judged" };
    not_before(on, looked_on, what)?;
    if event.assessment != looked || event.proposed < cell.proposal() {
        let how = if cell.facts.is_some() { "assessed" } else { "looked at" };
        return no(format!("cell {} was {how} again meanwhile; look at entry {looked}", event.cell));
    }
    if event.state == LegalState::Unknown {
        return no(
            "unknown is what the cell is without a judgement; judge what it is, or leave it".to_owned()
        );
    }
    if event.state < LegalState::Critical
        && let Some(acute) = cell.acute()
        && let Err(why) = watched_since(cell, on)
    {
        return Err(Refusal::StillCritical { cell: event.cell.clone(), found: acute.short(), why });
    }
    if event.state == LegalState::NotWaste {
        nothing_known(&event.cell, cell, |bars| bars.not_waste)?;
        if let Some(screening) = cell.to_screen() {
            return no(format!(
                "cell {} {}; what was assessed before says nothing of it now: assess it again",
                event.cell, screening.because
            ));
        }
    }
    let floor = mildest(&event.answers);
    if event.state < floor {
        let (found, open) =
            (answered(&event.answers, Answer::Yes), answered(&event.answers, Answer::NotObserved));
        let (why, which) = if found.is_empty() { ("not answered", open) } else { ("answered yes", found) };
        return no(format!(
            "the state \"{}\" does not fit what was {why}: {}",
            event.state,
            which.join(", ")
        ));
    }
    if event.state < event.proposed && event.because.is_none() {
        return Err(Refusal::Milder { state: event.state, proposed: event.proposed });
    }
    let mild = !event.state.counts_as_damaged();
    if let (true, Some(watch)) = (mild, &cell.watch) {
        let because = watch.hold.because.clone();
        return Err(Refusal::UnderWatch { cell: event.cell.clone(), since: watch.since, because });
    }
    if mild {
        not_damaged(&event.cell, cell)?;
    }
    if event.state == LegalState::NotWaste {
        may_serve(&event.cell, cell)?;
    }
    // A cell that is only kept apart as damaged is not discarded.
    if event.state == LegalState::IntactWaste || event.decided_on.is_some() {
        may_be_discarded(&event.cell, cell)?;
    }
    match (event.state, event.decided_on) {
        (LegalState::NotWaste, Some(_)) => no("a cell that is not waste has no day of discarding".to_owned()),
        (LegalState::IntactWaste, None) => {
            no("the day on which it was decided to discard it is missing".to_owned())
        }
        (_, Some(day)) => not_later_than(day, circumstances.today, "later than today"),
        (_, None) => Ok(()),
    }
}

/// Says that nothing was measured that could make a cell fit to serve, or that what was speaks against it.
fn may_serve(name: &str, cell: &Cell) -> Result<(), Refusal> {
    let why = match &cell.facts {
        None => format!("nobody has assessed {name}: without an assessment nothing is judged as not waste"),
        Some(facts) if !matches!(facts.fate, Fate::Reuse | Fate::Undecided) => format!(
            "cell {name} was graded {}; only a new assessment makes it fit to serve again",
            facts.fate
        ),
        Some(_) => return Ok(()),
    };
    Err(Refusal::BadJudgement(why))
}

/// Says what was found of a cell before, where anything was: it is not meant to serve again.
fn nothing_known(name: &str, cell: &Cell, barred: impl Fn(Barred) -> bool) -> Result<(), Refusal> {
    match cell.barred(barred) {
        Some(found) => Err(Refusal::KnownBefore { cell: name.to_owned(), found: found.words() }),
        None => Ok(()),
    }
}

/// Says why a cell that was found critical is still to be judged so; `Ok` if a watch has run its days since, and
/// its last look on its last day or later was a cool and unchanged one.
fn watched_since(cell: &Cell, on: Date) -> Result<(), String> {
    let Some(watch) = &cell.watch else { return Err("it is not under watch".to_owned()) };
    ended(watch, on)?;
    let Some(ends) = &watch.critical_ends else {
        return Err("this watch does not count for it: put it under watch again".to_owned());
    };
    let first = ends.day();
    match watch.inspections.iter().any(|(_, day, _)| *day >= first && *day <= on) {
        true => Ok(()),
        false => Err(format!(
            "nobody has looked at it on {first} or later, {CRITICAL_WATCH_DAYS} days after it was found so and under watch"
        )),
    }
}

pub(super) fn weighed(state: &State, event: &CellWeighed) -> Result<(), Refusal> {
    present(state, &event.cell)?;
    if event.mass.0 == 0 {
        Err(Refusal::BadNumber("a cell has a mass above zero".to_owned()))
    } else {
        Ok(())
    }
}

pub(super) fn hold(state: &State, event: &Hold, circumstances: &Circumstances<'_>) -> Result<(), Refusal> {
    present(state, &event.cell)?;
    one_line("reason", &event.because)?;
    one_line("place where it lies", &event.stands)?;
    // Of today, whatever day it is said to have begun on: a watch that nobody wrote down was none.
    not_before(event.until, circumstances.today, "the day on which the watch is written down")?;
    if !(1..=RAREST_LOOK_DAYS).contains(&event.every_days) {
        let text = format!(
            "a watched cell is looked at every 1 to {RAREST_LOOK_DAYS} days, not {}",
            event.every_days
        );
        return Err(Refusal::BadNumber(text));
    }
    Ok(())
}

pub(super) fn inspection(state: &State, event: &Inspection, on: Date) -> Result<(), Refusal> {
    let cell = present(state, &event.cell)?;
    let Some(watch) = &cell.watch else { return Err(Refusal::NotUnderWatch(event.cell.clone())) };
    not_before(on, watch.since, "the watch began")?;
    event.note.iter().try_for_each(|text| one_line("note", text))?;
    [event.temperature_c, event.air_c].into_iter().flatten().try_for_each(plausible)
}

/// Says whether a temperature in degC may be that of a cell or of the air.
pub(super) fn plausible(celsius: f64) -> Result<(), Refusal> {
    match PLAUSIBLE_C.contains(&celsius) {
        true => Ok(()),
        false => Err(Refusal::BadNumber(format!("{celsius} degC is no temperature of a cell or of the air"))),
    }
}

/// Says why a look does not end a watch; `None` if it does.
fn still_suspicious(inspection: &Inspection) -> Option<String> {
    if inspection.look != Look::Unchanged {
        return Some("at the last look it had changed".to_owned());
    }
    let (Some(cell), Some(air)) = (inspection.temperature_c, inspection.air_c) else {
        return Some("at the last look its temperature or that of the air was not measured".to_owned());
    };
    // Not "greater than": a figure that is NaN must not pass.
    let cool = cell - air <= WARM_K;
    (!cool).then(|| {
        format!("at the last look it was {cell} degC in air of {air} degC, more than {WARM_K} K warmer")
    })
}

pub(super) fn release(state: &State, event: &Release, on: Date) -> Result<(), Refusal> {
    let cell = present(state, &event.cell)?;
    one_line("reason", &event.because)?;
    let Some(watch) = &cell.watch else { return Err(Refusal::NotUnderWatch(event.cell.clone())) };
    if cell.legal() == LegalState::Critical {
        return Err(Refusal::Critical(event.cell.clone()));
    }
    ended(watch, on).map_err(|why| Refusal::NotReleasable { cell: event.cell.clone(), why })
}

/// Says why a watch is not over on a day; `None` if it is.
fn ended(watch: &Watch, on: Date) -> Result<(), String> {
    let until = watch.ends.day();
    if on < until {
        let named = watch.hold.until;
        let why = if named == until {
            String::new()
        } else {
            format!(
                ": it names {named}, but a time in which nothing was written counts for nothing, nor does one by a wrong clock"
            )
        };
        return Err(format!("its watch runs until {until}{why}"));
    }
    match watch.inspections.iter().max_by_key(|(entry, day, _)| (*day, *entry)) {
        None => Err("nobody has looked at it".to_owned()),
        Some((_, day, _)) if *day < until => Err(format!("nobody has looked at it on {until} or later")),
        Some((_, _, last)) => still_suspicious(last).map_or(Ok(()), Err),
    }
}

pub(super) fn escalation(state: &State, event: &Escalation) -> Result<(), Refusal> {
    // A cell that the book has never seen may react as well: that is written down, and asks for no assessment first.
    may_be_new(state, &event.cell)?;
    one_line("reason", &event.because)
}

pub(super) fn used_record(state: &State, event: &UsedRecord, on: Date) -> Result<(), Refusal> {
    let no = |why: &str| Err(Refusal::NoUsedRecord { cell: event.cell.clone(), why: why.to_owned() });
    let cell = known(state, &event.cell).and_then(|_| present(state, &event.cell))?;
    for (what, text) in [
        ("name of the item", &event.item),
        ("company", &event.company),
        ("address", &event.address),
        ("recall list", &event.recall.looked_in),
    ] {
        one_line(what, text)?;
    }
    event.contract.iter().try_for_each(|text| one_line("contract", text))?;
    if cell.is_simulated() {
        return no("it is a simulated cell");
    }
    nothing_known(&event.cell, cell, |bars| bars.reuse)?;
    not_later_than(event.recall.on, on, "later than the record")?;
    if event.recall.listed {
        return no("it is on a recall list: it is defective, keep it apart and have it judged");
    }
    if let Some(screening) = cell.to_screen() {
        return no(&format!("it {}; assess it again", screening.because));
    }
    let graded = cell
        .facts
        .as_ref()
        .is_some_and(|facts| facts.fate == Fate::Reuse && facts.assessment == event.assessment);
    if !graded {
        return no("its latest assessment does not grade it for reuse");
    }
    match cell.standing_judgement() {
        Some(judged) if judged.judgement.state == LegalState::NotWaste && !cell.escalated => Ok(()),
        Some(_) => no("it was judged to be waste or damaged"),
        None => no("nobody has judged it; a person judges it as not waste first"),
    }
}
