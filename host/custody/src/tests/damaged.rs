//! What was found says that a cell is damaged, whatever a person judges later: until it is struck, or ended by the rule of its kind.

use super::*;
use celltriage_verdict::KNOWN_TABLE;

const CELL: &str = "PE-1";

fn judged(world: &mut World, state: LegalState) -> Result<(), Refusal> {
    let judged = world.judgement(CELL, state);
    world.attempt(judged)
}

fn strike_judgement(entry: u32) -> Event {
    Event::Correction(Correction {
        entry,
        of: "judgement".to_owned(),
        subject: CELL.to_owned(),
        because: "the dent was of the bag".to_owned(),
        strike: true,
    })
}

#[test]
fn intact_waste_is_barred_as_the_table_says() {
    for row in KNOWN_TABLE {
        let mut world = World::new();
        world.assess_with(CELL, Fate::Undecided, CellState::Intact, |facts| {
            facts.found = vec![found(1, row.found)];
        });
        let refused = judged(&mut world, LegalState::IntactWaste);
        let barred = matches!(refused, Err(Refusal::CountsAsDamaged { .. } | Refusal::StillCritical { .. }));
        assert_eq!(barred, row.bars.intact_waste, "{row:?}: {refused:?}");
        let proposed = world.state.cells[CELL].proposal();
        assert_eq!(proposed.counts_as_damaged(), row.bars.intact_waste, "{row:?}: {proposed}");
    }
}

/// What was found at another bench comes in behind a judgement that did not know of it.
#[test]
fn a_box_for_intact_waste_takes_nothing_of_which_something_stands_that_says_damaged() {
    for row in KNOWN_TABLE {
        let mut world = World::new();
        world.intact(CELL);
        world.state.cells.get_mut(CELL).unwrap().found = vec![found(1, row.found)];
        world.open("B-1", ContainerKind::Intact, "US");
        world.open("D-1", ContainerKind::Damaged, "US");
        let into_intact = world.attempt(placed("B-1", CELL, None));
        assert_eq!(into_intact.is_err(), row.bars.intact_waste, "{row:?}: {into_intact:?}");
        if let Err(refusal) = into_intact {
            let told = refusal.to_string();
            assert!(told.contains("since this stands") && told.contains("(entry 1)"), "{told}");
            assert!(!world.state.cells[CELL].is_for_reuse());
            world.must(placed("D-1", CELL, Some("bag 1")));
        }
    }
}

#[test]
fn a_milder_judgement_ends_no_judgement_that_a_person_has_not_struck() {
    let mut world = World::new();
    world.assess(CELL, Fate::Reuse, CellState::Intact);
    judged(&mut world, LegalState::DamagedOrDefective).unwrap();
    for milder in [LegalState::IntactWaste, LegalState::NotWaste] {
        let refused = judged(&mut world, milder);
        let names = |found: &str| found.contains("entry 2") && found.contains("Ines Harrow");
        match refused {
            Err(Refusal::CountsAsDamaged { found, ends, .. }) => {
                assert!(names(&found) && ends.contains("striking"))
            }
            Err(Refusal::KnownBefore { found, .. }) => assert!(names(&found)),
            other => panic!("{other:?}"),
        }
    }
    judged(&mut world, LegalState::DamagedOrDefective).unwrap();
    // Each of them says so by itself.
    world.must(strike_judgement(2));
    assert!(judged(&mut world, LegalState::IntactWaste).is_err());
    world.must(strike_judgement(3));
    judged(&mut world, LegalState::IntactWaste).unwrap();
    world.open("B-1", ContainerKind::Intact, "US");
    world.must(placed("B-1", CELL, None));
}
