//! A fixture gets another program: whatever fails on the way, it runs a whole program or waits in its boot program, and what is
//! told of it is so.

use celltriage_instrument::connected::Connected;
use celltriage_instrument::error::Result;
use celltriage_instrument::update::drive::{Drive, NotWritten};
use celltriage_instrument::update::exchange::{self, Left, Running, UpdateFault};
use celltriage_instrument::update::image::{Image, ProgramName};
use celltriage_instrument::update::site::{SimulatedSite, Site};
use celltriage_link::{Link, LinkError, Nobody, SimulatedLink};
use celltriage_simulated_board::image::for_this_board;
use std::cell::Cell;
use std::io::{self, ErrorKind};
use std::path::PathBuf;
use std::rc::Rc;
use std::time::Duration;

const NEW: &str = "0123456789ab";

/// What goes wrong at a site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Wrong {
    Nothing,
    /// The n-th operation fails once.
    Once(u32),
    /// The n-th and all after it fail.
    From(u32),
    /// The drive takes only so many pieces.
    Full(usize),
    /// What is written comes nowhere, and nothing says so.
    Swallowed,
    /// The supply fails after so many pieces, and comes back.
    PowerFails(usize),
    /// A second drive is there.
    TwoDrives,
}

/// The simulated site, with something wrong.
struct BadSite {
    inner: SimulatedSite,
    bench: SimulatedLink,
    folder: PathBuf,
    wrong: Wrong,
    operations: Rc<Cell<u32>>,
}

impl BadSite {
    fn fails(&self) -> bool {
        self.operations.set(self.operations.get() + 1);
        match self.wrong {
            Wrong::Once(at) => self.operations.get() == at,
            Wrong::From(at) => self.operations.get() >= at,
            _ => false,
        }
    }
}

impl Site for BadSite {
    fn now(&self) -> Duration {
        self.inner.now()
    }

    fn wait(&mut self, span: Duration) {
        self.inner.wait(span);
    }

    fn drives(&mut self) -> Vec<Drive> {
        if self.fails() {
            return Vec::new();
        }
        let mut drives = self.inner.drives();
        if self.wrong == Wrong::TwoDrives {
            drives.extend(drives.first().cloned());
        }
        drives
    }

    fn unmounted(&mut self) -> Option<PathBuf> {
        None
    }

    fn write(&mut self, drive: &Drive, pieces: &[&[u8]]) -> std::result::Result<(), NotWritten> {
        let failed = |pieces, kind: ErrorKind| Err(NotWritten { pieces, reason: io::Error::from(kind) });
        if self.fails() {
            return failed(0, ErrorKind::NotFound);
        }
        match self.wrong {
            Wrong::Swallowed => Ok(()),
            Wrong::Full(taken) | Wrong::PowerFails(taken) => {
                let _some_of_it = self.inner.write(drive, &pieces[..taken]);
                if matches!(self.wrong, Wrong::PowerFails(_)) {
                    self.bench.power_cycle();
                }
                failed(taken, ErrorKind::StorageFull)
            }
            _ => self.inner.write(drive, pieces),
        }
    }

    fn connect(&mut self, serial: Option<u64>) -> Result<Connected> {
        if self.fails() {
            return Err(LinkError::NoFixture { others: Vec::new() }.into());
        }
        self.inner.connect(serial)
    }
}

/// What really runs on the bench.
#[derive(Debug, PartialEq, Eq)]
enum Truth {
    Old,
    New,
    BootProgram,
}

fn truth(bench: &SimulatedLink) -> Truth {
    if bench.is_in_boot_program() {
        return Truth::BootProgram;
    }
    let mut site = SimulatedSite::new(bench.clone(), None);
    let connected = site.connect(None).expect("a program answers");
    match connected.program().expect("it describes itself").commit.as_deref() {
        Some(NEW) => Truth::New,
        Some("simulated") => Truth::Old,
        other => panic!("commit {other:?}"),
    }
}

/// A fixture with its old program, a folder for its drive, and something wrong. Returns how it ended, what is true then, and how
/// many operations there were.
fn update(wrong: Wrong) -> (std::result::Result<(), UpdateFault>, Truth, u32) {
    update_to(NEW, wrong)
}

