//! Draft papers laid out for people: what is sent, what it needs, and the words to be stuck on.
//!
//! Takes a [`Shipment`]; gives a [`Sheet`], for the terminal or the printer. Every sheet says that it is a draft, to be
//! checked by a trained person.

use super::sheet::{List, Part, Point, Sheet, Words};
use celltriage_custody::event::ShipmentDrafted;
use celltriage_custody::need::Need;
use celltriage_custody::papers::{Count, Mark};
use celltriage_custody::state::{Progress, Shipment};
use celltriage_custody::units::Milligrams;
use celltriage_custody::waste_code::WasteCode;
use celltriage_instrument::simulated::FIRST_LINE;
use celltriage_rules::Section;

/// Stands at the head and at the foot of every draft.
pub const DRAFT: &str = "draft, to be checked by a trained person";

/// Lays out a shipment's papers; `simulated` says whether they are about simulated cells.
pub fn sheet(shipment: &Shipment, simulated: bool) -> Sheet {
    let draft = &shipment.draft;
    let papers = &draft.papers;
    Sheet {
        title: format!("Shipment {}, container {}", draft.shipment, draft.container),
        notice: match simulated {
            true => format!("{FIRST_LINE}; {}", notice(&shipment.progress)),
            false => notice(&shipment.progress),
        },
        head: head(shipment),
        list: Some(contents_list(draft)),
        parts: vec![
            part(Section::Provision, &papers.provision),
            part(Section::Packing, &papers.packing),
            Part { heading: "counted for this shipment".to_owned(), points: counted(&papers.counted) },
            Part {
                heading: "words, exactly so".to_owned(),
                points: papers.marks.iter().map(mark_point).collect(),
            },
            part(Section::HazardLabel, &papers.labels),
            Part {
                heading: format!("waste code on {}", draft.planned_on),
                points: waste_codes(&draft.waste_codes),
            },
            part(Section::Document, &papers.documents),
            part(Section::Training, &papers.training),
            part(Section::Approval, &papers.approval),
        ],
        words: papers.marks.iter().map(|mark| large(mark, draft, simulated)).collect(),
        to_fill_in: vec!["checked by: name, training, date, signature".to_owned()],
    }
}

/// A paper that was given up says so before anything else; one that was handed over stays what it was drafted as.
fn notice(progress: &Progress) -> String {
    match progress {
        Progress::Withdrawn => format!("withdrawn, not to be used; {DRAFT}"),
        Progress::Drafted | Progress::HandedOver { .. } => DRAFT.to_owned(),
    }
}

fn head(shipment: &Shipment) -> Vec<(String, String)> {
    let draft = &shipment.draft;
    let papers = &draft.papers;
    let mut rows = Vec::new();
    let mut row = |name: &str, value: String| rows.push((name.to_owned(), value));
    row("from", draft.place.to_string());
    row("to", draft.receiver.clone());
    let agreed = shipment.agreed.as_ref();
    row("receiver agreed", agreed.map_or("NOT YET".to_owned(), |(day, how)| format!("on {day}: {how}")));
    row("by, for", format!("{}, {}", draft.mode.words(), draft.purpose.words()));
    row("planned day", draft.planned_on.to_string());
    row("drafted", format!("{} by {}", shipment.drafted_on, shipment.drafted_by));
    let what = match papers.un_number.as_str() {
        "" => "NOT TOLD by the rule packs of this place: ask a trained person".to_owned(),
        number => format!("{number}, {}, class {}", papers.shipping_name, papers.class),
    };
    row("what", what);
    let state = draft.contents.iter().map(|item| item.state).max().unwrap_or_default();
    row("worst legal state", state.to_string());
    if !papers.under.is_empty() {
        row("under", papers.under.join(", "));
    }
    if !papers.packed_after.is_empty() {
        row("packed after", papers.packed_after.join(", "));
    }
    let net: Milligrams = draft.contents.iter().map(|item| item.mass).sum();
    row("cells, net mass", format!("{}, {net}", draft.contents.len()));
    row("packages", format!("at least {}; gross mass of the heaviest {}", papers.packages, draft.gross));
    match (&shipment.handed_over, &shipment.progress) {
        (Some(handed), Progress::HandedOver { on }) => {
            row("HANDED OVER", format!("{on} to {}, document {}", handed.received_by, handed.document));
            row("checked by", format!("{}, {}", handed.checked_by, handed.training));
            row("waste code used", handed.waste_code.clone().unwrap_or("none".to_owned()));
        }
        _ => row("handed over", "not yet".to_owned()),
    }
    rows
}

