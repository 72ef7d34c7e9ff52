//! Checkpoints and keys away from the book, what they show later, and names that are blanked.

use super::*;
use crate::KeepingFault;
use crate::expected::Expected;
use crate::key_file::{new_key, read_key};
use celltriage_book::{BLANKED, SecretKey};
use std::fs;

fn keeping<T: std::fmt::Debug>(done: Result<T, Fault>) -> KeepingFault {
    match done.unwrap_err() {
        Fault::Keeping(fault) => fault,
        other => panic!("another fault: {other}"),
    }
}

fn write(place: &Place, cell: &str) -> u32 {
    assessed(&mut place.shop(), cell, Fate::Recycle, CellState::Intact)
}

/// Puts back an older copy of the book, as somebody would who wants the last entries away.
fn put_back(place: &Place, copy: &std::path::Path) {
    for ending in ["", "-wal", "-shm"] {
        let _may_not_be_there = fs::remove_file(place.file(&format!("book.sqlite{ending}")));
    }
    crate::copies::restore(copy, &place.book(), &mut |_| {}).unwrap();
}

#[test]
fn entries_that_were_cut_off_or_written_again_show_beside_what_was_noted_and_not_without() {
    let (place, elsewhere) = (Place::new(), tempfile::tempdir().unwrap());
    write(&place, "PE-1");
    let copy = place.file("copy");
    place.shop().back_up(&copy, false, &mut |_| {}).unwrap();
    write(&place, "PE-2");
    let file = elsewhere.path().join("noted");
    let shop = place.shop();
    let noted = shop.checkpoint(None).unwrap();
    shop.note(&noted, &file).unwrap();
    let head = &noted.chains[0];
    let on_paper = format!("{}:{}", head.entries, head.digest);
    drop(shop);
    let compared = |given: &str| {
        let shop = place.shop();
        assert!(shop.verify().unwrap().passed(), "by itself the book is well made");
        let all = shop.compare(&Expected::read(given).unwrap(), None).unwrap();
        all.into_iter().flat_map(|one| one.faults).map(|fault| fault.what).collect::<Vec<_>>()
    };
    let file = file.to_str().unwrap();
    assert_eq!((compared(file), compared(&on_paper)), (vec![], vec![]));
    put_back(&place, &copy);
    for given in [file, &on_paper] {
        let told = compared(given);
        assert!(told.len() == 1 && told[0].contains("the last entries are missing"), "{told:?}");
    }
    write(&place, "PE-7");
    for given in [file, &on_paper] {
        let told = compared(given);
        assert!(told.len() == 1 && told[0].contains("is not the one that was written"), "{told:?}");
    }
}

#[test]
fn a_file_of_checkpoints_only_grows_and_none_is_put_below_one_that_does_not_hold() {
    let (place, elsewhere) = (Place::new(), tempfile::tempdir().unwrap());
    let file = elsewhere.path().join("noted");
    write(&place, "PE-1");
    let copy = place.file("copy");
    place.shop().back_up(&copy, false, &mut |_| {}).unwrap();
    for cell in ["PE-2", "PE-3"] {
        write(&place, cell);
        let shop = place.shop();
        shop.note(&shop.checkpoint(None).unwrap(), &file).unwrap();
    }
    let Expected::Checkpoints { all, .. } = Expected::read(file.to_str().unwrap()).unwrap() else { panic!() };
    assert_eq!(all.iter().map(|one| one.chains[0].entries).collect::<Vec<_>>(), [2, 3]);
    put_back(&place, &copy);
    let before = fs::read(&file).unwrap();
    let shop = place.shop();
    let refused = keeping(shop.note(&shop.checkpoint(None).unwrap(), &file));
    assert!(matches!(refused, KeepingFault::NotHeld { .. }));
    // Nor below those of another book, nor below something else.
    let other = Place::new();
    write(&other, "PE-1");
    let of_other = other.shop();
    let refused = keeping(of_other.note(&of_other.checkpoint(None).unwrap(), &file));
    assert!(matches!(refused, KeepingFault::OfAnotherBook { .. }));
    assert_eq!(fs::read(&file).unwrap(), before);
    let (begun, first) = (Place::new(), elsewhere.path().join("first"));
    let empty = begun.shop();
    let refused = keeping(empty.note(&empty.checkpoint(None).unwrap(), &first));
    assert!(matches!(refused, KeepingFault::NothingToNote) && !first.exists());
    let letter = elsewhere.path().join("letter");
    fs::write(&letter, "Dear Ines,\n").unwrap();
    let refused = keeping(shop.note(&shop.checkpoint(None).unwrap(), &letter));
    assert!(matches!(refused, KeepingFault::NotCheckpoints { .. }));
    assert_eq!(fs::read_to_string(&letter).unwrap(), "Dear Ines,\n");
}

