//! The page: what goes with what, and nothing from elsewhere.

use super::*;
use crate::document::Point;

fn label(letter_mm: Option<u32>) -> Document {
    let mut paper = Document::paper("Container B-1");
    let below = vec!["since 2026-11-25".into()];
    paper.push(Large { words: "DAMAGED".into(), below, letter_mm, on: "package".into(), ..Large::default() });
    paper
}

#[test]
fn a_label_is_its_words_alone_each_small_letter_as_high_as_asked() {
    let mut simulated = label(Some(12));
    simulated.notice("SIMULATED");
    let label_page = page(&simulated);
    let frame = label_page.split_once("class=\"frame\"").expect("a frame").1;
    assert!(frame.contains("SIMULATED"), "cut out, it still says so: {label_page}");
    assert!(label_page.contains("font-size:24.0mm"), "{label_page}");
    assert!(label_page.contains("letters at least 12 mm high"), "{label_page}");
    assert!(!label_page.contains("<h1>"), "{label_page}");
    assert!(page(&label(None)).contains("no text was found that fixes a letter height"));
}

#[test]
fn a_paper_opens_and_ends_with_its_notice_and_large_words_come_after_it() {
    let mut paper = label(None);
    paper.notice(Phrase::Draft).push(Points {
        points: vec![Point {
            text: "Each cell singly.".into(),
            source: "P908".into(),
            verify_with: Some("your <authority>".to_owned()),
            doubt: Some("from memory".to_owned()),
        }],
    });
    let page = page(&paper);
    let places: Vec<usize> = page.match_indices("class=\"notice\"").map(|(at, _)| at).collect();
    let words = page.find("DAMAGED").expect("large words");
    assert!(places.len() == 2 && places.iter().all(|place| *place < words), "{page}");
    for part in ["[P908]", "verify with your &lt;authority&gt;", "In doubt: from memory."] {
        assert!(page.contains(part), "{part}: {page}");
    }
    assert!(!page.contains("http") && !page.contains("<script") && !page.contains("url("), "{page}");
}
