//! The draft as people see it.

use super::*;
use celltriage_custody::draft;
use celltriage_custody::event::ContainerKind;
use celltriage_custody::test_support::{TODAY, World, placed};
use celltriage_document::form::{html, terminal::Terminal};
use celltriage_rules::promise_in;

#[test]
fn the_page_says_that_it_is_a_draft_and_promises_nothing() {
    for (place, kind) in [
        ("US", ContainerKind::Intact),
        ("US", ContainerKind::Damaged),
        ("DE", ContainerKind::Damaged),
        ("JP", ContainerKind::Intact),
    ] {
        let mut world = World::new();
        if kind == ContainerKind::Intact {
            world.intact("PE-1")
        } else {
            world.damaged("PE-1")
        }
        world.open("BOX", kind, place);
        world.must(placed("BOX", "PE-1", Some("a")));
        let request = world.request("S1", "BOX");
        let draft = draft::build(&world.state, &request, &world.circumstances()).unwrap();
        let shipment = Shipment::of(draft, TODAY, "Ines Harrow".to_owned());
        let html = html::page(&draft_paper(&shipment, false));
        let page = Terminal::new(80).text(&draft_paper(&shipment, false));
        assert!(page.starts_with("DRAFT, TO BE CHECKED BY A TRAINED PERSON"), "{page}");
        assert!(page.trim_end().ends_with("draft, to be checked by a trained person"), "{page}");
        assert!(page.contains("checked by: name, training, date, signature"), "{page}");
        assert!(page.contains("PE-1") && page.contains("NOT YET"), "{page}");
        assert_eq!((promise_in(&page), promise_in(&html)), (None, None), "{page}");
        assert_eq!(html.matches(DRAFT).count(), 2, "at the head and at the foot");
        let unwrapped = page.split_whitespace().collect::<Vec<_>>().join(" ");
        for mark in &shipment.draft.papers.marks {
            assert!(unwrapped.contains(&format!("\"{}\"", mark.words)), "{}: {page}", mark.words);
            assert!(html.contains(&format!("mm\">{}</div>", mark.words)), "{}: in large letters", mark.words);
        }
    }
}