#[cfg(unix)]
#[test]
fn neither_checkpoint_nor_key_lies_beside_the_book_by_whatever_name() {
    let (place, elsewhere) = (Place::new(), tempfile::tempdir().unwrap());
    write(&place, "PE-1");
    let shop = place.shop();
    let noted = shop.checkpoint(None).unwrap();
    let folder = place.book().parent().unwrap().to_owned();
    let link = elsewhere.path().join("link");
    std::os::unix::fs::symlink(&folder, &link).unwrap();
    let of_book = elsewhere.path().join("book.sqlite");
    std::os::unix::fs::symlink(place.book(), &of_book).unwrap();
    for beside in [
        folder.join("noted"),
        folder.join("../").join(folder.file_name().unwrap()).join("noted"),
        link.join("noted"),
    ] {
        assert!(matches!(keeping(shop.note(&noted, &beside)), KeepingFault::BesideTheBook { .. }));
        // Also where the book is named by a link that lies elsewhere.
        for book in [place.book(), of_book.clone()] {
            let refused = keeping(new_key(&book, &beside, [7; 32]));
            assert!(matches!(refused, KeepingFault::BesideTheBook { .. }), "{}", beside.display());
        }
        assert!(!beside.exists());
    }
    // A link elsewhere that would lead the text here.
    let dangling = elsewhere.path().join("dangling");
    std::os::unix::fs::symlink(folder.join("noted"), &dangling).unwrap();
    assert!(shop.note(&noted, &dangling).is_err() && new_key(&place.book(), &dangling, [7; 32]).is_err());
    assert!(!folder.join("noted").exists());
    fs::write(folder.join("noted"), "").unwrap();
    assert!(matches!(keeping(shop.note(&noted, &dangling)), KeepingFault::BesideTheBook { .. }));
    // A key that was carried there later does not sign.
    let key = elsewhere.path().join("key");
    new_key(&place.book(), &key, [7; 32]).unwrap();
    assert!(read_key(&place.book(), &key).is_ok());
    fs::copy(&key, folder.join("key")).unwrap();
    assert!(matches!(
        keeping(read_key(&place.book(), &folder.join("key"))),
        KeepingFault::BesideTheBook { .. }
    ));
}

#[test]
fn a_key_is_written_once_for_its_owner_and_signs() {
    let (place, elsewhere) = (Place::new(), tempfile::tempdir().unwrap());
    let file = elsewhere.path().join("key");
    let public = new_key(&place.book(), &file, [9; 32]).unwrap();
    assert_eq!(public, SecretKey::of([9; 32]).public());
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    }
    assert!(matches!(keeping(new_key(&place.book(), &file, [1; 32])), KeepingFault::InTheWay { .. }));
    assert_eq!(read_key(&place.book(), &file).unwrap().public(), public);
    let nothing = elsewhere.path().join("nothing");
    fs::write(&nothing, "no key").unwrap();
    assert!(matches!(keeping(read_key(&place.book(), &nothing)), KeepingFault::NotAKey { .. }));
}