fn contents_list(draft: &ShipmentDrafted) -> List {
    let rows = draft.contents.iter().map(|item| {
        let doubt = if item.mass_known { "" } else { " NOT WEIGHED, worst case" };
        let decided = item.decided_on.map_or_else(|| "-".to_owned(), |day| day.to_string());
        vec![
            item.cell.clone(),
            format!("{}{doubt}", item.mass),
            item.energy.to_string(),
            item.state.to_string(),
            decided,
            item.inner.clone().unwrap_or("-".to_owned()),
            format!("{} (entry {})", item.assessor, item.judgement),
        ]
    });
    List {
        heading: "contents".to_owned(),
        columns: vec!["cell", "mass", "energy", "legal state", "discarded", "inner", "judged by"],
        rows: rows.collect(),
    }
}

fn part(section: Section, needs: &[Need]) -> Part {
    Part { heading: section.words().to_owned(), points: needs.iter().map(point).collect() }
}

/// Lays it out as a point of a paper.
pub(super) fn point(need: &Need) -> Point {
    Point {
        text: need.text.clone(),
        source: need.citation.clone(),
        verify_with: need.verify.then(|| whom(&need.verify_with)),
        doubt: need.doubt.clone(),
    }
}

/// Earlier drafts do not name whom to ask.
fn whom(verify_with: &str) -> String {
    if verify_with.is_empty() { "the authority".to_owned() } else { verify_with.to_owned() }
}

fn counted(counts: &[Count]) -> Vec<Point> {
    let told = counts.iter().map(|count| {
        let relief = count.under.as_ref().map_or(String::new(), |name| format!(" ({name})"));
        let passed = if count.passed { ": PASSED" } else { "" };
        Point { text: format!("{}{relief}{passed}", count.text), ..point(&count.rule) }
    });
    told.collect()
}

fn mark_point(mark: &Mark) -> Point {
    let height =
        mark.letter_height_mm.map_or(String::new(), |height| format!(", letters at least {height} mm high"));
    Point {
        text: format!("{}: {}{height}", where_it_stands(mark), mark.quoted()),
        source: mark.citation.clone(),
        verify_with: mark.verify.then(|| whom(&mark.verify_with)),
        doubt: mark.doubt.clone(),
    }
}

const fn where_it_stands(mark: &Mark) -> &'static str {
    if mark.on_cell_or_container { "on each cell or its container" } else { "on each package" }
}

fn large(mark: &Mark, draft: &ShipmentDrafted, simulated: bool) -> Words {
    let first = draft.contents.iter().filter_map(|item| item.decided_on).min();
    let date = first.filter(|_| mark.on_cell_or_container).map(|day| format!("earliest date {day}"));
    Words {
        words: mark.words.clone(),
        below: simulated.then(|| FIRST_LINE.to_owned()).into_iter().chain(date).collect(),
        letter_mm: mark.letter_height_mm,
        on: format!("shipment {}: {} [{}]", draft.shipment, where_it_stands(mark), mark.citation),
    }
}

fn waste_codes(codes: &[WasteCode]) -> Vec<Point> {
    if codes.is_empty() {
        let text = "None is known here for this place: ask the waste authority.".to_owned();
        return vec![Point { text, source: "no code in the rule packs".to_owned(), ..Point::default() }];
    }
    let told = codes.iter().map(|code| {
        let hazardous = if code.hazardous { "hazardous waste" } else { "not listed as hazardous" };
        Point {
            text: format!("{}  {}; {hazardous}", code.code, code.meaning),
            source: code.citation.clone(),
            verify_with: code.verify.then(|| whom(&code.verify_with)),
            doubt: code.doubt.clone(),
        }
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::Style;
    use celltriage_custody::draft;
    use celltriage_custody::event::ContainerKind;
    use celltriage_custody::test_support::{TODAY, World, placed};
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
            let shipment = Shipment {
                draft,
                drafted_on: TODAY,
                drafted_by: "Ines Harrow".to_owned(),
                agreed: None,
                handed_over: None,
                progress: Progress::Drafted,
            };
            let html = sheet(&shipment, false).html();
            let page = sheet(&shipment, false).text(&Style::new(80, false));
            assert!(page.starts_with("DRAFT, TO BE CHECKED BY A TRAINED PERSON"), "{page}");
            assert!(page.trim_end().ends_with("draft, to be checked by a trained person"), "{page}");
            assert!(page.contains("checked by: name, training, date, signature"), "{page}");
            assert!(page.contains("PE-1") && page.contains("NOT YET"), "{page}");
            assert_eq!((promise_in(&page), promise_in(&html)), (None, None), "{page}");
            assert_eq!(html.matches(DRAFT).count(), 2, "at the head and at the foot");
            let unwrapped = page.split_whitespace().collect::<Vec<_>>().join(" ");
            for mark in &shipment.draft.papers.marks {
                assert!(unwrapped.contains(&format!("\"{}\"", mark.words)), "{}: {page}", mark.words);
                assert!(
                    html.contains(&format!("mm\">{}</div>", mark.words)),
                    "{}: in large letters",
                    mark.words
                );
            }
        }
    }
}
