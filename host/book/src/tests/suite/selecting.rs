//! Selections: what restricts, in which order, how many; and the order of names.

use super::{Book, New, assessment, file, on_each_store, read, second, write};
use crate::store::{Rows, Wanted};
use crate::{NewEntry, Subject, SubjectKind};

on_each_store! {
    each_restriction_restricts_and_all_together,
    a_search_looks_for_the_very_text,
    what_follows_a_nul_is_not_searched,
    an_entry_that_names_a_subject_twice_is_heard_once,
    names_are_in_the_order_of_their_code_points,
}

/// Six entries: two cells in turn, of three kinds, the first without a fate.
fn six(book: &mut Book) {
    for (index, kind) in ["look", "assessment", "look", "note", "assessment", "look"].iter().enumerate() {
        let cell = ["C-1", "C-2"][index % 2];
        let entry = NewEntry {
            kind: (*kind).into(),
            at: second(index as i64),
            fate: [None, Some("reuse".to_owned()), Some("recycle".to_owned())][index % 3].clone(),
            about: vec![Subject::new(SubjectKind::Model, "flat")],
            attachments: vec![file("a", b"a")],
            ..assessment(cell)
        };
        book.append(entry).unwrap();
    }
}

fn numbers(rows: &dyn Rows, wanted: Wanted<'_>) -> Vec<i64> {
    let mut found = Vec::new();
    rows.entries(&wanted, &mut |row| {
        found.push(row.number);
        Ok(true)
    })
    .unwrap();
    found
}

fn each_restriction_restricts_and_all_together(new: New) {
    let place = new();
    six(&mut place.begin(1));
    let (cell, model) = (Subject::cell("C-1"), Subject::new(SubjectKind::Model, "flat"));
    let not_a_cell = Subject::new(SubjectKind::Model, "C-1");
    let ms = |seconds| Some(second(seconds).as_millisecond());
    let all = Wanted::default();
    read(&*place.store(), |rows| {
        let cases: [(Wanted<'_>, &[i64]); 17] = [
            (all, &[1, 2, 3, 4, 5, 6]),
            (Wanted { newest_first: true, ..all }, &[6, 5, 4, 3, 2, 1]),
            (Wanted { limit: Some(2), ..all }, &[1, 2]),
            (Wanted { limit: Some(2), newest_first: true, ..all }, &[6, 5]),
            (Wanted { limit: Some(0), ..all }, &[]),
            (Wanted { after: Some(4), ..all }, &[5, 6]),
            (Wanted { after: Some(-1), limit: Some(1), ..all }, &[1]),
            (Wanted { subject: Some(&cell), ..all }, &[1, 3, 5]),
            (Wanted { subject: Some(&cell), newest_first: true, limit: Some(2), ..all }, &[5, 3]),
            (Wanted { subject: Some(&model), after: Some(3), ..all }, &[4, 5, 6]),
            (Wanted { subject: Some(&not_a_cell), ..all }, &[]),
            (Wanted { kind: Some("look"), ..all }, &[1, 3, 6]),
            (Wanted { kind: Some("Look"), ..all }, &[]),
            (Wanted { fate: Some("reuse"), ..all }, &[2, 5]),
            (Wanted { since_ms: ms(2), until_ms: ms(4), ..all }, &[3, 4]),
            (Wanted { words: Some("c-2: capacity"), ..all }, &[2, 4, 6]),
            (
                Wanted {
                    subject: Some(&cell),
                    kind: Some("assessment"),
                    fate: Some("reuse"),
                    since_ms: ms(1),
                    until_ms: ms(9),
                    words: Some("CAPACITY"),
                    after: Some(1),
                    newest_first: true,
                    limit: Some(9),
                },
                &[5],
            ),
        ];
        for (index, (wanted, expected)) in cases.into_iter().enumerate() {
            assert_eq!(numbers(rows, wanted), expected, "case {index}");
        }
        Ok(())
    });
}

fn a_search_looks_for_the_very_text(new: New) {
    let place = new();
    let mut book = place.begin(1);
    for note in ["100 %", "a_b", r"c\d", "Größe", "it's \"so\""] {
        book.append(NewEntry { inputs: serde_json::json!({ "note": note }), ..assessment("C-1") }).unwrap();
    }
    read(&*place.store(), |rows| {
        let found = |text| numbers(rows, Wanted { words: Some(text), ..Wanted::default() });
        assert_eq!((found("%"), found("_"), found(r"\")), (vec![1], vec![2], vec![3]));
        assert_eq!((found("A_B"), found(r"C\D"), found("axb")), (vec![2], vec![3], vec![]));
        // Only the letters a to z match their capitals.
        assert_eq!((found("größe"), found("GRÖSSE"), found("GRÖßE")), (vec![4], vec![], vec![]));
        assert_eq!((found("'"), found("\""), found("note")), (vec![5], vec![5], vec![]));
        assert_eq!(found(""), [1, 2, 3, 4, 5]);
        Ok(())
    });
}

fn what_follows_a_nul_is_not_searched(new: New) {
    let place = new();
    let mut book = place.begin(1);
    let inputs = serde_json::json!({ "note": "before\0after" });
    let entry = book.append(NewEntry { inputs: inputs.clone(), ..assessment("C-1") }).unwrap();
    assert_eq!(entry.inputs, inputs, "it is kept whole");
    read(&*place.store(), |rows| {
        assert!(rows.words(1)?.unwrap().contains("before\0after"));
        for (text, expected) in [("before", vec![1]), ("after", vec![]), ("\0", vec![]), ("C-1\0", vec![])] {
            let wanted = Wanted { words: Some(text), ..Wanted::default() };
            assert_eq!(numbers(rows, wanted), expected, "{text:?}");
        }
        Ok(())
    });
    assert!(book.verify().unwrap().passed());
}

fn an_entry_that_names_a_subject_twice_is_heard_once(new: New) {
    let place = new();
    six(&mut place.begin(1));
    let mut store = place.store();
    let cell = Subject::cell("C-7");
    write(&mut *store, |rows| {
        for number in [7, 8] {
            (1..4).try_for_each(|position| rows.add_about(number, position, &cell))?;
            let row = rows.last()?.unwrap();
            let position = row.position + 1;
            rows.add_entry(&crate::store::EntryRow { number, position, origin_number: number, ..row })?;
        }
        Ok(())
    })
    .unwrap();
    read(&*store, |rows| {
        let wanted = Wanted { subject: Some(&cell), limit: Some(2), ..Wanted::default() };
        assert_eq!(numbers(rows, wanted), [7, 8]);
        assert_eq!(numbers(rows, Wanted { newest_first: true, ..wanted }), [8, 7]);
        assert_eq!(rows.about(7)?.len(), 3);
        Ok(())
    });
}

fn names_are_in_the_order_of_their_code_points(new: New) {
    let place = new();
    let mut book = place.begin(1);
    for name in ["b", "a", "B", "ä", "C-10", "C-2", "\u{10400}", "\u{ff5e}", "a", "z"] {
        book.append(assessment(name)).unwrap();
    }
    let expected = ["B", "C-10", "C-2", "a", "b", "z", "ä", "\u{ff5e}", "\u{10400}"];
    assert_eq!(book.names(SubjectKind::Cell).unwrap(), expected);
    assert!(book.names(SubjectKind::Model).unwrap().is_empty());
}
