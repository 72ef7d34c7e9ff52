//! Backups, what is restored from them, what is saved from a damaged file, and the entries of another bench.

use super::*;
use crate::KeepingFault;
use crate::copies::{CopyStep, rescue, restore};
use celltriage_book::{BookError, NewEntry, Problem, SubjectKind};
use std::fs;
use std::path::Path;

fn keeping<T: std::fmt::Debug>(done: Result<T, Fault>) -> KeepingFault {
    match done.unwrap_err() {
        Fault::Keeping(fault) => fault,
        other => panic!("another fault: {other}"),
    }
}

fn cells(place: &Place, names: &[&str]) {
    let mut shop = place.shop();
    for name in names {
        assessed(&mut shop, name, Fate::Recycle, CellState::Intact);
    }
}

fn nothing(_: CopyStep) {}

#[test]
fn a_backup_says_what_it_has_and_is_verified_whole_where_asked() {
    let place = Place::new();
    cells(&place, &["PE-1", "PE-2"]);
    let shop = place.shop();
    let to = place.file("copy.sqlite");
    let mut steps = Vec::new();
    let copy = shop.back_up(&to, true, &mut |step| steps.push(step)).unwrap();
    assert_eq!((copy.copied.entries, copy.last), (2, Some(shop.entry(2).unwrap().digest)));
    assert!(copy.found.unwrap().passed());
    assert_eq!(steps.last(), Some(&CopyStep::Verifies));
    assert!(shop.back_up(&place.file("other"), false, &mut nothing).unwrap().found.is_none());
    let before = fs::read(&to).unwrap();
    assert!(matches!(keeping(shop.back_up(&to, false, &mut nothing)), KeepingFault::InTheWay { .. }));
    assert_eq!(fs::read(&to).unwrap(), before, "and it is as it was");
}

#[test]
fn a_backup_of_a_book_that_was_changed_says_so() {
    let place = Place::new();
    cells(&place, &["PE-1", "PE-2"]);
    // Before it is opened: what SQLite has in memory it would copy from there.
    spoil(&place.book());
    let shop = place.shop();
    let copy = shop.back_up(&place.file("copy"), true, &mut nothing).unwrap();
    assert!(!copy.found.unwrap().passed());
}

/// Changes a letter of the first entry's summary past the book.
fn spoil(book: &Path) {
    let summary = Book::open_read_only(book).unwrap().head(1).unwrap().unwrap().summary;
    let mut bytes = fs::read(book).unwrap();
    let text = summary.as_bytes();
    let at = bytes.windows(text.len()).position(|window| window == text).expect("the summary stands there");
    bytes[at] = b'!';
    fs::write(book, bytes).unwrap();
}

#[test]
fn a_book_is_restored_only_where_nothing_of_another_one_lies() {
    let place = Place::new();
    cells(&place, &["PE-1", "PE-2"]);
    let copy = place.file("copy");
    place.shop().back_up(&copy, false, &mut nothing).unwrap();
    let refused = keeping(restore(&copy, &place.book(), &mut nothing));
    assert!(matches!(refused, KeepingFault::InTheWay { file } if file == place.book()));
    fs::remove_file(place.book()).unwrap();
    for left in ["book.sqlite-wal", "book.sqlite-shm", "book.sqlite-journal"] {
        let left = place.file(left);
        fs::write(&left, b"of the book that was here").unwrap();
        let refused = keeping(restore(&copy, &place.book(), &mut nothing));
        assert!(matches!(refused, KeepingFault::LeftOver { file } if file == left));
        assert!(!place.book().exists() && left.exists());
        fs::remove_file(left).unwrap();
    }
    let restored = restore(&copy, &place.book(), &mut nothing).unwrap();
    assert_eq!(restored.copied.entries, 2);
    cells(&place, &["PE-3"]);
    assert!(place.shop().verify().unwrap().passed());
}

#[test]
fn a_spoilt_copy_is_not_restored() {
    let place = Place::new();
    cells(&place, &["PE-1"]);
    let copy = place.file("copy");
    place.shop().back_up(&copy, false, &mut nothing).unwrap();
    spoil(&copy);
    fs::remove_file(place.book()).unwrap();
    let refused = restore(&copy, &place.book(), &mut nothing).unwrap_err();
    assert!(refused.to_string().contains("does not verify"), "{refused}");
    assert!(!place.book().exists());
}

