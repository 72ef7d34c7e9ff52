//! A change of program as the workshop makes it: refused with nothing done, or done and in the book.

use celltriage_book::{Book, Subject, SubjectKind};
use celltriage_instrument::choice::FixtureChoice;
use celltriage_instrument::error::InstrumentError;
use celltriage_instrument::update::exchange::{UpdateEvent, UpdateFault};
use celltriage_instrument::update::image::Image;
use celltriage_instrument::update::record::{PROGRAM, ProgramRecord};
use celltriage_instrument::update::site::{self, SimulatedSite, ThisComputer};
use celltriage_link::{Attendant, Nobody, SimulatedLink};
use celltriage_protocol::reply::Activity;
use celltriage_simulated_board::image::for_this_board;
use celltriage_tests::{FIXTURE, NOON, Shop};
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::fixture::FixtureFault;
use celltriage_workshop::{Fault, Workshop};
use std::cell::RefCell;

const NEW: &str = "0123456789ab";

/// A person who stops once something was seen.
struct Stops(RefCell<bool>);

impl Attendant<UpdateEvent> for Stops {
    fn sees(&mut self, event: &UpdateEvent) {
        *self.0.borrow_mut() |= *event == UpdateEvent::Leaves;
    }

    fn stop_wanted(&self) -> bool {
        *self.0.borrow()
    }
}

fn workshop(shop: &Shop, clock: &'static HeldClock) -> Workshop<'static> {
    Workshop::new(Book::open(shop.book_path()).expect("a book"), clock, jiff::tz::TimeZone::UTC)
}

fn noon() -> &'static HeldClock {
    Box::leak(Box::new(HeldClock::at(NOON.parse().expect("a timestamp"))))
}

fn bench() -> FixtureChoice {
    FixtureChoice::bench(None, Some("supply"), 1)
}

#[test]
fn the_book_keeps_from_what_to_what_by_whom_and_when() {
    let (shop, drive) = (Shop::new(), tempfile::tempdir().expect("a folder"));
    let mut workshop = workshop(&shop, noon());
    let image = Image::read(for_this_board(NEW)).expect("whole");
    let sha256 = image.sha256().to_owned();
    let change =
        workshop.program_change(image, &bench(), Some(drive.path().into()), false).expect("may be done");
    let (record, entry) = workshop.change_program(change, "M. Adeyemi", &mut Nobody).expect("done");
    let kept: Vec<(u32, ProgramRecord)> =
        workshop.book().records(PROGRAM, &Subject::new(SubjectKind::Fixture, FIXTURE)).expect("readable");
    assert_eq!(kept, [(entry.number, record.clone())]);
    let from = record.from.expect("it was met");
    assert_eq!((from.commit.as_deref(), record.to.commit.as_deref()), (Some("simulated"), Some(NEW)));
    assert_eq!((record.by.as_str(), record.on.to_string().as_str()), ("M. Adeyemi", "2026-11-25"));
    assert_eq!(record.image_sha256, sha256);
}

#[test]
fn what_may_not_be_done_is_refused_with_nothing_done() {
    let shop = Shop::new();
    let mut workshop = workshop(&shop, noon());
    let image = |commit: &str| Image::read(for_this_board(commit)).expect("whole");
    let refused = |done: celltriage_workshop::fault::Result<_>| match done {
        Err(Fault::Fixture(fault)) => fault,
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("it may be done"),
    };
    let same = refused(workshop.program_change(image("simulated"), &bench(), None, false));
    assert!(matches!(same, FixtureFault::SameProgram { .. }), "{same}");
    assert!(workshop.program_change(image("simulated"), &bench(), None, true).is_ok());
    // A fixture that has no boot program to go to.
    let connected = bench().connect(None).expect("it answers");
    let nowhere = || Box::new(SimulatedSite::new(SimulatedLink::with("supply", 1, None).expect("one"), None));
    let cannot = refused(workshop.change_on(image(NEW), connected, nowhere(), false));
    assert!(matches!(cannot, FixtureFault::Misfit(_)), "its revision is not known: {cannot}");
    // While a run is under way, or a trip is latched.
    for activity in [Activity::Running, Activity::Tripped] {
        let (mut connected, site) = site::connect(&bench(), None, None).expect("it answers");
        connected.state.activity = activity;
        let busy = workshop.change_on(image(NEW), connected, site, false).map(drop);
        assert!(matches!(
            busy,
            Err(Fault::Instrument(InstrumentError::Running | InstrumentError::Latched { .. }))
        ));
    }
    // A drive that is there already is another board's.
    let drive = tempfile::tempdir().expect("a folder");
    std::fs::write(drive.path().join("INFO_UF2.TXT"), "UF2 Bootloader v1.0\nBoard-ID: RP2350\n")
        .expect("written");
    let (connected, _) = site::connect(&bench(), None, None).expect("it answers");
    let taken = ThisComputer::new(bench(), Some(drive.path().into()));
    let change = workshop.change_on(image(NEW), connected, Box::new(taken), false).expect("may be done");
    let before = workshop.change_program(change, "M. Adeyemi", &mut Nobody).map(drop);
    assert!(
        matches!(before, Err(Fault::Fixture(FixtureFault::Update(UpdateFault::DriveBefore(_))))),
        "{before:?}"
    );
    // A person who stops while the drive is waited for.
    let change = workshop.program_change(image(NEW), &bench(), None, false).expect("may be done");
    let stopped = workshop.change_program(change, "M. Adeyemi", &mut Stops(RefCell::new(false))).map(drop);
    assert!(
        matches!(stopped, Err(Fault::Fixture(FixtureFault::Update(UpdateFault::Stopped(_))))),
        "{stopped:?}"
    );
    assert!(shop.entries().is_empty());
}
