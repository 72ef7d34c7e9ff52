//! What the book knows against a cell from before, entry by entry: it stands until a person strikes the entry or the rule of its
//! kind ends it ([`KNOWN_TABLE`](celltriage_verdict::KNOWN_TABLE)).
//!
//! Takes what one entry tells; gives [`KnownFinding`]s, plain data that a decision is handed and keeps. What an earlier
//! decision found too little against the cell (`undecided`), or found worn (`recycle`, but for a cell that once lay too deep to
//! be charged again), bars no later test; a test that broke off bars none either, but no charge is given and no use before one has
//! come to its end. The fold over the entries is [`State`](crate::State).

use crate::event::{Event, Look, Signed};
use crate::known_on_receipt::{kind_of_sign, of_receipt};
use celltriage_assessment::Assessment;
use celltriage_assessment::record::assessment_of;
use celltriage_book::Entry;
use celltriage_instrument::hot_cell::alarm::{Alarm, Cause, Level};
use celltriage_instrument::hot_cell::record::AlarmRecord;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_protocol::event::TripCause;
use celltriage_protocol::limits;
use celltriage_rules::LegalState;
use celltriage_verdict::{
    CellState, Fate, Finding, Hazard, KNOWN_BEFORE, KnownFinding, KnownKind, Reason, RunOutcome, TRIP, Told,
    trip_key,
};
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// How a line begins that tells a new run what was found before it.
pub const BEFORE: &str = "Known before:";
/// How a line begins that tells, above an entry of the book, what stands against the cell now.
pub const OF: &str = "Known of";

/// Returns the line that tells a finding about a cell.
pub fn line(beginning: &str, cell: &str, found: &KnownFinding) -> String {
    format!("{beginning} {cell}: {}", found.words())
}

/// Returns what a decision found; one that cannot be read is itself a reason to keep the cell apart.
pub fn of_assessment(entry: &Entry) -> Vec<KnownFinding> {
    match assessment_of(entry) {
        Ok(assessment) => of_read(entry, &assessment),
        Err(_) => {
            let what = "a decision that cannot be read".to_owned();
            let on = entry.at.to_zoned_datetime(TimeZone::UTC).date();
            let kind = KnownKind::Unreadable;
            vec![finding(entry.number, on, Told::Assessment, kind, what, None, CellState::Unknown, None)]
        }
    }
}

/// The same of a decision that was read already.
pub(crate) fn of_read(entry: &Entry, assessment: &Assessment) -> Vec<KnownFinding> {
    let verdict = &assessment.verdict;
    let assessor = assessment.cell.observations.assessor.clone();
    let make = |kind, what: &str, condition, hazard| {
        let (number, on) = (entry.number, assessment.conditions.date);
        finding(number, on, Told::Assessment, kind, what.to_owned(), assessor.clone(), condition, hazard)
    };
    let mut found: Vec<KnownFinding> = verdict
        .reasons
        .iter()
        .filter(|reason| is_about_the_cell(reason))
        .map(|reason| {
            let what = reason.sign.map_or(reason.title.as_str(), |sign| sign.words());
            make(
                kind_of(reason, &assessment.conditions.run),
                what,
                condition_of(reason.hazard, verdict.condition),
                reason.hazard,
            )
        })
        .collect();
    // Whatever the policy made of it.
    let told =
        |sign: Sign| verdict.reasons.iter().any(|one| one.sign == Some(sign) && is_about_the_cell(one));
    let untold: Vec<Sign> = signs_found(assessment).filter(|sign| !told(*sign)).collect();
    for sign in untold {
        let acute = if sign == Sign::ActiveNow { CellState::Critical } else { CellState::DamagedOrDefective };
        found.push(make(kind_of_sign(sign), sign.words(), acute, None));
    }
    // A decision that nothing explains: not one that only repeats what an earlier entry told.
    let explained = verdict.reasons.iter().any(|one| {
        one.finding == Finding::Fail && (one.on_fail == Fate::Quarantine || one.criterion == KNOWN_BEFORE)
    });
    let bad = verdict.fate == Fate::Quarantine || verdict.condition >= CellState::DamagedOrDefective;
    if bad && found.is_empty() && !explained {
        let statement = verdict.statement.trim_end_matches('.');
        found.push(make(KnownKind::FailedOtherwise, statement, verdict.condition, None));
    }
    // A guard that tripped for the cell has found it; for anything else nothing is known of the rest of the test.
    let tripped_for_it = matches!(assessment.conditions.run, RunOutcome::Tripped { .. }) && !found.is_empty();
    if let Some(how) = how_it_broke_off(&assessment.conditions.run).filter(|_| !tripped_for_it) {
        let what = format!("test not finished: {}", how.trim_end_matches('.'));
        found.push(make(KnownKind::UnfinishedTest, &what, CellState::Unknown, None));
    }
    found
}

