//! A month counts what counts: each cell once by its last decision, nothing struck, nothing of the months beside it.

use super::custody::Calm;
use super::*;
use crate::corrections::NewCorrection;
use crate::month::{Month, NotAMonth};

fn november() -> Month {
    "2026-11".parse().unwrap()
}

#[test]
fn a_month_counts_each_cell_by_its_last_decision_and_nothing_that_was_struck() {
    let place = Place::new();
    let (mut shop, rules, signer) = (place.shop(), &place.rules, signer());
    let before = HeldClock::at("2026-10-31T23:59:00Z".parse().unwrap());
    {
        let mut shop = place.at(&before);
        assessed(&mut shop, "PE-0", Fate::Reuse, CellState::Intact);
    }
    assessed(&mut shop, "PE-1", Fate::Undecided, CellState::Intact);
    assessed(&mut shop, "PE-1", Fate::Recycle, CellState::Intact);
    assessed(&mut shop, "PE-2", Fate::Reuse, CellState::Intact);
    let slip = assessed(&mut shop, "PE-3", Fate::Reuse, CellState::Intact);
    let new = NewCorrection { entry: slip, because: "wrong cell in the hand".to_owned(), strike: true };
    shop.correct(&signer, rules, &new).unwrap();
    let judged = judgement(&shop, "PE-1", LegalState::IntactWaste);
    shop.judge(&signer, rules, &judged, &mut Calm).unwrap();
    let told = shop.month(november()).unwrap();
    assert_eq!(told.cells, [(Fate::Reuse, 1), (Fate::Recycle, 1)].into());
    assert_eq!((told.decisions, told.struck, told.judged, told.alarms), (3, 1, 1, 0));
    assert!(told.left.is_empty() && told.placed == 0);
    let october = shop.month("2026-10".parse().unwrap()).unwrap();
    assert_eq!((october.decisions, october.cells), (1, [(Fate::Reuse, 1)].into()));
    assert_eq!(shop.month("2026-12".parse().unwrap()).unwrap().decisions, 0);
}

#[test]
fn what_is_no_month_is_told() {
    for text in ["", "2026", "2026-13", "2026-00", "November", "2026-11-25"] {
        assert!(text.parse::<Month>().is_err_and(|NotAMonth { .. }| true), "{text}");
    }
    assert_eq!("2026-2".parse::<Month>().unwrap().to_string(), "2026-02");
    assert_eq!(Month::of(TODAY), november());
}
