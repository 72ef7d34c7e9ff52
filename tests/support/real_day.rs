//! The demo's day as a workshop with a real fixture would have it in its book.
//!
//! What follows a decision (judgement, boxes, hand-over) is refused to simulated cells, and there is no fixture here to
//! measure real ones. So the demo's entries are written once more with another source, and without the recordings, which
//! name the simulated board; nothing that was decided is changed.

use crate::call;
use celltriage_book::{Book, Entry, Filter, NewAttachment, NewEntry};
use serde_json::Value;
use std::path::Path;
use std::sync::OnceLock;

/// Writes the book of such a day, with the demo's entries under the demo's numbers.
///
/// # Panics
/// If the demo fails or its book cannot be read.
pub fn real_day(to: &Path) {
    static DEMO: OnceLock<tempfile::TempDir> = OnceLock::new();
    let demo = DEMO.get_or_init(|| {
        let folder = tempfile::tempdir().expect("a folder");
        let done = call(&["demo", "--out", &folder.path().to_string_lossy()], None);
        assert_eq!(done.code, 0, "{}", done.err);
        folder
    });
    let from = Book::open_read_only(demo.path().join("book.sqlite")).expect("the demo's book");
    let mut entries = from.entries(&Filter::default()).expect("entries");
    entries.sort_by_key(|entry| entry.number);
    let mut book = Book::open(to).expect("a new book");
    for entry in entries {
        let kept = from.attachments_of(entry.number).expect("attachments");
        let attachments = kept.into_iter().map(|kept| NewAttachment {
            bytes: from.attachment(kept.sha256).expect("readable").expect("there"),
            name: kept.name,
            media_type: kept.media_type,
        });
        let about = from.about(entry.number).expect("readable").into_iter().skip(1).collect();
        let Entry { head, mut inputs, mut result } = entry;
        put(&mut inputs, "/source", "/dev/ttyACM0");
        put(&mut result, "/conditions/source", "/dev/ttyACM0");
        put(&mut result, "/conditions/fixture", "pico2 board, serial 77, firmware 0.1.0");
        let new = NewEntry {
            at: head.at,
            kind: head.kind,
            subject: head.subject,
            about,
            simulated: head.simulated.map(|_| false),
            personal: Vec::new(),
            fate: head.fate,
            summary: head.summary.replace("SIMULATED ", "").replace(" [SIMULATED]", ""),
            program: head.program,
            inputs,
            result,
            corrects: None,
            attachments: attachments.collect(),
            recordings: Vec::new(),
        };
        assert_eq!(book.append(new).expect("written").number, head.number);
    }
}

/// Puts another text where there is one.
fn put(value: &mut Value, place: &str, other: &str) {
    if let Some(text) = value.pointer_mut(place).filter(|text| text.is_string()) {
        *text = Value::from(other);
    }
}