/// Returns how a test broke off that had begun.
fn how_it_broke_off(run: &RunOutcome) -> Option<String> {
    match run {
        RunOutcome::Unfinished { why } => Some(why.clone()),
        RunOutcome::Tripped { cause, .. } => {
            Some(format!("the fixture's guard dropped the load ({})", cause.replace('_', " ")))
        }
        RunOutcome::Complete
        | RunOutcome::Recorded
        | RunOutcome::Settled
        | RunOutcome::NotMeasured { .. } => None,
    }
}

/// Returns whether the guard tripped for warmth before any load: a look at rest has the lower limit.
fn tripped_at_rest(run: &RunOutcome) -> bool {
    let at_rest = f64::from(limits::LARGEST_REST_RISE.get()) / 1e3;
    match run {
        RunOutcome::Tripped { cause, limit, .. } if *cause == trip_key(TripCause::TemperatureRise) => {
            *limit <= at_rest
        }
        RunOutcome::Tripped { cause, .. } => *cause == trip_key(TripCause::TemperatureHigh),
        _ => false,
    }
}

/// Returns the row of the table that a failure is.
fn kind_of(reason: &Reason, run: &RunOutcome) -> KnownKind {
    if let Some(sign) = reason.sign {
        return kind_of_sign(sign);
    }
    let of_the_run = reason.criterion.starts_with(TRIP);
    let at_rest =
        reason.quantity == Some(Quantity::RestTemperatureRise) || of_the_run && tripped_at_rest(run);
    match reason.hazard {
        Some(Hazard::Swollen) => KnownKind::Swollen,
        Some(Hazard::OverCharged) => KnownKind::OverCharged,
        Some(Hazard::DeeplyDischarged) => KnownKind::DischargedTooFar,
        Some(Hazard::InternalShort) => KnownKind::LosesCharge,
        Some(Hazard::Warming) if at_rest => KnownKind::WarmAtRest,
        Some(Hazard::Warming) => KnownKind::WarmUnderLoad,
        _ => KnownKind::FailedOtherwise,
    }
}

/// Returns the signs that a decision found.
pub fn signs_found(assessment: &Assessment) -> impl Iterator<Item = Sign> {
    let observed = &assessment.cell.observations;
    Sign::ALL.into_iter().filter(|sign| observed.answer(*sign) == Answer::Yes)
}

/// A failure that keeps the cell apart for what it is. How the test went (it broke off, a clip slipped, the fixture was at
/// fault) tells nothing of the cell: such a test is made again.
fn is_about_the_cell(reason: &Reason) -> bool {
    // Below the voltage at which copper dissolves it is never charged again, whatever it shows later.
    let over_discharged = reason.hazard == Some(Hazard::DeeplyDischarged) && reason.on_fail == Fate::Recycle;
    let keeps_apart =
        reason.finding == Finding::Fail && (reason.on_fail == Fate::Quarantine || over_discharged);
    let of_the_run = reason.criterion == "test_finished" || reason.criterion.starts_with(TRIP);
    let of_the_cell = match reason.hazard {
        Some(hazard) => hazard != Hazard::Fixture,
        None => !of_the_run,
    };
    keeps_apart && of_the_cell && reason.criterion != KNOWN_BEFORE
}

fn condition_of(hazard: Option<Hazard>, of_all: CellState) -> CellState {
    match hazard {
        Some(Hazard::ActiveNow) => CellState::Critical,
        Some(Hazard::CasingOpen) => CellState::CasingBreached,
        // Worn out, not broken: what it has done inside cannot be seen.
        Some(Hazard::DeeplyDischarged) => CellState::Unknown,
        // Hot or heating up is critical, warm is damage: the decision has told which.
        Some(Hazard::Warming) => of_all.max(CellState::DamagedOrDefective),
        _ => CellState::DamagedOrDefective,
    }
}

