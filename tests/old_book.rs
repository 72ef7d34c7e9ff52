//! A book of format 1, as the program wrote it then, in today's hands: real and simulated cells in one, judged, boxed,
//! watched, struck, drafted. The file is frozen.

use celltriage_book::{Book, Digest, Filter, Sort, Subject, SubjectKind};
use celltriage_custody::State;
use celltriage_tests::{NOON, Shop};
use std::path::{Path, PathBuf};

const LAST: &str = "e965c22aefa55b9db7b0df9cec5142d2687e07926904b4b4a1f83a3306be775d";

/// The book, copied to where it may be written.
fn old_book(folder: &Path) -> PathBuf {
    let path = folder.join("book.sqlite");
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("books/format_1.sqlite");
    std::fs::copy(from, &path).expect("copied");
    path
}

#[test]
fn it_is_copied_beside_before_it_is_changed_and_verifies_as_before() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = old_book(folder.path());
    let before = std::fs::read(&path).expect("read");
    let book = Book::open(&path).expect("opened");
    let found = book.verify().expect("verified");
    let last: Digest = LAST.parse().expect("a digest");
    assert_eq!((found.faults, found.entries, found.last), (vec![], 14, Some(last)));
    let copy = folder.path().join("book.sqlite.before-format-2");
    // But for the first 100 bytes, where SQLite counts changes.
    let copied = std::fs::read(&copy).expect("a copy");
    assert!(copied.len() == before.len() && copied[100..] == before[100..], "the copy is the old file");
    #[cfg(unix)]
    for file in [&path, &copy] {
        let mode = std::os::unix::fs::MetadataExt::mode(&std::fs::metadata(file).expect("there"));
        assert_eq!(mode & 0o777, 0o600, "{}", file.display());
    }
    // Two copies of one old book are one book, wherever they are brought up to date.
    let elsewhere = tempfile::tempdir().expect("a folder");
    let other = Book::open(old_book(elsewhere.path())).expect("opened");
    assert_eq!(book.identity().expect("read"), other.identity().expect("read"));
    assert_eq!(book.identity().expect("read").sort, Some(Sort::Mixed));
}

#[test]
fn what_each_entry_is_about_is_worked_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let book = Book::open(old_book(folder.path())).expect("opened");
    let about = |kind, name: &str| -> Vec<u32> {
        let filter = Filter { about: Some(Subject::new(kind, name)), ..Filter::default() };
        book.heads(&filter).expect("read").iter().map(|head| head.number).collect()
    };
    assert_eq!(about(SubjectKind::Cell, "PE-0501"), [9, 8, 6, 4, 1], "the shipment's draft names it too");
    assert_eq!(about(SubjectKind::Container, "BOX"), [9, 6, 5]);
    assert_eq!(about(SubjectKind::Shipment, "S-1"), [14, 9]);
    assert_eq!(about(SubjectKind::Cell, "PE-0504"), [11, 3]);
    let simulated: Vec<_> = (1..=14)
        .filter(|number| book.head(*number).expect("read").expect("there").simulated == Some(true))
        .collect();
    assert_eq!(simulated, [3, 10, 12, 13]);
}

#[test]
fn what_is_known_of_its_cells_is_what_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut book = Book::open(old_book(folder.path())).expect("opened");
    let folded = State::read(&book).expect("read");
    let cell = |name: &str| folded.cells.get(name).expect("known");
    assert_eq!(cell("PE-0501").container(), Some("BOX"));
    assert!(cell("PE-0502").watch.is_some() && cell("PE-0502").known()[0].words().contains("swollen"));
    assert!(cell("PE-0505").escalated && cell("PE-0505").is_simulated());
    assert_eq!(folded.struck[&3].because, "wrong tag");
    State::keep_up(&mut book, &mut |_| {}).expect("kept");
    assert_eq!(State::read(&book).expect("read").cells, folded.cells, "what is kept says the same");
}

#[test]
fn every_command_goes_on_with_it_and_its_decisions_recompute() {
    let shop = Shop::new();
    old_book(shop.folder());
    // A command that only reads brings it up to date too, and says so.
    let due = shop.at(NOON, "due", &[]);
    assert!(due.code == 0 && due.out.contains("PE-0502"), "{}{}", due.out, due.err);
    for entry in ["1", "2", "3", "10"] {
        let call = shop.at(NOON, "book recompute", &[entry]);
        assert!(call.code == 0, "{entry}: {}{}", call.out, call.err);
    }
    let story = shop.at(NOON, "book show PE-0501", &[]);
    assert!(story.code == 0 && story.out.contains("BOX"), "{}{}", story.out, story.err);
    assert_eq!(shop.at(NOON, "book verify", &[]).code, 0);
}