/// The same to a program of this commit.
fn update_to(commit: &str, wrong: Wrong) -> (std::result::Result<(), UpdateFault>, Truth, u32) {
    let folder = tempfile::tempdir().expect("a folder");
    let bench = SimulatedLink::with("supply", 1, None).expect("a supply").with_a_program();
    let operations = Rc::new(Cell::new(0));
    let mut site = BadSite {
        inner: SimulatedSite::new(bench.clone(), Some(folder.path().to_owned())),
        bench: bench.clone(),
        folder: folder.path().to_owned(),
        wrong: Wrong::Nothing,
        operations: Rc::clone(&operations),
    };
    let connected = site.connect(None).expect("it answers");
    let program = ProgramName::running(&connected.identity, connected.client.description().expect("told"));
    let before = Running { serial: connected.identity.serial, program };
    let image = Image::read(for_this_board(commit)).expect("whole");
    site.wrong = wrong;
    operations.set(0);
    let ended = exchange::leave(connected, &mut site)
        .and_then(|()| exchange::write(&image, Some(&before), &mut site, &mut Nobody))
        .map(drop);
    assert!(site.folder.exists());
    (ended, truth(&bench), operations.get())
}

#[test]
fn the_new_program_runs_and_says_so() {
    let (ended, truth, _) = update(Wrong::Nothing);
    assert!(ended.is_ok(), "{ended:?}");
    assert_eq!(truth, Truth::New);
}

/// What is told of the fixture, if anything is.
fn told(fault: &UpdateFault) -> Option<Left> {
    match fault {
        UpdateFault::Link(_) | UpdateFault::Stayed | UpdateFault::OldProgram(_) => Some(Left::OldProgram),
        UpdateFault::NoDrive { .. } => Some(Left::BootProgram),
        UpdateFault::NotWritten { left, .. }
        | UpdateFault::NotBack { left, .. }
        | UpdateFault::Stopped(left) => Some(*left),
        _ => None,
    }
}

#[test]
fn whatever_operation_fails_what_is_told_is_so() {
    let (_, _, all) = update(Wrong::Nothing);
    assert!(all > 4, "only {all} operations");
    let (mut new, mut others) = (0, 0);
    for at in 1..=all + 2 {
        for wrong in [Wrong::Once(at), Wrong::From(at)] {
            let (ended, truth, _) = update(wrong);
            match ended {
                Ok(()) => assert_eq!(truth, Truth::New, "{wrong:?}"),
                Err(fault) => {
                    others += 1;
                    match told(&fault) {
                        Some(Left::OldProgram) => assert_eq!(truth, Truth::Old, "{wrong:?}: {fault}"),
                        Some(Left::BootProgram) => {
                            assert_eq!(truth, Truth::BootProgram, "{wrong:?}: {fault}")
                        }
                        Some(Left::NotKnown) => {}
                        None => panic!("{wrong:?}: {fault}"),
                    }
                    continue;
                }
            }
            new += 1;
        }
    }
    assert!(new > 4 && others > 4, "{new} updated, {others} not");
}

#[test]
fn a_fixture_that_answers_is_not_the_one_that_waits() {
    let bench = SimulatedLink::with("supply", 1, None).expect("a supply").with_a_program();
    let image = Image::read(for_this_board(NEW)).expect("whole");
    let folder = tempfile::tempdir().expect("a folder");
    let mut site = SimulatedSite::new(bench.clone(), Some(folder.path().to_owned()));
    let refused = exchange::write(&image, None, &mut site, &mut Nobody).map(drop);
    assert!(matches!(refused, Err(UpdateFault::AnotherAnswers(_))), "{refused:?}");
    assert_eq!(truth(&bench), Truth::Old);
}

#[test]
fn a_drive_that_is_full_leaves_the_boot_program_and_says_so() {
    for taken in [0, 1, 2] {
        let (ended, truth, _) = update(Wrong::Full(taken));
        let fault = ended.expect_err("not written");
        assert!(matches!(fault, UpdateFault::NotWritten { left: Left::BootProgram, .. }), "{fault}");
        assert_eq!(truth, Truth::BootProgram, "{taken}");
        assert!(fault.to_string().contains("starts no half-written"), "{fault}");
    }
}

#[test]
fn an_error_after_the_last_piece_is_no_failure() {
    let (ended, truth, _) = update(Wrong::Full(3));
    assert!(ended.is_ok(), "{ended:?}");
    assert_eq!(truth, Truth::New);
}