#[test]
fn what_is_lost_of_a_damaged_book_is_told_by_number_and_the_rest_is_saved() {
    let place = Place::new();
    let mut book = Book::open(place.book()).unwrap();
    let now = NOON.parse().unwrap();
    let entry = |number: u32| NewEntry {
        summary: format!("{}note {number}", "of a long day ".repeat(20)),
        ..NewEntry::of("note", celltriage_book::Subject::new(SubjectKind::Cell, "PE-1"), now)
    };
    book.append_all((1..=60).map(entry).collect()).unwrap();
    drop(book);
    let sound = rescue(&place.book(), &place.file("sound"), &mut nothing).unwrap();
    assert!(sound.is_whole() && sound.saved.entries == 60 && sound.last == 60, "{sound:?}");
    let bytes = fs::read(place.book()).unwrap();
    let (mut told, mut saved_some) = (0, 0);
    for page in 1..bytes.len() / 4096 {
        let mut spoilt = bytes.clone();
        spoilt[page * 4096..(page + 1) * 4096].fill(0xA5);
        let (from, to) = (place.file("damaged"), place.file(&format!("saved-{page}")));
        fs::write(&from, &spoilt).unwrap();
        let Ok(rescued) = rescue(&from, &to, &mut nothing) else {
            assert!(!to.exists(), "where nothing can be read there is no new file");
            continue;
        };
        let book = Book::open_read_only(&to).unwrap();
        // Whatever the new book's verification finds was told: as lost, as saved in part, or as changed.
        let found = book.verify().unwrap();
        assert!(found.passed() || !rescued.is_whole(), "page {page}: {rescued:?} {found:?}");
        assert!(rescued.lost.iter().all(|number| book.head(*number).unwrap().unwrap().kind == "lost"));
        told += usize::from(!rescued.lost.is_empty());
        saved_some += usize::from(rescued.saved.entries > 0);
    }
    assert!(told > 0 && saved_some > 5, "{told} {saved_some}");
}

#[test]
fn the_entries_of_another_bench_come_once_with_their_bench_and_number() {
    let (here, there) = (Place::new(), Place::new());
    cells(&here, &["PE-1", "PE-2"]);
    drop(Book::open_at(there.book(), celltriage_book::PATIENCE, "left bench").unwrap());
    cells(&there, &["PE-8", "PE-9"]);
    let mut shop = here.shop();
    let taken = shop.merge(&there.book(), &mut nothing).unwrap();
    assert_eq!((taken.merged.entries, taken.merged.known), (vec![3, 4], 0));
    assert_eq!(taken.benches, [("left bench".to_owned(), 2)].into());
    let again = shop.merge(&there.book(), &mut nothing).unwrap();
    assert_eq!((again.merged.entries, again.merged.known, again.benches.len()), (vec![], 2, 0));
    let origins = shop.origins().unwrap();
    let origin = origins.of(&shop.entry(4).unwrap()).unwrap();
    assert_eq!(
        (origin.bench_in_words().as_str(), origin.from.map(|(_, number)| number)),
        ("left bench", Some(2))
    );
    assert_eq!(origins.of(&shop.entry(2).unwrap()), None);
    assert!(shop.verify().unwrap().passed());
    assert_eq!(shop.story("PE-9", &here.rules).unwrap().happened.len(), 1);
}

#[test]
fn two_benches_called_the_same_are_told_apart() {
    let (here, there) = (Place::new(), Place::new());
    cells(&here, &["PE-1"]);
    cells(&there, &["PE-9"]);
    let mut shop = here.shop();
    shop.merge(&there.book(), &mut nothing).unwrap();
    let origin = shop.origins().unwrap().of(&shop.entry(2).unwrap()).unwrap();
    assert_eq!(origin.bench_in_words(), format!("bench 1 (chain {})", origin.chain.short()));
}

#[test]
fn what_does_not_verify_or_was_written_to_beside_the_book_is_not_taken_in() {
    let (here, there) = (Place::new(), Place::new());
    cells(&here, &["PE-1"]);
    cells(&there, &["PE-9"]);
    spoil(&there.book());
    let mut shop = here.shop();
    let refused = keeping(shop.merge(&there.book(), &mut nothing));
    assert!(matches!(&refused, KeepingFault::NotVerified { faults, .. } if !faults.is_empty()));
    let copy = here.file("copy");
    shop.back_up(&copy, false, &mut nothing).unwrap();
    let mut of_the_copy = Workshop::new(Book::open(&copy).unwrap(), &here.clock, TimeZone::UTC);
    assessed(&mut of_the_copy, "PE-2", Fate::Reuse, CellState::Intact);
    assessed(&mut shop, "PE-3", Fate::Recycle, CellState::Intact);
    let refused = shop.merge(&copy, &mut nothing).unwrap_err();
    assert!(
        matches!(refused, Fault::Book(BookError { problem: Problem::Forked { entry: 2, .. }, .. })),
        "{refused}"
    );
    assert_eq!(shop.verify().unwrap().entries, 2);
}
