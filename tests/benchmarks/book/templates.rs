//! What really went into a book: the demo's assessments as if of real cells, the fixture's records, and a box's way to its
//! receiver, each made by the program itself.

use celltriage_book::{Attachment, Book, Entry, NewAttachment};
use celltriage_custody::event::Signed;
use celltriage_tests::{ABLE, Shop};
use serde_json::Value;

/// A decision, to be written again for other cells.
pub struct Decision {
    /// Its entry.
    pub entry: Entry,
    /// What was kept with it.
    pub kept: Vec<NewAttachment>,
    /// The frames of its run.
    pub frames: Vec<u8>,
}

/// All that is written again.
pub struct Templates {
    /// The nine decisions of the day, in its order.
    pub decisions: Vec<Decision>,
    /// What an owner does with a fixture: three calibrations, a check standard, its measurement.
    pub fixture: Vec<Entry>,
    /// Judgement, container, placing, weighing, draft, agreement and hand-over of a box of intact cells.
    pub intact: Vec<Signed>,
    /// The same of a box of damaged ones.
    pub damaged: Vec<Signed>,
    /// A watch: hold, look, release.
    pub watch: Vec<Signed>,
}

impl Templates {
    /// Makes them.
    pub fn make() -> Self {
        let demo = Shop::of_the_demo();
        let day = Shop::of_a_real_day();
        let (frames, real) = (demo.open(), day.open());
        let mut decisions: Vec<Decision> = Vec::new();
        for entry in day.entries().into_iter().rev().filter(|entry| entry.kind == "assessment") {
            decisions.push(Decision {
                kept: kept_with(&real, entry.number),
                frames: frames_of(&frames, entry.number),
                entry,
            });
        }
        Self {
            decisions,
            fixture: fixture(),
            intact: boxed(&day, "PE-0402", "intact_waste", "intact", &[]),
            damaged: boxed(&day, "PE-0404", "damaged_or_defective", "damaged", &["--inner", "bag 1"]),
            watch: watch(&day),
        }
    }
}

fn kept_with(book: &Book, entry: u32) -> Vec<NewAttachment> {
    let kept = book.attachments_of(entry).expect("attachments");
    let read = |kept: Attachment| NewAttachment {
        bytes: book.attachment(kept.sha256).expect("readable").expect("there"),
        name: kept.name,
        media_type: kept.media_type,
    };
    kept.into_iter().map(read).collect()
}

fn frames_of(book: &Book, entry: u32) -> Vec<u8> {
    let recordings = book.recordings_of(entry).expect("recordings");
    let bytes = |number| book.recording(number).expect("readable").expect("there");
    recordings.into_iter().flat_map(|recording| bytes(recording.number)).collect()
}

/// An owner's work with a fixture.
fn fixture() -> Vec<Entry> {
    let shop = Shop::new();
    shop.define(&[]);
    shop.calibrate_all("supply");
    assert_eq!(shop.measure("check-standard").code, 0, "the check standard is measured");
    let mut entries = shop.entries();
    entries.reverse();
    entries
}

/// A cell's way from judgement to hand-over.
fn boxed(day: &Shop, cell: &str, state: &str, kind: &str, inner: &[&str]) -> Vec<Signed> {
    let shop = Shop::new();
    std::fs::copy(day.book(), shop.book()).expect("the book is copied");
    let before = shop.newest();
    shop.judge(cell, state, &[]);
    shop.does(&[
        "container",
        "open",
        "B-1",
        "--kind",
        kind,
        "--place",
        "DE",
        "--stands",
        "steel shelf, yard",
    ]);
    shop.does(&[&["container", "place", "B-1", cell, "--mass-g", "68"][..], inner].concat());
    shop.does(&["container", "weigh", cell, "--mass-g", "68.4"]);
    shop.drafts("S-1", "B-1");
    shop.does(&["shipment", "agree", "S-1", "--reference", "letter of 20 November"]);
    let by = ["--received-by", "driver Okoro", "--checked-by", "Ines Harrow"];
    let papers = ["--training", "dangerous goods, 3 March 2026", "--waste-code", "16 02 15*"];
    shop.does(&[&["shipment", "hand-over", "S-1", "--document", "D-17"][..], &by, &papers].concat());
    signed_after(&shop, before)
}

/// A watch from its beginning to its end.
fn watch(day: &Shop) -> Vec<Signed> {
    let shop = Shop::new();
    std::fs::copy(day.book(), shop.book()).expect("the book is copied");
    let before = shop.newest();
    let why = ["--because", "warm in its drawer", "--stands", "concrete floor, yard"];
    shop.does(&[&["container", "hold", "PE-0404"][..], &why].concat());
    let seen = ["--temperature-c", "21.5", "--air-c", "21"];
    shop.does(&[&["container", "inspect", "PE-0404", "--look", "unchanged"][..], &seen].concat());
    signed_after(&shop, before)
}

fn signed_after(shop: &Shop, before: u32) -> Vec<Signed> {
    let entries = shop.open().entries_after(before, u32::MAX).expect("entries");
    entries.into_iter().map(|entry| serde_json::from_value(entry.inputs).expect("an event")).collect()
}

/// Who assessed, in the demo's entries.
pub fn assessor(inputs: &Value) -> Option<String> {
    Some(inputs.pointer("/observations/assessor")?.as_str()?.to_owned())
}

/// Why that person may judge.
pub const QUALIFIED: &str = ABLE[1];
