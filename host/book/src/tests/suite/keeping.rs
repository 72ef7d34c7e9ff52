//! Kept folds: put in place, found by label and rank, forgotten, and never believed beside other entries.

use super::{New, assessment, fill, on_each_store, read, second, write};
use crate::store::{KeptRow, KeptTo, RowsMut};
use crate::texts::Packed;
use crate::{Book, Change, Digest, Fold, Problem};

pub(super) const STORY: Fold = Fold { name: "story", version: 1 };

on_each_store! {
    what_is_kept_is_found_by_key_and_by_label,
    a_value_takes_the_place_of_another_with_its_labels,
    what_is_kept_goes_with_its_entry_or_not_at_all,
    folds_are_apart_and_are_forgotten_one_by_one,
    a_kept_value_that_is_not_its_own_is_told,
}

fn change(key: &str, value: &str, labels: &[(&str, i64)]) -> Change {
    let labels = labels.iter().map(|(label, rank)| ((*label).to_owned(), *rank)).collect();
    Change { key: key.into(), value: Some(value.into()), labels }
}

/// Keeps two values up to the last entry.
pub(super) fn keep_some(book: &mut Book) {
    let last = book.last().unwrap().unwrap().number;
    let changes =
        [change("C-1", "one", &[("open", 3), ("all", 1)]), change("C-2", "two", &[("all", 2), ("all", 5)])];
    assert!(book.keep(STORY, 0, last, &changes).unwrap());
}

fn what_is_kept_is_found_by_key_and_by_label(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    assert_eq!(book.kept_to(STORY).unwrap(), 0);
    let changes = [
        change("b", "", &[("all", 1), ("kind/x", 0)]),
        change("a", "A", &[("all", 1), ("kind/y", 0)]),
        change("c", "\u{0}ü", &[("all", i64::MAX), ("kind", 0), ("other", i64::MIN)]),
        change("", "of the empty key", &[("all", i64::MIN)]),
    ];
    assert!(book.keep(STORY, 0, 3, &changes).unwrap());
    assert!(!book.keep(STORY, 0, 3, &changes).unwrap(), "somebody kept it meanwhile");
    assert!(!book.keep(STORY, 3, 9, &[]).unwrap(), "there is no such entry");
    assert_eq!(book.kept_to(STORY).unwrap(), 3);
    assert_eq!(book.kept_to(Fold { version: 2, ..STORY }).unwrap(), 0);
    let kept = |key| book.kept(STORY, key).unwrap();
    assert_eq!((kept("a"), kept("b"), kept("z")), (Some("A".into()), Some("".into()), None));
    assert_eq!((kept("c"), kept("")), (Some("\u{0}ü".into()), Some("of the empty key".into())));
    let under = |label, most| book.kept_under(STORY, label, most).unwrap();
    assert_eq!(under("all", None), ["c", "a", "b", ""]);
    assert_eq!(
        (under("all", Some(2)), under("all", Some(0)), under("al", None)),
        (vec!["c".into(), "a".into()], vec![], vec![])
    );
    let labels = |beginning| book.kept_labels(STORY, beginning).unwrap();
    let named = |names: &[(&str, u64)]| -> Vec<(String, u64)> {
        names.iter().map(|(name, count)| ((*name).to_owned(), *count)).collect()
    };
    assert_eq!(labels("kind"), named(&[("kind", 1), ("kind/x", 1), ("kind/y", 1)]));
    assert_eq!((labels("kind/"), labels("KIND")), (named(&[("kind/x", 1), ("kind/y", 1)]), vec![]));
    assert_eq!(labels(""), named(&[("all", 4), ("kind", 1), ("kind/x", 1), ("kind/y", 1), ("other", 1)]));
    let mut all = Vec::new();
    book.each_kept(STORY, &mut |change| all.push(change)).unwrap();
    let keys: Vec<&str> = all.iter().map(|change| change.key.as_str()).collect();
    assert_eq!(keys, ["", "a", "b", "c"]);
    assert_eq!(all[3].labels, [("all".into(), i64::MAX), ("kind".into(), 0), ("other".into(), i64::MIN)]);
}