/// Reads the alarm of an entry; `None` if it cannot be read.
pub(crate) fn alarm_in(entry: &Entry) -> Option<Alarm> {
    serde_json::from_value::<AlarmRecord>(entry.inputs.clone()).ok().map(|record| record.alarm)
}

/// Returns what an alarm of the hot-cell watch tells of the cell: one that reacts is critical, a warm one damaged or defective. One
/// that cannot be read, or does not say its level, counts as reacting.
pub fn of_alarm(entry: &Entry, alarm: Option<Alarm>) -> Option<KnownFinding> {
    const WHOSE: &str = "alarm of the hot-cell watch";
    let level = alarm.map_or(Some(Level::Reacting), |alarm| alarm.level_of_cell())?;
    let what = alarm.map_or(format!("{WHOSE}: one that cannot be read"), |alarm| alarm.title_after(WHOSE));
    let condition = match level {
        Level::Reacting => CellState::Critical,
        Level::Warm => CellState::DamagedOrDefective,
    };
    let of_voltage = alarm.is_some_and(|alarm| alarm.cause == Cause::FallingVoltage);
    let kind = if of_voltage { KnownKind::VoltageAlarm } else { KnownKind::HeatAlarm };
    let on = entry.at.to_zoned_datetime(TimeZone::UTC).date();
    Some(finding(entry.number, on, Told::Alarm, kind, what, None, condition, Some(Hazard::Warming)))
}

/// Returns what an event of custody tells against the cell.
pub fn of_event(number: u32, signed: &Signed) -> Vec<KnownFinding> {
    match &signed.event {
        Event::Received(received) => of_receipt(number, signed, received),
        _ => of_one(number, signed).into_iter().collect(),
    }
}

fn of_one(number: u32, signed: &Signed) -> Option<KnownFinding> {
    let (told, kind, what, condition) = match &signed.event {
        Event::Judgement(judged) if judged.state >= LegalState::DamagedOrDefective => {
            let condition = match judged.state {
                LegalState::Critical => CellState::Critical,
                LegalState::CasingBreached => CellState::CasingBreached,
                _ => CellState::DamagedOrDefective,
            };
            (Told::Judgement, KnownKind::Judged, format!("judged {}", judged.state), condition)
        }
        Event::Hold(hold) => {
            let what = format!("under watch: {}", hold.because);
            (Told::Hold, KnownKind::UnderWatch, what, CellState::Unknown)
        }
        Event::Escalation(event) => {
            let what = format!("found critical: {}", event.because);
            (Told::Escalation, KnownKind::FoundCritical, what, CellState::Critical)
        }
        Event::Inspection(look) => match look.look {
            Look::Unchanged => return None,
            Look::Worse => {
                let what = "worse at a look under watch".to_owned();
                (Told::Look, KnownKind::Worse, what, CellState::DamagedOrDefective)
            }
            Look::Active => {
                let what = "active at a look under watch".to_owned();
                (Told::Look, KnownKind::FoundCritical, what, CellState::Critical)
            }
        },
        Event::Incident(event) if event.happened.is_damage() => {
            (Told::Incident, KnownKind::Incident, event.words(), CellState::DamagedOrDefective)
        }
        Event::LifetimeRecord(record) => {
            (Told::Incident, KnownKind::Misused, record.damage()?, CellState::DamagedOrDefective)
        }
        _ => return None,
    };
    Some(finding(number, signed.on, told, kind, what, Some(signed.by.clone()), condition, None))
}

/// Returns that a cell stays critical although the entry that told so was struck.
pub fn unjudged(number: u32, signed: &Signed, struck: u32) -> KnownFinding {
    let what = format!("critical until a person judges it again, though entry {struck} was struck");
    let by = Some(signed.by.clone());
    finding(number, signed.on, Told::Unjudged, KnownKind::Unjudged, what, by, CellState::Critical, None)
}

