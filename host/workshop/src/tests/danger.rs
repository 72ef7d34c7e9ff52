//! A cell that reacts: what to do comes before its entry, and neither a question nor the clock holds the entry up.

use super::custody::Calm;
use super::*;
use crate::event::WorkEvent;
use celltriage_custody::Scope;
use celltriage_custody::event::{CellWeighed, Escalation, Inspection, Look};
use celltriage_custody::units::Milligrams;
use celltriage_link::Attendant;

/// Notes what it sees, and how many entries the book has at that time.
pub(super) struct Notes {
    book: PathBuf,
    pub(super) seen: Vec<(&'static str, u32)>,
    pub(super) texts: Vec<String>,
}

impl Notes {
    pub(super) fn beside(place: &Place) -> Self {
        Self { book: place.book(), seen: Vec::new(), texts: Vec::new() }
    }
}

impl Attendant<WorkEvent> for Notes {
    fn sees(&mut self, event: &WorkEvent) {
        let name = match event {
            WorkEvent::Emergency(texts) => {
                self.texts.clone_from(texts);
                "emergency"
            }
            WorkEvent::ClockInDoubt(_) => "clock",
            other => panic!("{other:?}"),
        };
        let entries = Book::open_read_only(&self.book).unwrap().verify().unwrap().entries;
        self.seen.push((name, entries));
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

fn look(cell: &str, look: Look) -> Inspection {
    Inspection { cell: cell.to_owned(), temperature_c: None, air_c: None, look, note: None }
}

#[test]
fn what_to_do_comes_before_the_entry_and_a_wrong_clock_only_warns() {
    let place = Place::new();
    assessed(&mut place.shop(), "PE-5", Fate::Quarantine, CellState::DamagedOrDefective);
    let wrong = HeldClock::at("2026-11-20T08:00:00Z".parse().unwrap());
    let (mut shop, rules) = (place.at(&wrong), &place.rules);
    let escalation = Escalation { cell: "PE-5".to_owned(), because: "hisses".to_owned() };
    let mut notes = Notes::beside(&place);
    let entered = shop.escalate(&signer(), rules, &escalation, &mut notes).unwrap();
    assert_eq!(notes.seen, [("emergency", 1), ("clock", 1)]);
    assert_eq!(notes.texts, crate::danger::emergency_at(shop.place_of("PE-5").as_ref(), rules.packs()));
    assert!(notes.texts.iter().any(|text| text.starts_with("STOP: hands off.")), "{:?}", notes.texts);
    assert_eq!((entered.entry.number, entered.entry.kind.as_str()), (2, "escalation"));
}

#[test]
fn everything_else_is_refused_by_a_wrong_clock_until_somebody_answers_for_it() {
    let place = Place::new();
    assessed(&mut place.shop(), "PE-6", Fate::Recycle, CellState::Intact);
    let wrong = HeldClock::at("2026-11-20T08:00:00Z".parse().unwrap());
    let (mut shop, rules) = (place.at(&wrong), &place.rules);
    let weighed = || CellWeighed { cell: "PE-6".to_owned(), mass: Milligrams(45_000) };
    let refused = shop.weigh(&signer(), rules, weighed()).unwrap_err();
    assert!(matches!(refused, Fault::ClockInDoubt { .. }), "{refused}");
    let new = judgement(&shop, "PE-6", LegalState::IntactWaste);
    let refused = shop.judge(&signer(), rules, &new, &mut Calm).unwrap_err();
    assert!(matches!(refused, Fault::ClockInDoubt { .. }), "{refused}");
    let refused = shop.inspect(&signer(), rules, &look("PE-6", Look::Worse), &mut Calm).unwrap_err();
    assert!(matches!(refused, Fault::ClockInDoubt { .. }), "{refused}");
    assert_eq!(shop.state(Scope::All).unwrap().read_to, 1, "nothing was written");
    let other = Signer { clock: ClockWord::Stated(TODAY), ..signer() };
    let refused = shop.weigh(&other, rules, weighed()).unwrap_err();
    assert!(matches!(refused, Fault::AnotherDay { .. }), "{refused}");
    let confirmed = Signer { clock: ClockWord::Confirmed, ..signer() };
    assert_eq!(shop.weigh(&confirmed, rules, weighed()).unwrap().entry.number, 2);
}

#[test]
fn an_active_look_is_an_escalation_unless_the_cell_is_watched() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    assessed(&mut shop, "PE-7", Fate::Quarantine, CellState::DamagedOrDefective);
    let active = look("PE-7", Look::Active);
    let mut notes = Notes::beside(&place);
    let entered = shop.inspect(&signer(), rules, &active, &mut notes).unwrap();
    assert_eq!(entered.entry.kind, "escalation");
    assert_eq!(notes.seen, [("emergency", 1)]);
    let watch = crate::quarantine::NewWatch {
        cell: "PE-7".to_owned(),
        because: "hisses".to_owned(),
        stands: "yard".to_owned(),
        until: None,
        every_days: 1,
    };
    shop.hold(&signer(), rules, watch).unwrap();
    let entered = shop.inspect(&signer(), rules, &active, &mut Notes::beside(&place)).unwrap();
    assert_eq!(entered.entry.kind, "inspection");
}

#[test]
fn a_critical_judgement_tells_what_to_do_before_its_entry() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    assessed(&mut shop, "PE-8", Fate::Quarantine, CellState::DamagedOrDefective);
    let new = judgement(&shop, "PE-8", LegalState::Critical);
    let mut notes = Notes::beside(&place);
    shop.judge(&signer(), rules, &new, &mut notes).unwrap();
    assert_eq!(notes.seen, [("emergency", 1)]);
    assert!(!notes.texts.is_empty());
}

#[test]
fn a_cell_that_nobody_has_assessed_gets_its_text_and_its_entry() {
    let place = Place::new();
    let (mut shop, rules) = (place.shop(), &place.rules);
    let escalation = Escalation { cell: "PE-99".to_owned(), because: "smokes".to_owned() };
    let mut notes = Notes::beside(&place);
    let entered = shop.escalate(&signer(), rules, &escalation, &mut notes).unwrap();
    assert_eq!((entered.entry.number, notes.seen), (1, vec![("emergency", 0)]));
    assert_eq!(notes.texts, crate::danger::emergency_at(None, rules.packs()));
}
