//! Blanking: the texts go, an entry says so, every seal still fits.

use super::{New, assessment, fill, on_each_store, read, second, write};
use crate::{BLANKED, BLANKED_KIND, NewEntry, Problem};

on_each_store! {
    what_is_blanked_is_gone_and_every_seal_fits,
    what_cannot_be_blanked_is_told,
    nothing_is_blanked_unless_an_entry_of_this_book_says_so,
}

fn what_is_blanked_is_gone_and_every_seal_fits(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    let seal = book.head(1).unwrap().unwrap().digest;
    let said = book.blank(1, "asked for by the person", "A. Hale", second(3)).unwrap();
    assert_eq!((said.number, said.kind.as_str(), said.corrects), (4, BLANKED_KIND, Some(1)));
    let entry = book.entry(1).unwrap().unwrap();
    assert_eq!((entry.digest, entry.inputs["by"].as_str()), (seal, Some(BLANKED)));
    assert_eq!(book.persons_in(1).unwrap(), [""; 0]);
    assert_eq!(book.find("Orme").unwrap().iter().map(|entry| entry.number).collect::<Vec<_>>(), [3]);
    read(&*place.store(), |rows| {
        let row = &rows.personal(1)?[0];
        assert!(row.text.is_none() && !rows.words(1)?.unwrap().contains("Orme"));
        assert!(rows.words(1)?.unwrap().contains(BLANKED));
        Ok(())
    });
    assert_eq!(book.verify().unwrap().faults, []);
}

fn what_cannot_be_blanked_is_told(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    book.append(assessment("C-4")).unwrap();
    book.blank(1, "asked", "A. Hale", second(3)).unwrap();
    for (entry, why) in [(4, "no text about a person"), (1, "blanked already")] {
        let refused = book.blank(entry, "asked", "A. Hale", second(3)).unwrap_err();
        assert!(matches!(refused.problem, Problem::NotBlanked { .. }), "{refused}");
        assert!(refused.to_string().contains(why), "{refused}");
    }
    let unknown = book.blank(99, "asked", "A. Hale", second(3)).unwrap_err();
    assert!(matches!(unknown.problem, Problem::UnknownEntry { number: 99 }), "{unknown}");
    assert_eq!(book.verify().unwrap().entries, 5);
}

fn nothing_is_blanked_unless_an_entry_of_this_book_says_so(new: New) {
    let place = new();
    let mut book = place.begin(1);
    fill(&mut book);
    let mut store = place.store();
    let refused = |store: &mut dyn super::Store, entry| {
        let done = write(store, |rows| rows.blank(entry, "blank"));
        assert!(matches!(done, Err(Problem::Refused { .. })), "{done:?}");
    };
    refused(&mut *store, 1);
    // Another kind, or another entry, does not say so.
    book.append(NewEntry { corrects: Some(1), ..assessment("C-1") }).unwrap();
    book.append(NewEntry { kind: BLANKED_KIND.into(), corrects: Some(2), ..assessment("C-1") }).unwrap();
    refused(&mut *store, 1);
    assert_eq!(book.persons_in(1).unwrap(), ["M. Orme"]);
    // One without texts about persons has only its words put in place.
    write(&mut *store, |rows| rows.blank(4, "other words")).unwrap();
    assert_eq!(read(&*store, |rows| rows.words(4)).as_deref(), Some("other words"));
    write(&mut *store, |rows| rows.blank(2, "other words")).unwrap();
    assert_eq!(book.persons_in(2).unwrap(), [""; 0]);
}