#[allow(clippy::too_many_arguments, reason = "one row of plain data, made in one place")]
fn finding(
    entry: u32,
    on: Date,
    told: Told,
    kind: KnownKind,
    what: String,
    by: Option<String>,
    condition: CellState,
    hazard: Option<Hazard>,
) -> KnownFinding {
    KnownFinding { entry, on, told, kind, what, by, condition, hazard, settled_by: None, released_by: None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_support::entry as new_entry;
    use celltriage_assessment::Subject;
    use celltriage_assessment::record::ASSESSMENT;
    use celltriage_assessment::test_support::example;
    use celltriage_book::Book;
    use celltriage_measure::observation::Observations;
    use celltriage_verdict::RunOutcome;
    use serde_json::json;

    fn entry(change: impl FnOnce(&mut Subject)) -> Entry {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.sqlite")).unwrap();
        book.append(new_entry(ASSESSMENT, "PE-1", serde_json::to_value(example(change)).unwrap())).unwrap()
    }

    fn found(change: impl FnOnce(&mut Subject)) -> Vec<(String, CellState)> {
        of_assessment(&entry(change)).into_iter().map(|found| (found.what, found.condition)).collect()
    }

    fn tripped(cause: &str) -> impl FnOnce(&mut Subject) {
        let (cause, unit) = (cause.to_owned(), String::new());
        move |subject| {
            subject.circumstances.run = RunOutcome::Tripped { cause, value: 1.0, limit: 0.5, unit };
        }
    }

    #[test]
    fn each_sign_is_found_with_what_it_points_to() {
        for sign in Sign::ALL {
            let told = found(|subject| subject.observations.set(sign, Answer::Yes));
            let condition = match sign {
                Sign::ActiveNow => CellState::Critical,
                Sign::CasingBreached => CellState::CasingBreached,
                _ => CellState::DamagedOrDefective,
            };
            assert_eq!(told, [(sign.words().to_owned(), condition)]);
        }
    }

    #[test]
    fn what_is_sound_worn_or_undecided_bars_nothing_and_what_broke_off_is_only_unfinished() {
        assert_eq!(found(|_| {}), []);
        assert_eq!(found(|subject| subject.observations = Observations::default()), []);
        let broken_off = RunOutcome::Unfinished { why: "stopped by a person".to_owned() };
        let unfinished = |how: &str| [(format!("test not finished: {how}"), CellState::Unknown)];
        let told = found(|subject| subject.circumstances.run = broken_off);
        assert_eq!(told, unfinished("stopped by a person"));
        for cause in ["contact_lost", "host_silent", "over_current", "conducts_when_off", "polarity"] {
            let how = format!("the fixture's guard dropped the load ({})", cause.replace('_', " "));
            assert_eq!(found(tripped(cause)), unfinished(&how), "{cause}");
        }
    }

    #[test]
    fn a_guard_that_tripped_for_the_cell_does() {
        for (cause, condition) in [
            ("over_temperature", CellState::Critical),
            ("rise_rate", CellState::Critical),
            ("temperature_rise", CellState::DamagedOrDefective),
            ("temperature_high", CellState::DamagedOrDefective),
            ("voltage_high", CellState::DamagedOrDefective),
        ] {
            assert_eq!(found(tripped(cause)), [("fixture's guard".to_owned(), condition)], "{cause}");
        }
    }

    #[test]
    fn a_decision_that_only_repeats_an_earlier_finding_is_none_of_its_own() {
        let before = of_assessment(&entry(|subject| subject.observations.set(Sign::Swollen, Answer::Yes)));
        let again = example(|subject| subject.known = before.clone());
        assert_eq!(again.verdict.fate, Fate::Quarantine);
        assert!(again.verdict.points_to(Hazard::Swollen), "its cautions are those of a swollen cell");
        assert_eq!(found(|subject| subject.known = before), []);
    }

    #[test]
    fn what_a_judgement_has_settled_is_damage_and_no_danger_of_this_moment() {
        let entry = entry(|subject| subject.observations.set(Sign::ActiveNow, Answer::Yes));
        let Some(acute) = of_assessment(&entry).pop() else { unreachable!() };
        let settled = KnownFinding { settled_by: Some(9), ..acute.clone() };
        assert!(acute.is_acute() && !settled.is_acute());
        let known = |found: &KnownFinding| {
            let verdict = example(|subject| subject.known = vec![found.clone()]).verdict;
            (verdict.fate, verdict.condition, verdict.active_now())
        };
        assert_eq!(known(&acute), (Fate::Quarantine, CellState::Critical, true));
        assert_eq!(known(&settled), (Fate::Quarantine, CellState::DamagedOrDefective, false));
    }

    #[test]
    fn what_cannot_be_read_counts_against_the_cell() {
        let mut entry = entry(|_| {});
        entry.result = json!({});
        assert_eq!(of_assessment(&entry).len(), 1);
        entry.inputs = json!({ "alarm": "?" });
        assert!(of_alarm(&entry, alarm_in(&entry)).is_some_and(|found| found.is_acute()));
    }
}
