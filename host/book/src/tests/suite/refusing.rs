//! Every rule that a database keeps by itself, whatever is above it; and that a refused call has changed nothing.

use super::dump::{difference, dump};
use super::{New, file, fill, on_each_store, write};
use crate::store::{EntryRow, KeptTo, LinkRow, PersonalRow, RecordingRow, RowsMut, Wanted};
use crate::texts::Packed;
use crate::{Chain, Digest, Id, NewAttachment, Problem, Sort, Subject};

on_each_store! {
    what_breaks_a_rule_is_refused_and_changes_nothing,
    what_belongs_to_no_entry_at_the_end_is_refused_whole,
    a_request_may_go_on_after_a_refusal,
}

/// A call that breaks a rule, with the words of the refusal where every database has the same.
type Breach = (&'static str, fn(&mut dyn RowsMut) -> Result<(), Problem>);

fn next(rows: &dyn RowsMut) -> EntryRow {
    let last = rows.last().unwrap().unwrap();
    let number = last.number + 1;
    EntryRow { number, position: last.position + 1, origin_number: number, corrects: None, ..last }
}

fn subject() -> Subject {
    Subject::cell("C-9")
}

fn link(number: i64, recording: i64, position: i64) -> LinkRow {
    LinkRow { number, recording, position, content: Digest::BEGINNING, digest: Digest::BEGINNING }
}

fn recording(number: i64, origin: i64, origin_number: i64) -> RecordingRow {
    RecordingRow { number, at_ms: 0, cell_id: "C-9".into(), origin, origin_number, finished: None }
}

fn personal() -> PersonalRow {
    PersonalRow::of([7; 16], "M. Orme")
}

fn packed() -> Packed {
    Packed::of("{}")
}

fn chain(id: u8, bench: &str) -> Chain {
    Chain { id: Id([id; 16]), bench: bench.into(), home: false }
}

/// Requests whose first call is taken and whose second breaks a rule.
const TWICE: [Breach; 3] = [
    ("this entry is sealed", |rows| rows.add_text(8, &packed()).and_then(|()| rows.add_text(8, &packed()))),
    ("", |rows| {
        rows.add_recording(&recording(5, 2, 77))?;
        rows.add_recording(&recording(6, 2, 77))
    }),
    ("here already", |rows| rows.add_known_as(2, 5, 1).and_then(|()| rows.add_known_as(2, 5, 2))),
];

/// Three entries and four recordings are there, the fourth with one chunk and not finished; eleven links; books 1 and 2.
const BREACHES: [Breach; 45] = [
    ("without gaps", |rows| rows.add_entry(&EntryRow { number: 5, ..next(rows) })),
    ("without gaps", |rows| rows.add_entry(&EntryRow { number: 3, ..next(rows) })),
    ("without gaps", |rows| rows.add_entry(&EntryRow { number: 0, ..next(rows) })),
    ("a chain has no gaps", |rows| rows.add_entry(&EntryRow { position: 5, ..next(rows) })),
    ("a chain has no gaps", |rows| rows.add_entry(&EntryRow { position: 3, ..next(rows) })),
    ("here already", |rows| rows.add_entry(&EntryRow { origin_number: 3, ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { chain: 9, position: 1, ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { origin: 9, ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { form: 3, ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { kind: "".into(), ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { fate: Some("".into()), ..next(rows) })),
    ("", |rows| rows.add_entry(&EntryRow { subject: Subject::cell(""), ..next(rows) })),
    ("this entry is sealed", |rows| rows.add_text(6, &packed())),
    ("", |rows| rows.add_words(3, "others")),
    ("this entry is sealed", |rows| rows.add_about(3, 2, &subject())),
    ("this entry is sealed", |rows| rows.add_about(4, 2, &subject())),
    ("", |rows| rows.add_about(4, 1, &Subject::cell(""))),
    ("this entry is sealed", |rows| rows.add_personal(3, 2, &personal())),
    ("this entry is sealed", |rows| rows.add_personal(4, 0, &personal())),
    ("append-only", |rows| rows.blank(3, "")),
    ("this entry is sealed", |rows| rows.add_attachment(3, 3, &file("late.csv", b"late"))),
    ("without gaps", |rows| rows.add_attachment(4, 2, &file("early.csv", b"early"))),
    ("", |rows| rows.add_attachment(4, 1, &file("", b"nameless"))),
    ("", |rows| {
        let new = NewAttachment { media_type: "".into(), ..file("a", b"of no type") };
        rows.add_attachment(4, 1, &new)
    }),
    ("without gaps", |rows| rows.add_recording(&recording(4, 1, 4))),
    ("without gaps", |rows| rows.add_recording(&recording(6, 1, 6))),
    ("", |rows| rows.add_recording(&RecordingRow { cell_id: "".into(), ..recording(5, 1, 5) })),
    ("", |rows| rows.add_recording(&recording(5, 9, 1))),
    ("without gaps", |rows| rows.add_chunk(4, 1, b"again")),
    ("without gaps", |rows| rows.add_chunk(4, 3, b"later")),
    ("this recording is finished", |rows| rows.add_chunk(1, 3, b"late")),
    ("", |rows| rows.add_chunk(9, 1, b"of none")),
    ("without gaps", |rows| rows.add_link(&link(11, 4, 2))),
    ("without gaps", |rows| rows.add_link(&link(13, 4, 2))),
    ("without gaps", |rows| rows.add_link(&link(12, 4, 1))),
    ("", |rows| rows.add_link(&link(12, 9, 0))),
    ("this recording is finished", |rows| rows.finish(1, 4, Digest::BEGINNING, 0)),
    ("this entry is sealed", |rows| rows.finish(4, 3, Digest::BEGINNING, 0)),
    ("here already", |rows| rows.add_book(Id([1; 16])).map(drop)),
    ("here already", |rows| rows.add_chain(&chain(1, "another")).map(drop)),
    ("", |rows| rows.add_chain(&chain(8, "")).map(drop)),
    ("here already", |rows| rows.set_sort(Sort::Mixed)),
    ("", |rows| rows.add_known_as(9, 1, 1)),
    ("", |rows| rows.add_known_as(2, 1, 9)),
    ("", |rows| rows.finish(9, 4, Digest::BEGINNING, 0)),
];

fn what_breaks_a_rule_is_refused_and_changes_nothing(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let mut store = place.store();
    write(&mut *store, |rows| rows.add_book(Id([2; 16])).map(drop)).unwrap();
    let before = dump(&*store);
    for (index, (words, breach)) in BREACHES.into_iter().chain(TWICE).enumerate() {
        let refused = write(&mut *store, breach).expect_err(&format!("breach {index} was taken"));
        assert!(
            matches!(&refused, Problem::Refused { rule } if rule.contains(words)),
            "{index}: {refused:?}"
        );
        assert_eq!(difference(&dump(&*store), &before), [""; 0], "breach {index}");
        // And inside a request that goes on after it, nothing of the call is left either.
        if index < BREACHES.len() {
            write(&mut *store, |rows| {
                let _refused_as_before = breach(rows);
                Ok(())
            })
            .unwrap();
            assert_eq!(
                difference(&dump(&*store), &before),
                [""; 0],
                "breach {index} in a request that goes on"
            );
        }
    }
}

fn what_belongs_to_no_entry_at_the_end_is_refused_whole(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let mut store = place.store();
    let before = dump(&*store);
    let alone: [Breach; 4] = [
        ("", |rows| rows.add_about(4, 1, &subject())),
        ("", |rows| rows.add_personal(4, 1, &personal())),
        ("", |rows| rows.add_attachment(4, 1, &file("a", b"alone"))),
        ("", |rows| rows.finish(4, 4, Digest::BEGINNING, 0)),
    ];
    for (index, (_, without)) in alone.into_iter().enumerate() {
        let mut went_on = false;
        let refused = write(&mut *store, |rows| {
            rows.set_kept_to("story", &KeptTo { version: 1, number: 1, digest: Digest::BEGINNING })?;
            without(rows)?;
            went_on = true;
            Ok(())
        });
        assert!(went_on && matches!(refused, Err(Problem::Refused { .. })), "{index}: {refused:?}");
        assert_eq!(difference(&dump(&*store), &before), [""; 0], "{index}");
        assert_eq!(store.own_check().unwrap(), [""; 0]);
    }
}

fn a_request_may_go_on_after_a_refusal(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let mut store = place.store();
    write(&mut *store, |rows| {
        rows.add_text(8, &packed())?;
        assert!(rows.add_attachment(4, 2, &file("early.csv", b"early")).is_err());
        assert!(rows.add_entry(&EntryRow { position: 9, ..next(rows) }).is_err());
        let row = EntryRow { corrects: Some(1), ..next(rows) };
        rows.add_entry(&row)
    })
    .unwrap();
    super::read(&*store, |rows| {
        let mut count = 0;
        rows.entries(&Wanted::default(), &mut |_| {
            count += 1;
            Ok(true)
        })?;
        assert_eq!((count, rows.content(Digest::of(b"early"))?), (4, None));
        assert_eq!((rows.text(8)?, rows.last()?.unwrap().corrects), (Some(packed()), Some(1)));
        Ok(())
    });
}