#[test]
fn every_checkpoint_of_a_file_must_bear_the_signature_that_is_asked_for() {
    let (place, elsewhere) = (Place::new(), tempfile::tempdir().unwrap());
    write(&place, "PE-1");
    let shop = place.shop();
    let (ours, other) = (SecretKey::of([1; 32]), SecretKey::of([2; 32]));
    let told = |texts: &[String], key: Option<celltriage_book::Key>| {
        let file = elsewhere.path().join("noted");
        fs::write(&file, texts.join("\n")).unwrap();
        let expected = Expected::read(file.to_str().unwrap()).unwrap();
        let all = shop.compare(&expected, key).unwrap();
        all.into_iter().flat_map(|one| one.faults).map(|fault| fault.what).collect::<Vec<_>>()
    };
    let text = |key: Option<&SecretKey>| shop.checkpoint(key).unwrap().to_string();
    let signed = text(Some(&ours));
    let none: Vec<String> = Vec::new();
    assert_eq!(told(&[signed.clone(), signed.clone()], Some(ours.public())), none);
    assert_eq!(told(&[text(None), signed.clone()], None), none);
    assert_eq!(told(&[text(None), signed.clone()], Some(ours.public())), ["it is not signed"]);
    let [by_another] = &told(&[text(Some(&other))], Some(ours.public()))[..] else { panic!() };
    assert!(by_another.starts_with("it is signed with another key"));
    // A changed one shows even where nobody asks for a signature: here the book seems to have come less far.
    let altered = signed.replace("at 2026-11-25", "at 2026-11-24");
    assert_ne!(altered, signed);
    for key in [None, Some(ours.public())] {
        let told = told(std::slice::from_ref(&altered), key);
        assert!(told.len() == 1 && told[0].starts_with("its signature does not fit"), "{told:?}");
    }
    // With a line taken out it covers nothing, and must not read as one that holds.
    let without: Vec<String> =
        text(None).lines().filter(|line| !line.starts_with("chain")).map(str::to_owned).collect();
    assert_eq!(told(&without, None), ["it covers no entry, so it shows nothing"]);
    let head = Expected::Head { entries: 1, digest: shop.entry(1).unwrap().digest };
    assert!(matches!(keeping(shop.compare(&head, Some(ours.public()))), KeepingFault::NeverSigned));
}

#[test]
fn what_is_expected_is_a_number_with_a_digest_or_a_file_with_checkpoints() {
    let elsewhere = tempfile::tempdir().unwrap();
    let empty = elsewhere.path().join("empty");
    fs::write(&empty, "\n\n").unwrap();
    assert!(matches!(keeping(Expected::read(empty.to_str().unwrap())), KeepingFault::NoCheckpoint { .. }));
    let digest = celltriage_book::Digest::of(b"x");
    assert_eq!(Expected::read(&format!("3:{digest}")).unwrap(), Expected::Head { entries: 3, digest });
    for given in [format!("0:{digest}"), "3:abc".to_owned(), format!("x:{digest}")] {
        assert!(matches!(keeping(Expected::read(&given)), KeepingFault::NotExpected { .. }), "{given}");
    }
    assert!(matches!(keeping(Expected::read("no-such-file")), KeepingFault::File { .. }));
}

#[test]
fn names_are_blanked_once_and_the_reason_does_not_bring_them_back() {
    let place = Place::new();
    let mut shop = place.shop();
    assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    let new = judgement(&shop, "PE-1", LegalState::DamagedOrDefective);
    shop.judge(&signer(), &place.rules, &new, &mut super::custody::Calm).unwrap();
    assert_eq!(shop.persons_in(2).unwrap(), ["Ines Harrow"]);
    let refused = keeping(shop.blank(2, "asked for by INES HARROW", "Tom Weller"));
    assert!(matches!(refused, KeepingFault::ReasonNamesPerson { entry: 2 }));
    assert!(matches!(keeping(shop.blank(2, " ", "Tom Weller")), KeepingFault::NoReason));
    assert!(matches!(
        shop.blank(9, "asked for", "Tom Weller").unwrap_err(),
        Fault::NoSuchEntry { number: 9, .. }
    ));
    assert_eq!(shop.verify().unwrap().entries, 2, "nothing was written");
    let blanked = shop.blank(2, "asked for in writing", "Tom Weller").unwrap();
    assert_eq!((blanked.texts, blanked.entry.number), (1, 3));
    assert!(shop.persons_in(2).unwrap().is_empty());
    let view = shop.entry_in_full(2).unwrap();
    assert!(view.struck.is_none(), "it stands, but for the name");
    assert_eq!(view.entry.inputs["by"], BLANKED);
    assert!(shop.find("Harrow").unwrap().is_empty());
    let told = shop.story("PE-1", &place.rules).unwrap();
    assert!(format!("{told:?}").contains(BLANKED) && !format!("{told:?}").contains("Harrow"));
    assert!(shop.blank(2, "again", "Tom Weller").unwrap_err().to_string().contains("blanked already"));
    assert!(shop.verify().unwrap().passed());
}
