//! Verification: what was written past the book's own rules is found in any database, in the same words.

use super::calls::Fault;
use super::{New, fill, on_each_store, write};
use crate::store::{EntryRow, LinkRow, RowsMut};
use crate::texts::Packed;
use crate::{Book, Digest, Problem, Subject};

on_each_store! { what_no_book_would_write_is_found, a_verification_that_could_not_read_all_never_passes }

/// What was forged, the entry that it is found at, and the words for it.
type Forgery = (fn(&mut dyn RowsMut) -> Result<(), Problem>, Option<i64>, &'static str);

/// Writes a fourth entry as a copy of the third, under whatever seal.
fn fourth(
    rows: &mut dyn RowsMut,
    change: impl Fn(&mut EntryRow),
    about: &str,
    words: bool,
) -> Result<(), Problem> {
    let last = rows.last()?.ok_or(Problem::Missing)?;
    let link = rows.last_link()?.map_or((0, Digest::BEGINNING), |link| (link.number, link.digest));
    let mut row = EntryRow {
        number: 4,
        position: 4,
        origin_number: 4,
        previous: last.digest,
        subject: Subject::cell("C-9"),
        inputs: Digest::of(b"{}"),
        result: Digest::of(b"{}"),
        stream: link,
        ..last
    };
    rows.add_text(8, &Packed::of("{}"))?;
    rows.add_text(9, &Packed::of("{}"))?;
    rows.add_about(4, 1, &Subject::cell(about))?;
    let belongings = crate::seal::Belongings::read(rows, 4)?;
    row.digest = row.seal(&rows.identity()?, &belongings);
    let summary = row.summary.clone();
    change(&mut row);
    rows.add_entry(&row)?;
    if words {
        rows.add_words(4, &format!("C-9\nrecycle\nassessment\n{summary}\n"))?;
    }
    Ok(())
}

const FORGERIES: [Forgery; 11] = [
    (|rows| fourth(rows, |_| (), "C-9", true), None, ""),
    (|rows| fourth(rows, |row| row.summary.push('!'), "C-9", true), Some(4), "is not what was written"),
    (|rows| fourth(rows, |row| row.fate = None, "C-9", true), Some(4), "is not what was written"),
    (
        |rows| fourth(rows, |row| row.previous = Digest::BEGINNING, "C-9", true),
        Some(4),
        "does not continue entry 3",
    ),
    (|rows| fourth(rows, |row| row.inputs = Digest::of(b"[]"), "C-9", true), Some(4), ""),
    (|rows| fourth(rows, |row| row.stream.1 = Digest::BEGINNING, "C-9", true), Some(4), "recorded before it"),
    (|rows| fourth(rows, |_| (), "C-8", true), Some(4), "not found under what it stands under"),
    (|rows| fourth(rows, |_| (), "C-9", false), Some(4), "words by which it is found"),
    (|rows| rows.add_chunk(4, 2, b"not linked"), None, "recording 4 has parts that were not recorded"),
    (
        |rows| {
            rows.add_chunk(4, 2, b"one")?;
            let (content, digest) = (Digest::of(b"another"), Digest::of(b"whatever"));
            rows.add_link(&LinkRow { number: 12, recording: 4, position: 2, content, digest })
        },
        None,
        "recording 4 was changed",
    ),
    (
        |rows| {
            rows.finish(4, 4, Digest::BEGINNING, 3)?;
            fourth(rows, |_| (), "C-9", true)
        },
        Some(4),
        "its recording 4 was changed",
    ),
];

fn what_no_book_would_write_is_found(new: New) {
    for (index, (forge, entry, words)) in FORGERIES.into_iter().enumerate() {
        let place = new();
        fill(&mut place.begin(1));
        let mut store = place.store();
        write(&mut *store, forge).unwrap();
        let found = place.book().verify().unwrap();
        if index == 0 {
            assert_eq!(found.faults, [], "well made, so that the others differ by their forgery alone");
            continue;
        }
        let is_found = |fault: &crate::BookFault| fault.entry == entry && fault.what.contains(words);
        assert!(found.faults.iter().any(is_found), "{index}: {found:?}");
    }
}

fn a_verification_that_could_not_read_all_never_passes(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    for fault in Fault::ALL {
        let calls = std::sync::Arc::new(super::calls::Calls::default());
        let store = super::between::Between { inner: place.store(), calls: calls.clone() };
        let book = Book::over(Box::new(store), "a book that fails");
        for after in 0.. {
            calls.fail_after(after, fault);
            let found = book.verify();
            let Some(name) = calls.fail_no_more() else {
                assert!(found.unwrap().passed() && after > 50, "only {after} calls were made");
                break;
            };
            if let Ok(found) = found {
                assert!(!found.passed(), "call {after} ({name}) failed and it passed");
            }
        }
    }
}
