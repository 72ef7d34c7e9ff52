//! What comes in without a test: its photographs are in the book, a reacting one is told before anything else, and mail gets no leave.

use super::custody::Calm;
use super::danger::Notes;
use super::*;
use crate::receiving::NewReceipt;
use celltriage_custody::event::{Received, ReceivedAs, Symptom};
use celltriage_custody::mailing::before_mailing;
use celltriage_custody::test_support::receipt;
use celltriage_measure::observation::{Answer, Sign};
use celltriage_rules::{PlaceCode, Presents};
use std::collections::BTreeMap;

fn new(cell: &str, change: impl FnOnce(&mut Received)) -> NewReceipt {
    let mut told = receipt(cell, ReceivedAs::DeviceWithin);
    change(&mut told);
    NewReceipt { told, ..NewReceipt::default() }
}

#[test]
fn a_photograph_is_kept_as_it_is_and_what_is_no_picture_is_refused() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    let picture = [&[0xff_u8, 0xd8, 0xff, 0xe0][..], b"the rest"].concat();
    std::fs::write(place.file("front.jpg"), &picture).unwrap();
    std::fs::write(place.file("notes.txt"), "no picture").unwrap();
    let with = |file: &str| NewReceipt { photographs: vec![place.file(file)], ..new("DEV-1", |_| {}) };
    for (file, why) in [("notes.txt", "it is no picture"), ("missing.jpg", "not taken as a photograph")] {
        let told = shop.receive(&signer(), rules, &with(file), &mut Calm).unwrap_err().to_string();
        assert!(told.contains(why) && told.contains("nothing was written"), "{told}");
    }
    let entered = shop.receive(&signer(), rules, &with("front.jpg"), &mut Calm).unwrap();
    assert_eq!(entered.entry.number, 1, "nothing was written before it");
    let kept = shop.kept_with(1).unwrap().attachments;
    assert_eq!((kept[0].name.as_str(), kept[0].media_type.as_str()), ("front.jpg", "image/jpeg"));
    assert_eq!(shop.book().attachment(kept[0].sha256).unwrap().unwrap(), picture);
    assert_eq!(entered.state.cells["DEV-1"].intake().unwrap().told.photographs, ["front.jpg"]);
    assert!(shop.verify().unwrap().passed());
}

#[test]
fn what_reacts_is_told_before_it_is_written_and_a_wrong_clock_only_warns() {
    let place = Place::new();
    place.shop().receive(&signer(), &place.rules, &new("DEV-1", |_| {}), &mut Calm).unwrap();
    let wrong = HeldClock::at("2026-11-20T08:00:00Z".parse().unwrap());
    let (mut shop, rules) = (place.at(&wrong), &place.rules);
    let cool = shop.receive(&signer(), rules, &new("DEV-2", |_| {}), &mut Calm);
    assert!(matches!(cool, Err(Fault::ClockInDoubt { .. })), "{cool:?}");
    let mut told = Received::of("DOOR-1");
    told.signs.insert(Sign::ActiveNow, Symptom::Yes);
    let hot = NewReceipt { told, place: Some("DE".parse().unwrap()), ..NewReceipt::default() };
    let mut notes = Notes::beside(&place);
    let entered = shop.receive(&signer(), rules, &hot, &mut notes).unwrap();
    assert_eq!(notes.seen, [("emergency", 1), ("clock", 1)]);
    assert!(notes.texts.iter().any(|text| text.contains("112")), "{:?}", notes.texts);
    assert_eq!((entered.entry.number, entered.entry.kind.as_str()), (2, "received"));
}

#[test]
fn a_person_judges_it_from_what_was_seen_and_the_proposal_says_that_nobody_measured_it() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    let seen = new("DEV-1", |told| {
        told.signs.insert(Sign::Swollen, Symptom::Yes);
    });
    shop.receive(&signer(), rules, &seen, &mut Calm).unwrap();
    let to_judge = shop.to_judge("DEV-1").unwrap();
    assert_eq!((to_judge.entry, to_judge.assessment.is_none()), (1, true));
    let swollen = celltriage_custody::checklist::Criterion::Swollen;
    assert_eq!(to_judge.recorded.get(&swollen), Some(&Answer::Yes));
    let us: PlaceCode = "US".parse().unwrap();
    let proposal = shop.proposal(&to_judge, Some(&us), rules).unwrap();
    assert_eq!(proposal.state, LegalState::DamagedOrDefective);
    assert!(proposal.grounds.iter().any(|fact| fact.rule.contains("swelling")), "{:?}", proposal.grounds);
    assert!(proposal.to_judge.iter().any(|point| point.starts_with("nobody has measured it")));
    let judged = judgement(&shop, "DEV-1", LegalState::DamagedOrDefective);
    shop.judge(&signer(), rules, &judged, &mut Calm).unwrap();
    // A clean one is unknown at the mildest.
    shop.receive(&signer(), rules, &new("DEV-2", |_| {}), &mut Calm).unwrap();
    let clean = shop.to_judge("DEV-2").unwrap();
    assert_eq!(shop.proposal(&clean, None, rules).unwrap().state, LegalState::Unknown);
    let Refusal::UnknownCell(cell) = refusal(shop.to_judge("DEV-3")) else { panic!("no such thing") };
    assert_eq!(cell, "DEV-3");
}

#[test]
fn whatever_is_told_before_mailing_no_answer_is_a_leave_to_send() {
    let place = Place::new();
    let packs = place.rules.packs();
    let us: PlaceCode = "US".parse().unwrap();
    let told = |signs: &[(Sign, Symptom)]| {
        before_mailing(&signs.iter().copied().collect::<BTreeMap<_, _>>(), Some(&us), TODAY, packs)
    };
    for (sign, presents) in [
        (Sign::ActiveNow, Presents::ActiveNow),
        (Sign::Swollen, Presents::Swollen),
        (Sign::Leaked, Presents::Leaking),
        (Sign::CasingBreached, Presents::Punctured),
        (Sign::Deformed, Presents::Unknown),
        (Sign::Recalled, Presents::Unknown),
    ] {
        let advice = told(&[(sign, Symptom::Yes)]);
        assert_eq!((advice.presents, advice.shows.as_slice(), advice.open.len()), (presents, &[sign][..], 8));
        assert!(
            !advice.cautions.is_empty() && advice.facts.iter().any(|fact| fact.rule == "us.post"),
            "{sign:?}"
        );
    }
    let all: Vec<(Sign, Symptom)> = Sign::ALL.into_iter().map(|sign| (sign, Symptom::No)).collect();
    assert_eq!((told(&all).presents, told(&all).open.len()), (Presents::Intact, 0));
    assert_eq!(told(&all[1..]).presents, Presents::Unknown, "one left open");
    let untold = [&all[1..], &[(Sign::ActiveNow, Symptom::CannotBeTold)]].concat();
    assert_eq!(told(&untold).presents, Presents::Unknown, "one that cannot be told");
}