fn a_value_takes_the_place_of_another_with_its_labels(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    keep_some(&mut book);
    let taken_out = Change { key: "C-2".into(), value: None, labels: vec![("all".into(), 9)] };
    assert!(book.keep(STORY, 3, 3, &[change("C-1", "new", &[("closed", 1)]), taken_out]).unwrap());
    assert_eq!(book.kept(STORY, "C-1").unwrap().as_deref(), Some("new"));
    assert_eq!(
        (book.kept(STORY, "C-2").unwrap(), book.kept_under(STORY, "all", None).unwrap()),
        (None, vec![])
    );
    assert_eq!(book.kept_labels(STORY, "").unwrap(), [("closed".to_owned(), 1)]);
}

fn what_is_kept_goes_with_its_entry_or_not_at_all(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    keep_some(&mut book);
    let changes = [change("C-1", "after", &[])];
    let grown = book.append_keeping(assessment("C-1"), 2, (STORY, 3), &changes).unwrap_err();
    assert!(matches!(grown.problem, Problem::Grown));
    let bad = super::NewEntry { kind: "".into(), ..assessment("C-1") };
    assert!(book.append_keeping(bad, 3, (STORY, 3), &changes).is_err());
    assert_eq!((book.kept_to(STORY).unwrap(), book.kept(STORY, "C-1").unwrap().unwrap()), (3, "one".into()));
    assert_eq!(book.append_keeping(assessment("C-1"), 3, (STORY, 3), &changes).unwrap().number, 4);
    assert_eq!(
        (book.kept_to(STORY).unwrap(), book.kept(STORY, "C-1").unwrap().unwrap()),
        (4, "after".into())
    );
    // Where the fold was kept up to another entry, the entry is written and nothing kept.
    assert_eq!(book.append_keeping(assessment("C-1"), 4, (STORY, 2), &[]).unwrap().number, 5);
    assert_eq!(book.kept_to(STORY).unwrap(), 4);
}

fn folds_are_apart_and_are_forgotten_one_by_one(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    keep_some(&mut book);
    let count = Fold { name: "count", version: 7 };
    assert!(book.keep(count, 0, 2, &[change("C-1", "2", &[("all", 0)])]).unwrap());
    assert_eq!(
        book.kept_labels(STORY, "all").unwrap(),
        [("all".to_owned(), 3)],
        "a key with two ranks twice"
    );
    book.forget_kept(STORY).unwrap();
    assert_eq!((book.kept_to(STORY).unwrap(), book.kept(STORY, "C-1").unwrap()), (0, None));
    assert!(book.kept_labels(STORY, "").unwrap().is_empty());
    assert_eq!((book.kept_to(count).unwrap(), book.kept(count, "C-1").unwrap()), (2, Some("2".into())));
    keep_some(&mut book);
    // What is blanked may be in anything kept.
    book.blank(1, "asked", "A. Hale", second(3)).unwrap();
    assert_eq!((book.kept_to(STORY).unwrap(), book.kept_to(count).unwrap()), (0, 0));
    assert!(book.kept_labels(count, "").unwrap().is_empty());
}

fn a_kept_value_that_is_not_its_own_is_told(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    keep_some(&mut book);
    let mut store = place.store();
    let row = |text: &str| KeptRow { packed: Packed::of(text), digest: Digest::of(text.as_bytes()) };
    write(&mut *store, |rows: &mut dyn RowsMut| rows.set_kept("story", "C-1", Some(&row("forged")), &[]))
        .unwrap();
    let told = book.kept(STORY, "C-1").unwrap_err();
    assert!(matches!(told.problem, Problem::KeptDamaged { fold: "story", .. }), "{told}");
    assert!(book.each_kept(STORY, &mut |_| {}).is_err());
    // An entry of another digest is another entry, whatever its number.
    write(&mut *store, |rows| {
        rows.set_kept_to("story", &KeptTo { version: 1, number: 3, digest: Digest::of(b"another") })
    })
    .unwrap();
    assert_eq!(
        (book.kept_to(STORY).unwrap(), read(&*store, |rows| rows.kept_to("story")).unwrap().number),
        (0, 3)
    );
}
