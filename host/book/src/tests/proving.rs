//! Proof: what a cut tail and a chain computed again show beside a checkpoint; blanked texts that leave every seal.

use super::super::sqlite::selection::selection;
use super::super::store::Wanted;
use super::super::{BLANKED, Book, Digest, Filter, NewEntry, Problem, SecretKey, Subject};
use super::{Shelf, assessment, connection, second, three_entries, without_triggers};

/// Takes the last entry out as somebody would who knows how: nothing that verification looks at is left of it.
fn cut(shelf: &Shelf) {
    without_triggers(shelf, |stranger| {
        stranger
            .execute_batch(
                "DELETE FROM content WHERE sha256 IN (SELECT sha256 FROM attachment WHERE entry = 3);
                 DELETE FROM attachment WHERE entry = 3; DELETE FROM finished_recording WHERE entry = 3;
                 DELETE FROM stream WHERE recording = 3; DELETE FROM recording_chunk WHERE recording = 3;
                 DELETE FROM recording WHERE number = 3; DELETE FROM personal WHERE entry = 3;
                 DELETE FROM about WHERE entry = 3; DELETE FROM words WHERE entry = 3;
                 DELETE FROM text WHERE number IN (6, 7); DELETE FROM entry WHERE number = 3;",
            )
            .unwrap();
    });
}

#[test]
fn a_cut_tail_passes_by_itself_and_shows_beside_a_checkpoint() {
    let shelf = three_entries();
    let noted = shelf.open().checkpoint(second(9)).unwrap();
    assert_eq!(shelf.open().held(&noted).unwrap().faults, []);
    let digest = noted.chains[0].digest;
    cut(&shelf);
    let book = shelf.open();
    assert!(book.verify().unwrap().passed(), "the chain alone cannot show it");
    for held in [book.held(&noted).unwrap(), book.held_at(3, digest).unwrap()] {
        let [fault] = &held.faults[..] else { panic!("{held:?}") };
        assert!(
            fault.what.contains("the last entries are missing: the chain had 3, now it has 2"),
            "{fault:?}"
        );
    }
}

#[test]
fn a_chain_that_was_computed_again_shows_beside_a_checkpoint() {
    let shelf = three_entries();
    let noted = shelf.open().checkpoint(second(9)).unwrap();
    cut(&shelf);
    // Another third entry, sealed as it should be.
    let other = NewEntry { fate: Some("reuse".into()), ..assessment("C-3") };
    shelf.open().append(other).unwrap();
    let book = shelf.open();
    assert!(book.verify().unwrap().passed(), "it is well made");
    assert_eq!(book.held(&noted).unwrap().faults[0].entry, Some(3));
    assert_eq!(book.held_at(2, book.head(2).unwrap().unwrap().digest).unwrap().faults, []);
    assert!(!book.held_at(2, Digest::of(b"x")).unwrap().faults.is_empty());
}

#[test]
fn a_checkpoint_of_another_book_is_none_of_this_one() {
    let (shelf, other) = (three_entries(), three_entries());
    let noted = other.open().checkpoint(second(9)).unwrap().sign(&SecretKey::of([7; 32]));
    assert!(noted.signer().is_some());
    assert!(shelf.open().held(&noted).unwrap().faults[0].what.contains("another book"));
}

#[test]
fn blanking_takes_the_name_out_of_the_file_and_leaves_every_seal() {
    let shelf = three_entries();
    let mut book = shelf.open();
    let sealed = book.verify().unwrap().last;
    for entry in 1..=3 {
        let said = book.blank(entry, "asked for by the person", "A. Hale", second(20)).unwrap();
        assert_eq!((said.kind.as_str(), said.corrects), ("blanked", Some(entry)));
        assert_eq!(book.entry(entry).unwrap().unwrap().inputs["by"], BLANKED);
    }
    let found = book.verify().unwrap();
    assert_eq!((found.faults, found.entries), (vec![], 6));
    assert_eq!(book.entry(3).unwrap().unwrap().digest, sealed.unwrap(), "the seal is the old one");
    assert!(book.find("Orme").unwrap().is_empty(), "and no search finds the name");
    assert_eq!(book.find("Hale").unwrap().len(), 3);
    drop(book);
    for file in std::fs::read_dir(shelf.0.path()).unwrap() {
        let path = file.unwrap().path();
        let bytes = std::fs::read(&path).unwrap();
        assert!(!bytes.windows(4).any(|window| window == b"Orme"), "{}", path.display());
    }
}

#[test]
fn what_cannot_be_blanked_is_told_and_stays() {
    let shelf = three_entries();
    let mut book = shelf.open();
    book.append(assessment("C-4")).unwrap();
    book.blank(1, "asked", "A. Hale", second(20)).unwrap();
    for (entry, why) in [(4, "no text about a person"), (1, "blanked already"), (99, "no entry 99")] {
        let refused = book.blank(entry, "asked", "A. Hale", second(20)).unwrap_err();
        assert!(refused.to_string().contains(why), "{entry}: {refused}");
    }
    assert_eq!(book.verify().unwrap().entries, 5);
    let marked =
        NewEntry { personal: vec!["M. Orme".into()], summary: "a \u{E000} b".into(), ..assessment("C-1") };
    assert!(matches!(book.append(marked).unwrap_err().problem, Problem::BadText { .. }));
}

#[test]
fn what_was_recorded_before_an_entry_is_sealed_by_it_though_unfinished() {
    let shelf = Shelf::new();
    let mut book = shelf.open();
    let recording = book.begin_recording("C-1", second(0)).unwrap();
    book.append_recording(recording, b"broken off").unwrap();
    book.append(assessment("C-2")).unwrap();
    drop(book);
    let stranger = shelf.stranger();
    stranger.execute_batch("DROP TRIGGER recording_chunk_keeps").unwrap();
    stranger.execute("UPDATE recording_chunk SET bytes = x'00'", []).unwrap();
    let found = Book::open_read_only(shelf.path()).unwrap().verify().unwrap();
    assert!(found.faults.iter().any(|fault| fault.what.contains("recording 1 was changed")), "{found:?}");
}

#[test]
fn a_selection_reads_the_part_of_an_index_that_it_needs() {
    let shelf = three_entries();
    let book = shelf.open();
    let plan = |statement: &str| -> String {
        let mut prepared = connection(&book).prepare(&format!("EXPLAIN QUERY PLAN {statement}")).unwrap();
        let (mut lines, mut told) = (prepared.raw_query(), Vec::new());
        while let Some(line) = lines.next().unwrap() {
            told.push(line.get::<_, String>(3).unwrap());
        }
        told.join("; ")
    };
    let subject = Subject::cell("C-1");
    let (about, _) = selection(&Wanted { subject: Some(&subject), newest_first: true, ..Wanted::default() });
    let told = plan(&about);
    assert!(
        told.contains("about_subject") && !told.contains("SCAN") && !told.contains("TEMP B-TREE"),
        "{told}"
    );
    let told = plan("SELECT number FROM entry WHERE kind = 'x' ORDER BY number DESC LIMIT 1");
    assert!(told.contains("entry_kind") && !told.contains("TEMP B-TREE"), "{told}");
    assert_eq!(book.heads(&Filter { limit: Some(1), ..Filter::default() }).unwrap().len(), 1);
}
