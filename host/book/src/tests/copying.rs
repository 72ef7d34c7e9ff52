//! Copies: whole at any moment, never over another file; what a damaged file still holds; entries taken in from elsewhere.

use std::fs;

use super::super::{Book, NewEntry, Problem, Subject};
use super::{Shelf, assessment, file, second, three_entries};

#[test]
fn a_copy_made_while_others_write_has_every_entry_that_was_acknowledged_before() {
    let shelf = Shelf::new();
    let mut writer = shelf.open();
    let acknowledged = std::sync::atomic::AtomicU32::new(0);
    std::thread::scope(|scope| {
        let writing = scope.spawn(|| {
            for count in 0..200_u8 {
                let large = file("large.csv", &vec![count; 50_000]);
                let entry =
                    writer.append(NewEntry { attachments: vec![large], ..assessment("C-1") }).unwrap();
                acknowledged.store(entry.number, std::sync::atomic::Ordering::SeqCst);
            }
        });
        for copy in 0..40 {
            let to = shelf.0.path().join(format!("copy-{copy}"));
            let before = acknowledged.load(std::sync::atomic::Ordering::SeqCst);
            let copied = shelf.open().copy_to(&to, &mut |_, _| {}).unwrap();
            assert!(copied.entries >= before, "copy {copy}: {} of {before}", copied.entries);
            let found = Book::open_read_only(&to).unwrap().verify().unwrap();
            assert_eq!((found.faults, found.entries), (vec![], copied.entries));
            assert!(!shelf.0.path().join(format!("copy-{copy}-wal")).exists(), "a copy is one file");
        }
        writing.join().unwrap();
    });
}

#[test]
fn nothing_is_copied_over_another_file_and_a_restored_book_goes_on() {
    let shelf = three_entries();
    let (copy, back) = (shelf.0.path().join("copy"), shelf.0.path().join("back"));
    shelf.open().copy_to(&copy, &mut |_, _| {}).unwrap();
    let again = shelf.open().copy_to(&copy, &mut |_, _| {}).unwrap_err();
    assert!(matches!(again.problem, Problem::InTheWay), "{again}");
    Book::restore(&copy, &back, &mut |_, _| {}).unwrap();
    let mut restored = Book::open(&back).unwrap();
    assert_eq!(restored.append(assessment("C-4")).unwrap().number, 4);
    assert!(restored.verify().unwrap().passed());
    assert_eq!(restored.identity().unwrap(), shelf.open().identity().unwrap());
    // A copy that does not verify is not worked with.
    let mut bytes = fs::read(&copy).unwrap();
    let place = bytes.windows(13).position(|window| window == b"frames of C-2").unwrap();
    bytes[place] = b'F';
    fs::write(&copy, bytes).unwrap();
    let refused = Book::restore(&copy, &shelf.0.path().join("other"), &mut |_, _| {}).unwrap_err();
    assert!(refused.to_string().contains("does not verify"), "{refused}");
    assert!(!shelf.0.path().join("other").exists());
}

#[cfg(unix)]
#[test]
fn a_book_and_its_copies_are_for_their_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let shelf = three_entries();
    let copy = shelf.0.path().join("copy");
    shelf.open().copy_to(&copy, &mut |_, _| {}).unwrap();
    for path in [shelf.path(), copy] {
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600, "{}", path.display());
    }
}

#[test]
fn what_can_be_read_of_a_damaged_book_is_saved_under_its_numbers() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    for count in 0..60 {
        let recording = book.begin_recording("C-1", second(0)).unwrap();
        book.append_recording(recording, &[count; 3_000]).unwrap();
        let attachments = vec![file("trace.csv", &[count; 5_000])];
        book.append(NewEntry { attachments, recordings: vec![recording], ..assessment("C-1") }).unwrap();
    }
    drop(book);
    let sound = fs::read(shelf.path()).unwrap();
    let pages = sound.len() / 4096;
    let mut most = 0;
    for page in (2..pages).step_by(5) {
        let mut bytes = sound.clone();
        bytes[page * 4096..(page + 1) * 4096].fill(0xA5);
        fs::write(shelf.path(), &bytes).unwrap();
        let to = shelf.0.path().join(format!("saved-{page}"));
        let Ok(saved) = Book::save_from(&shelf.path(), &to, &mut |_| {}) else { continue };
        let new = Book::open_read_only(&to).unwrap();
        let found = new.verify().unwrap();
        let named: Vec<i64> = found.faults.iter().filter_map(|fault| fault.entry).collect();
        for number in 1..=new.last().unwrap().unwrap().number {
            if !saved.damaged.contains(&number) && !named.contains(&number.into()) {
                assert_eq!(new.entry(number).unwrap().unwrap().summary, assessment("C-1").summary);
            }
        }
        assert!(saved.damaged.iter().all(|number| !found.passed() && *number > 0), "{saved:?}");
        most = most.max(saved.entries);
    }
    assert!(most >= 59, "at most {most} of 60 were saved");
}

