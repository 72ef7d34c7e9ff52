//! Every refusal says what is in the way and what to do, and promises nothing.

use super::*;
use crate::error::Error;
use celltriage_rules::promise_in;

fn all() -> Vec<Refusal> {
    let text = || "PE-1".to_owned();
    vec![
        Refusal::UnknownCell(text()),
        Refusal::UnknownContainer(text()),
        Refusal::UnknownShipment(text()),
        Refusal::NameTaken { name: text(), what: "cell" },
        Refusal::BadText("reason"),
        Refusal::BadNumber("3 kg is too much".to_owned()),
        Refusal::BadDay { day: TODAY, what: "later than today".to_owned() },
        Refusal::CellGone { cell: text(), shipment: text(), on: TODAY },
        Refusal::ContainerGone { container: text(), shipment: text() },
        Refusal::ContainerDrafted { container: text(), shipment: text() },
        Refusal::ElsewhereAlready { cell: text(), container: text() },
        Refusal::NotInContainer(text()),
        Refusal::ForReuse(text()),
        Refusal::WrongMix {
            cell: text(),
            state: LegalState::DamagedOrDefective,
            container: text(),
            takes: "intact waste cells",
        },
        Refusal::Critical(text()),
        Refusal::UnderWatch { cell: text(), since: TODAY, because: text() },
        Refusal::NotUnderWatch(text()),
        Refusal::NoInnerPacking(text()),
        Refusal::InnerPackingTaken { inner: text(), container: text(), holds: text() },
        Refusal::OtherChemistry { cell: text(), has: text(), container: text(), holds: text(), why: text() },
        Refusal::ContainerFull { container: text(), would: text(), limit: text() },
        Refusal::BadJudgement("it does not fit".to_owned()),
        Refusal::KnownBefore { cell: text(), found: text() },
        Refusal::StillCritical { cell: text(), found: text(), why: text() },
        Refusal::MixedWithSimulated { cell: text(), is: "real", container: text(), holds: text() },
        Refusal::Simulated { cell: text(), shipment: text() },
        Refusal::NotReleasable { cell: text(), why: text() },
        Refusal::Air(text()),
        Refusal::Empty(text()),
        Refusal::QuarantineIsNotSent(text()),
        Refusal::NotJudged(text()),
        Refusal::Forbidden { cell: text(), why: text() },
        Refusal::WrongStage { shipment: text(), is: text() },
        Refusal::NotAgreed(text()),
        Refusal::DraftOutdated { shipment: text(), what: text() },
        Refusal::WasteCode { given: text(), on: TODAY, valid: text() },
        Refusal::NoUsedRecord { cell: text(), why: text() },
        Refusal::NoSuchEntry(99),
        Refusal::NotCorrectable { entry: 1, why: text() },
    ]
}

#[test]
fn every_refusal_tells_what_and_what_to_do() {
    for refusal in all() {
        let error = Error::from(refusal.clone());
        let told = error.to_string();
        assert!(told.contains("nothing was written") && told.contains("\nhint: "), "{told}");
        assert!(refusal.hint().len() > 10, "{told}");
        assert_eq!(promise_in(&told), None, "{told}");
        assert_eq!(error.exit_code(), 2);
    }
}

#[test]
fn the_list_above_names_every_refusal() {
    let source = include_str!("../refusal.rs");
    let variants = source.lines().filter(|line| line.trim_start().starts_with("#[error(")).count();
    assert_eq!(variants, all().len());
    let mut kinds: Vec<_> =
        all().iter().map(std::mem::discriminant).map(|kind| format!("{kind:?}")).collect();
    kinds.sort();
    kinds.dedup();
    assert_eq!(kinds.len(), variants);
}

#[test]
fn unknown_names_and_empty_texts_are_refused() {
    let mut world = World::new();
    world.intact("PE-1");
    world.open("BOX", ContainerKind::Intact, "DE");
    assert_eq!(world.attempt(placed("BOX", "PE-9", None)), Err(Refusal::UnknownCell("PE-9".to_owned())));
    assert_eq!(world.attempt(placed("NO", "PE-1", None)), Err(Refusal::UnknownContainer("NO".to_owned())));
    assert_eq!(world.attempt(taken_out("PE-1")), Err(Refusal::NotInContainer("PE-1".to_owned())));
    assert_eq!(world.attempt(agreed("S9")), Err(Refusal::UnknownShipment("S9".to_owned())));
    assert_eq!(world.attempt(release("PE-1")), Err(Refusal::NotUnderWatch("PE-1".to_owned())));
    for (name, what) in [("BOX", "container"), ("PE-1", "cell")] {
        let taken = Refusal::NameTaken { name: name.to_owned(), what };
        assert_eq!(world.attempt(opened(name, ContainerKind::Intact, "DE")), Err(taken));
    }
    for bad in ["", " X", "X\n", "X\ty"] {
        let refused = world.attempt(opened(bad, ContainerKind::Intact, "DE"));
        assert_eq!(refused, Err(Refusal::BadText("name")), "{bad:?}");
    }
    let signed = Signed { schema: SCHEMA, by: String::new(), on: TODAY, event: escalation("PE-1") };
    let refused = check(&world.state, &signed, &world.circumstances());
    assert_eq!(refused, Err(Refusal::BadText("name of the person")));
    let warm = inspection("PE-1", Look::Unchanged, Some(f64::NAN));
    world.must(hold("PE-1", TODAY));
    assert!(matches!(world.attempt(warm), Err(Refusal::BadNumber(_))));
}
