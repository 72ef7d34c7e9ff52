//! Whatever the order of commands: no damaged or unjudged cell leaves as intact, no cell is lost, no mass counts twice.
//!
//! The oracle here does not look at the state's own judgement: it keeps, from accepted events alone, the last thing that
//! was said about each cell.

use super::*;
use crate::cell::Whereabouts;
use crate::state::Progress;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

const CELLS: [&str; 4] = ["PE-1", "PE-2", "PE-3", "PE-4"];
const CONTAINERS: [(&str, ContainerKind); 5] = [
    ("IN", ContainerKind::Intact),
    ("IN-2", ContainerKind::Intact),
    ("DD", ContainerKind::Damaged),
    ("DD-2", ContainerKind::Damaged),
    ("Q", ContainerKind::Quarantine),
];

/// One command, allowed or not.
#[derive(Clone, Debug)]
enum Command {
    Assess(usize, Fate, CellState),
    Judge(usize, LegalState),
    /// Cell, container, and which of few inner packings, so that two cells meet in one.
    Place(usize, usize, Option<&'static str>),
    TakeOut(usize),
    Weigh(usize, u64),
    Hold(usize),
    Inspect(usize, Look),
    Release(usize),
    Escalate(usize),
    Fit(usize, bool),
    OutOfDevice(usize),
    Incident(usize, LifeEvent),
    Draft(usize, Mode),
    Agree(usize),
    Withdraw(usize),
    HandOver(usize),
    OwnerSays(usize, Consent),
    Strike(u32),
}

fn command() -> impl Strategy<Value = Command> {
    let cell = 0..CELLS.len();
    let container = 0..CONTAINERS.len();
    // Counted from the newest draft, so that drafts are often followed to their end.
    let shipment = prop::sample::select(vec![0usize, 0, 0, 1, 2]);
    let fate = prop::sample::select(&Fate::ALL[..]);
    let condition = prop::sample::select(&CellState::ALL[..]);
    let inner = prop::sample::select(vec![None, Some("a"), Some("b"), Some("c")]);
    let any_state = prop::sample::select(&LegalState::ALL[..]);
    // Damaged is for good, so that it is said less often.
    let (intact, damaged) = (LegalState::IntactWaste, LegalState::DamagedOrDefective);
    let usual = prop::sample::select(vec![intact, intact, damaged]);
    let look = prop::sample::select(vec![Look::Unchanged, Look::Unchanged, Look::Worse, Look::Active]);
    let happens = prop::sample::select(vec![LifeEvent::ShortCircuit, LifeEvent::Dropped]);
    let told = cell.clone();
    let mode = prop::sample::select(vec![Mode::Road, Mode::Road, Mode::Sea, Mode::Air]);
    prop_oneof![
        2 => (cell.clone(), fate, condition).prop_map(|(cell, fate, condition)| Command::Assess(cell, fate, condition)),
        2 => (cell.clone(), any_state).prop_map(|(cell, state)| Command::Judge(cell, state)),
        8 => (cell.clone(), usual).prop_map(|(cell, state)| Command::Judge(cell, state)),
        9 => (cell.clone(), container.clone(), inner)
            .prop_map(|(cell, container, inner)| Command::Place(cell, container, inner)),
        4 => cell.clone().prop_map(Command::TakeOut),
        1 => (cell.clone(), 1u64..600_000).prop_map(|(cell, mass)| Command::Weigh(cell, mass)),
        1 => cell.clone().prop_map(Command::Hold),
        2 => (cell.clone(), look).prop_map(|(cell, look)| Command::Inspect(cell, look)),
        2 => cell.clone().prop_map(Command::Release),
        1 => cell.clone().prop_map(Command::Escalate),
        3 => (cell.clone(), any::<bool>()).prop_map(|(cell, stays)| Command::Fit(cell, stays)),
        3 => cell.clone().prop_map(Command::OutOfDevice),
        1 => (cell.clone(), happens).prop_map(|(cell, what)| Command::Incident(cell, what)),
        8 => (container, mode).prop_map(|(container, mode)| Command::Draft(container, mode)),
        6 => shipment.clone().prop_map(Command::Agree),
        1 => shipment.clone().prop_map(Command::Withdraw),
        6 => shipment.prop_map(Command::HandOver),
        1 => (told, prop::sample::select(&Consent::ALL[..])).prop_map(|(cell, told)| Command::OwnerSays(cell, told)),
        1 => (1u32..60).prop_map(Command::Strike),
    ]
}

/// How a cell went into a device.
struct Fitting {
    entry: u32,
    /// It was to be screened before already, or something has happened to it since.
    used: bool,
}

/// What was last said about each cell, and what has left, by the accepted commands alone.
#[derive(Default)]
struct Oracle {
    said: BTreeMap<String, LegalState>,
    assessed: BTreeSet<String>,
    /// Entry of each judgement that stands.
    judged: BTreeMap<String, u32>,
    /// Judgements as damaged or worse that were not struck.
    damaged: BTreeSet<(String, u32)>,
    left: BTreeMap<String, String>,
    /// Cells that are in a device, and those that were in one, or had an incident, since their latest assessment.
    fitted: BTreeMap<String, Fitting>,
    used: BTreeSet<String>,
    /// Cells of somebody else, and the last word on whether they may be discarded.
    owned: BTreeMap<String, (Consent, u32)>,
    drafts: usize,
}

/// A world with containers of each kind, and every cell assessed.
fn begun() -> (World, Oracle) {
    let mut world = World::new();
    for (name, kind) in CONTAINERS {
        world.open(name, kind, "US");
    }
    let mut oracle = Oracle::default();
    for (cell, fate) in
        [Fate::Recycle, Fate::Recycle, Fate::Quarantine, Fate::Undecided].into_iter().enumerate()
    {
        step(&mut world, &mut oracle, &Command::Assess(cell, fate, CellState::Intact));
    }
    (world, oracle)
}

fn step(world: &mut World, oracle: &mut Oracle, command: &Command) {
    let ship = |index: usize| format!("S{index}");
    let newest = oracle.drafts.saturating_sub(1);
    match command {
        Command::Assess(cell, fate, condition) => {
            let name = CELLS[*cell];
            world.assess(name, *fate, *condition);
            oracle.assessed.insert(name.to_owned());
            if !oracle.fitted.contains_key(name) {
                oracle.used.remove(name);
            }
            oracle.said.remove(name);
            oracle.judged.remove(name);
        }
        Command::Judge(cell, state) => {
            let name = CELLS[*cell];
            if !world.state.cells.contains_key(name) {
                return;
            }
            let entry = world.next();
            let event = world.judgement(name, *state);
            if world.attempt(event).is_ok() {
                oracle.said.insert(name.to_owned(), *state);
                oracle.judged.insert(name.to_owned(), entry);
                if *state >= LegalState::DamagedOrDefective {
                    oracle.damaged.insert((name.to_owned(), entry));
                }
            }
        }
        Command::Place(cell, container, inner) => {
            let _refused_or_not = world.attempt(placed(CONTAINERS[*container].0, CELLS[*cell], *inner));
        }
        Command::TakeOut(cell) => {
            let _refused_or_not = world.attempt(taken_out(CELLS[*cell]));
        }
        Command::Weigh(cell, mass) => {
            let event = CellWeighed { cell: CELLS[*cell].to_owned(), mass: Milligrams(*mass) };
            let _refused_or_not = world.attempt(Event::CellWeighed(event));
        }
        Command::Hold(cell) => {
            if world.attempt(hold(CELLS[*cell], TODAY)).is_ok() {
                oracle.said.remove(CELLS[*cell]);
                oracle.judged.remove(CELLS[*cell]);
            }
        }
        Command::Inspect(cell, look) => {
            if world.attempt(inspection(CELLS[*cell], *look, Some(18.0))).is_ok() && *look == Look::Active {
                oracle.said.insert(CELLS[*cell].to_owned(), LegalState::Critical);
            }
        }
        Command::Release(cell) => {
            let _refused_or_not = world.attempt(release(CELLS[*cell]));
        }
        Command::Escalate(cell) => {
            if world.attempt(escalation(CELLS[*cell])).is_ok() {
                oracle.said.insert(CELLS[*cell].to_owned(), LegalState::Critical);
            }
        }
        Command::Fit(cell, stays) => {
            let name = CELLS[*cell];
            let proven = world.state.cells[name].is_for_reuse();
            let entry = world.next();
            if world.attempt(fitted(name, *stays)).is_ok() {
                assert!(proven || !stays, "{name} stays in a device and nothing proves it");
                let used = !oracle.used.insert(name.to_owned());
                let before = oracle.fitted.insert(name.to_owned(), Fitting { entry, used });
                assert!(before.is_none(), "{name} is in two devices");
            }
        }
        Command::OutOfDevice(cell) => {
            let name = CELLS[*cell];
            let done = world.attempt(out_of_device(name)).is_ok();
            if done {
                assert!(oracle.fitted.remove(name).is_some(), "{name} was in no device");
                oracle.said.remove(name);
                oracle.judged.remove(name);
            }
        }
        Command::Incident(cell, what) => {
            let name = CELLS[*cell];
            if world.attempt(incident(name, *what)).is_ok() {
                oracle.used.insert(name.to_owned());
                oracle.fitted.entry(name.to_owned()).and_modify(|fitting| fitting.used = true);
                oracle.said.remove(name);
                oracle.judged.remove(name);
            }
        }
        Command::Draft(container, mode) => {
            let (name, kind) = CONTAINERS[*container];
            let mass = world.state.mass_in(name);
            let request = Request { mode: *mode, ..world.request(&ship(oracle.drafts), name) };
            if world.draft(&request).is_ok() {
                assert_ne!(*mode, Mode::Air);
                let contents = &world.state.shipments[&ship(oracle.drafts)].draft.contents;
                assert_eq!(contents.iter().map(|item| item.mass).sum::<Milligrams>(), mass, "each cell once");
                for item in contents {
                    left_rightly(oracle, kind, &item.cell);
                }
                oracle.drafts += 1;
            }
        }
        Command::Agree(index) => {
            let _refused_or_not = world.attempt(agreed(&ship(newest.saturating_sub(*index))));
        }
        Command::Withdraw(index) => {
            let _refused_or_not = world.attempt(withdrawn(&ship(newest.saturating_sub(*index))));
        }
        Command::HandOver(index) => {
            let shipment = ship(newest.saturating_sub(*index));
            if world.hand_over(&shipment, None).is_ok() {
                let draft = world.state.shipments[&shipment].draft.clone();
                let kind = CONTAINERS.iter().find(|(name, _)| *name == draft.container).unwrap().1;
                for item in &draft.contents {
                    left_rightly(oracle, kind, &item.cell);
                    let before = oracle.left.insert(item.cell.clone(), shipment.clone());
                    assert_eq!(before, None, "{} left twice", item.cell);
                }
            }
        }
        Command::OwnerSays(cell, told) => {
            let entry = world.next();
            let event = added(CELLS[*cell], |receipt| {
                receipt.whose = Some(Whose::Bringer);
                receipt.consent = Some(*told);
            });
            if world.attempt(event).is_ok() {
                oracle.owned.insert(CELLS[*cell].to_owned(), (*told, entry));
            }
        }
        Command::Strike(entry) => {
            let Some((of, subject)) = world.state.entries.get(entry).cloned() else { return };
            let because = "a slip of the pen".to_owned();
            let event = Correction { entry: *entry, of, subject: subject.clone(), because, strike: true };
            let accepted = world.attempt(Event::Correction(event)).is_ok();
            // Whatever was said before it, nobody has asked then.
            if accepted && oracle.owned.get(&subject).is_some_and(|(_, last)| last == entry) {
                oracle.owned.insert(subject.clone(), (Consent::NotAsked, *entry));
            }
            if accepted {
                oracle.damaged.remove(&(subject.clone(), *entry));
            }
            if accepted && oracle.judged.get(&subject) == Some(entry) {
                oracle.said.remove(&subject);
                oracle.judged.remove(&subject);
            }
            // It was another cell that went into the device.
            let fitting = oracle.fitted.get(&subject).filter(|fitting| accepted && fitting.entry == *entry);
            if let Some(Fitting { used, .. }) = fitting {
                if !used {
                    oracle.used.remove(&subject);
                }
                oracle.fitted.remove(&subject);
            }
        }
    }
}

/// What leaves from an intact container was last called intact waste by a person, and damaged by nobody who has not withdrawn it;
/// from a damaged one, damaged.
fn left_rightly(oracle: &Oracle, kind: ContainerKind, cell: &str) {
    let owner = oracle.owned.get(cell).map(|(told, _)| *told);
    assert!(matches!(owner, None | Some(Consent::Given)), "{cell} left against its owner");
    let said = oracle.said.get(cell).copied();
    match kind {
        ContainerKind::Intact => {
            assert_eq!(said, Some(LegalState::IntactWaste), "{cell}");
            let judged = oracle.damaged.iter().find(|(damaged, _)| damaged == cell);
            assert_eq!(judged, None, "judged damaged, which nobody has struck");
        }
        ContainerKind::Damaged => assert_eq!(said, Some(LegalState::DamagedOrDefective), "{cell}"),
        ContainerKind::Quarantine => panic!("{cell} was sent out of quarantine"),
    }
}

/// What holds after every command.
fn holds(world: &World, oracle: &Oracle) {
    let state = &world.state;
    let known: BTreeSet<String> = state.cells.keys().cloned().collect();
    assert_eq!(known, oracle.assessed, "no cell is lost and none appears");
    let mut counted = 0;
    let mut mass = Milligrams::default();
    for (container, _) in CONTAINERS {
        counted += state.cells_in(container).count();
        mass = mass.plus(state.mass_in(container));
    }
    for (name, cell) in &state.cells {
        match &cell.whereabouts {
            Whereabouts::In { .. } => continue,
            Whereabouts::Loose => assert!(!oracle.left.contains_key(name), "{name} has left and is here"),
            Whereabouts::Fitted { .. } => assert!(oracle.fitted.contains_key(name), "{name} is in no device"),
            Whereabouts::HandedOver { shipment, .. } => assert_eq!(oracle.left.get(name), Some(shipment)),
            Whereabouts::Left { .. } => panic!("{name} has left and nobody said so"),
        }
        counted += 1;
        mass = mass.plus(cell.mass());
    }
    assert_eq!(counted, oracle.assessed.len(), "each cell is in one place");
    assert_eq!(mass, state.cells.values().map(|cell| cell.mass()).sum(), "each mass counts once");
    for cell in oracle.left.keys() {
        assert!(matches!(state.cells[cell].whereabouts, Whereabouts::HandedOver { .. }), "{cell} came back");
    }
    for name in oracle.fitted.keys() {
        let lies = &state.cells[name].whereabouts;
        assert!(matches!(lies, Whereabouts::Fitted { .. }), "{name} is fitted and lies {lies:?}");
        for shipment in state.shipments.values().filter(|one| one.progress == Progress::Drafted) {
            let inside = shipment.draft.contents.iter().any(|item| item.cell == *name);
            assert!(!inside, "{name} is fitted and on the papers of {}", shipment.draft.shipment);
        }
    }
    for name in &oracle.used {
        assert!(!state.cells[name].is_for_reuse(), "{name} was in use and was not screened since");
    }
    let mut inner = BTreeSet::new();
    for (name, cell) in &state.cells {
        if let Whereabouts::In { container, inner: Some(packing), .. } = &cell.whereabouts
            && !container.starts_with("IN")
        {
            assert!(inner.insert((container, packing)), "{name} shares an inner packing");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn no_order_of_commands_sends_a_damaged_cell_as_intact_or_loses_or_doubles_one(
        commands in prop::collection::vec(command(), 1..120)
    ) {
        let (mut world, mut oracle) = begun();
        for command in &commands {
            step(&mut world, &mut oracle, command);
            holds(&world, &oracle);
        }
    }

    #[test]
    fn the_state_is_what_the_log_says_and_nothing_else(commands in prop::collection::vec(command(), 1..80)) {
        let (mut world, mut oracle) = begun();
        for command in &commands {
            step(&mut world, &mut oracle, command);
        }
        prop_assert_eq!(world.replayed(), world.state);
    }
}

/// The search above is worth nothing if it never gets as far as a hand-over.
#[test]
fn the_commands_reach_hand_overs_of_intact_and_of_damaged_cells() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let strategy = prop::collection::vec(command(), 60..120);
    let (mut intact, mut damaged) = (0, 0);
    for _ in 0..400 {
        let commands = strategy.new_tree(&mut runner).unwrap().current();
        let (mut world, mut oracle) = begun();
        commands.iter().for_each(|command| step(&mut world, &mut oracle, command));
        for shipment in oracle.left.values().collect::<BTreeSet<_>>() {
            if world.state.shipments[shipment].draft.container.starts_with("DD") {
                damaged += 1
            } else {
                intact += 1
            }
        }
    }
    assert!(intact >= 10 && damaged >= 10, "{intact} intact and {damaged} damaged hand-overs in 400 runs");
}
