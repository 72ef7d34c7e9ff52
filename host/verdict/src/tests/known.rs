//! What was found before, row by row: a sound cell is never `reuse` while it stands, but for what the very test ends.

use super::*;
use jiff::civil::date;

fn found(kind: KnownKind) -> KnownFinding {
    KnownFinding {
        entry: 3,
        on: date(2026, 11, 25),
        told: Told::Assessment,
        kind,
        what: kind.row().words.to_owned(),
        by: None,
        condition: CellState::Unknown,
        hazard: None,
        settled_by: None,
        released_by: None,
    }
}

fn verdict(kind: KnownKind, run: &RunOutcome, observations: &Observations) -> Verdict {
    let (nameplate, estimates) = (nameplate(), estimates(&[]));
    let evidence = Evidence {
        nameplate: &nameplate,
        observations,
        estimates: &estimates,
        run,
        known: &[found(kind)],
        contradictions: &[],
        labels_of_model: &[],
        lifetime: None,
        from_file: false,
    };
    decide(policy(), &evidence)
}

#[test]
fn a_finding_of_each_row_keeps_a_sound_cell_from_reuse() {
    for row in KNOWN_TABLE {
        let told = verdict(row.found, &RunOutcome::Complete, &Observations::no_signs());
        let ended = matches!(row.release, Release::FinishedTest | Release::Screening);
        let wanted = if ended { Fate::Reuse } else { Fate::Quarantine };
        assert_eq!(told.fate, wanted, "{row:?}");
        assert_eq!(told.reasons.iter().any(|one| one.criterion == KNOWN_BEFORE), !ended, "{row:?}");
    }
}

#[test]
fn what_a_test_may_end_is_open_and_no_failure_until_one_has_ended_it() {
    let unfinished = RunOutcome::Unfinished { why: "stopped by a person".to_owned() };
    let nobody_looked = Observations::default();
    // A test that breaks off keeps the cell apart by itself.
    for (kind, run, looks, fate) in [
        (KnownKind::UnfinishedTest, &unfinished, &Observations::no_signs(), Fate::Quarantine),
        (KnownKind::Incident, &unfinished, &Observations::no_signs(), Fate::Quarantine),
        (KnownKind::Incident, &RunOutcome::Complete, &nobody_looked, Fate::Undecided),
    ] {
        let told = verdict(kind, run, looks);
        let reason = told.reasons.iter().find(|one| one.criterion == KNOWN_BEFORE).unwrap();
        assert_eq!((reason.finding, told.fate), (Finding::Inconclusive, fate), "{kind:?}");
        let told_how = told.next_steps.iter().any(|step| step.contains("comes to its end"));
        assert_eq!(told_how, fate == Fate::Undecided, "{:?}", told.next_steps);
    }
}