#[test]
fn what_another_bench_wrote_is_taken_in_once_and_keeps_its_seal() {
    let (shelf, other) = (three_entries(), Shelf::new());
    let mut bench = other.open();
    let first = bench.append(assessment("C-9")).unwrap();
    let note = NewEntry { kind: "correction".into(), corrects: Some(1), ..assessment("C-9") };
    bench.append(note).unwrap();
    let recording = bench.begin_recording("C-9", second(5)).unwrap();
    bench.append_recording(recording, b"broken off").unwrap();
    let mut book = shelf.open();
    let taken = book.merge(&other.path()).unwrap();
    assert_eq!((taken.entries, taken.known, taken.recordings), (vec![4, 5], 0, 1));
    let found = book.verify().unwrap();
    assert_eq!((found.faults, found.entries), (vec![], 5));
    let (fourth, fifth) = (book.head(4).unwrap().unwrap(), book.head(5).unwrap().unwrap());
    assert_eq!(
        (fourth.digest, fourth.position, fourth.from.map(|(_, number)| number)),
        (first.digest, 1, Some(1))
    );
    assert_eq!(fifth.corrects, Some(4), "by its number here");
    assert_eq!(book.here(&fifth, 1).unwrap(), Some(4));
    assert_eq!(book.unfinished_recordings_of("C-9").unwrap()[0].length, 10);
    // Once more changes nothing; what was added there since comes along; this bench's own chain goes on.
    bench.append(NewEntry { recordings: vec![recording], ..assessment("C-9") }).unwrap();
    let again = book.merge(&other.path()).unwrap();
    assert_eq!((again.entries, again.known, again.recordings), (vec![6], 2, 0));
    assert_eq!(book.merge(&other.path()).unwrap().entries, [0; 0]);
    assert_eq!(book.append(assessment("C-4")).unwrap().position, 4);
    let found = book.verify().unwrap();
    assert_eq!((found.faults, found.entries), (vec![], 7));
    // And back: both know all that there is, each in its own order.
    assert_eq!(bench.merge(&shelf.path()).unwrap().entries, [4, 5, 6, 7]);
    assert_eq!(bench.verify().unwrap().faults, []);
    let cell = |book: &Book, name: &str| book.entries_of(&Subject::cell(name)).unwrap().len();
    assert_eq!((cell(&book, "C-9"), cell(&bench, "C-9"), cell(&bench, "C-2")), (3, 3, 1));
}

#[test]
fn a_copy_that_was_written_to_by_itself_is_told_and_nothing_of_it_taken_in() {
    let shelf = three_entries();
    let copy = shelf.0.path().join("copy");
    shelf.open().copy_to(&copy, &mut |_, _| {}).unwrap();
    Book::open(&copy).unwrap().append(assessment("C-7")).unwrap();
    shelf.open().append(assessment("C-4")).unwrap();
    let refused = shelf.open().merge(&copy).unwrap_err();
    assert!(matches!(refused.problem, Problem::Forked { entry: 4, .. }), "{refused}");
    assert_eq!(shelf.open().verify().unwrap().entries, 4);
}

#[test]
fn a_book_takes_in_none_of_the_other_sort() {
    let (shelf, other) = (three_entries(), Shelf::new());
    other.open().append(NewEntry { simulated: Some(true), ..assessment("C-9") }).unwrap();
    let refused = shelf.open().merge(&other.path()).unwrap_err();
    assert!(matches!(refused.problem, Problem::OtherSort { .. }), "{refused}");
    let refused = shelf.open().append(NewEntry { simulated: Some(true), ..assessment("C-9") }).unwrap_err();
    assert!(matches!(refused.problem, Problem::OtherSort { .. }), "{refused}");
    assert_eq!(shelf.open().verify().unwrap().entries, 3);
}

#[cfg(unix)]
#[test]
fn a_book_on_media_that_cannot_be_written_is_read() {
    use std::os::unix::fs::PermissionsExt;
    let shelf = three_entries();
    let rights = |folder: u32, file: u32| {
        fs::set_permissions(shelf.path(), fs::Permissions::from_mode(file)).unwrap();
        fs::set_permissions(shelf.0.path(), fs::Permissions::from_mode(folder)).unwrap();
    };
    rights(0o500, 0o400);
    // Root may write in spite of that; then the log is used as usual.
    let found = Book::open_read_only(shelf.path()).and_then(|book| book.verify());
    rights(0o700, 0o600);
    assert_eq!(found.unwrap().entries, 3);
}
