//! Every refusal is listed, and unknown names and empty texts are refused.

use super::*;

#[test]
fn the_list_above_names_every_refusal() {
    let sources = [
        include_str!("../refusal.rs"),
        include_str!("../refusal_on_leaving.rs"),
        include_str!("../refusal_of_irregular.rs"),
        include_str!("../refusal_on_container.rs"),
    ];
    let lines = sources.iter().flat_map(|source| source.lines()).map(str::trim_start);
    // One that hands on another one's words is no refusal of its own.
    let variants =
        lines.filter(|line| line.starts_with("#[error(") && *line != "#[error(transparent)]").count();
    assert_eq!(variants, refusals().len());
    let kind = |refusal: &Refusal| match refusal {
        Refusal::OnLeaving(inner) => format!("on leaving {:?}", std::mem::discriminant(inner)),
        Refusal::OfIrregular(inner) => format!("of irregular {:?}", std::mem::discriminant(inner)),
        Refusal::OnContainer(inner) => format!("on container {:?}", std::mem::discriminant(inner)),
        other => format!("{:?}", std::mem::discriminant(other)),
    };
    let mut kinds: Vec<_> = refusals().iter().map(kind).collect();
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