#[test]
fn a_supply_that_fails_before_the_first_piece_brings_the_old_program_back_and_later_the_boot_program() {
    let (ended, truth, _) = update(Wrong::PowerFails(0));
    let fault = ended.expect_err("not written");
    assert!(matches!(fault, UpdateFault::OldProgram(Some(_))), "{fault}");
    assert_eq!(truth, Truth::Old);
    for taken in [1, 2] {
        let (ended, truth, _) = update(Wrong::PowerFails(taken));
        let fault = ended.expect_err("not written");
        assert!(matches!(fault, UpdateFault::NotWritten { left: Left::BootProgram, .. }), "{fault}");
        assert_eq!(truth, Truth::BootProgram);
    }
}

#[test]
fn a_program_of_the_same_name_is_not_taken_for_written_where_nothing_was() {
    let (ended, ..) = update_to("simulated", Wrong::PowerFails(0));
    assert!(matches!(ended, Err(UpdateFault::OldProgram(Some(_)))), "{ended:?}");
    let (ended, ..) = update_to("simulated", Wrong::Nothing);
    assert!(ended.is_ok(), "{ended:?}");
}

#[test]
fn a_fixture_that_does_not_come_back_is_told_to_wait_in_its_boot_program() {
    let (ended, truth, _) = update(Wrong::Swallowed);
    let fault = ended.expect_err("not back");
    assert!(matches!(fault, UpdateFault::NotBack { left: Left::BootProgram, .. }), "{fault}");
    assert_eq!(truth, Truth::BootProgram);
}

#[test]
fn with_two_drives_nothing_is_written() {
    let (ended, truth, _) = update(Wrong::TwoDrives);
    assert!(matches!(ended, Err(UpdateFault::SeveralDrives(drives)) if drives.len() == 2));
    assert_eq!(truth, Truth::BootProgram);
}

/// A link of which one operation fails: it says so, or what it carried is lost.
struct FailingLink {
    inner: SimulatedLink,
    left: Rc<Cell<u32>>,
    says_so: bool,
}

impl FailingLink {
    /// Returns whether this is the operation whose bytes are lost.
    fn loses(&self) -> std::result::Result<bool, LinkError> {
        let left = self.left.get();
        self.left.set(left.saturating_sub(1));
        match (left == 1, self.says_so) {
            (true, true) => Err(LinkError::Gone { link: self.describe(), reason: "unplugged".to_owned() }),
            (at, _) => Ok(at),
        }
    }
}

impl Link for FailingLink {
    fn send(&mut self, bytes: &[u8]) -> std::result::Result<(), LinkError> {
        if self.loses()? { Ok(()) } else { self.inner.send(bytes) }
    }

    fn receive(&mut self, into: &mut Vec<u8>, wait: Duration) -> std::result::Result<usize, LinkError> {
        if !self.loses()? {
            return self.inner.receive(into, wait);
        }
        self.inner.receive(&mut Vec::new(), wait).map(|_| 0)
    }

    fn draw(&mut self) -> u64 {
        self.inner.draw()
    }

    fn describe(&self) -> String {
        "failing link".to_owned()
    }
}

#[test]
fn a_link_that_fails_while_the_fixture_is_asked_to_leave_changes_nothing_unsaid() {
    let (mut new, mut stayed) = (0, 0);
    for (at, says_so) in (1..=8).flat_map(|at| [(at, true), (at, false)]) {
        let folder = tempfile::tempdir().expect("a folder");
        let bench = SimulatedLink::with("supply", 1, None).expect("a supply").with_a_program();
        let left = Rc::new(Cell::new(0));
        let link = FailingLink { inner: bench.clone(), left: Rc::clone(&left), says_so };
        let connected = celltriage_tests::connected(link).expect("it answers");
        let program =
            ProgramName::running(&connected.identity, connected.client.description().expect("told"));
        let before = Running { serial: connected.identity.serial, program };
        let image = Image::read(for_this_board(NEW)).expect("whole");
        let mut site = SimulatedSite::new(bench.clone(), Some(folder.path().to_owned()));
        left.set(at);
        let ended = exchange::leave(connected, &mut site)
            .and_then(|()| exchange::write(&image, Some(&before), &mut site, &mut Nobody));
        match ended {
            Ok(_) => {
                new += 1;
                assert_eq!(truth(&bench), Truth::New);
            }
            Err(UpdateFault::Stayed | UpdateFault::Link(_)) => {
                stayed += 1;
                assert_eq!(truth(&bench), Truth::Old);
            }
            Err(other) => panic!("operation {at}: {other}"),
        }
    }
    assert!(new > 0 && stayed > 0, "{new} updated, {stayed} stayed");
}
