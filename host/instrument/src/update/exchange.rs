//! From one program to the other: the fixture leaves for its boot program, the file goes onto the drive, what comes back is asked.
//!
//! Each way that can end otherwise says where the fixture then stands. Until the first block is on the drive the old program is
//! whole; from then on the chip starts the new one, whole, or its boot program (`firmware/boards/pico2/make_uf2.py` says why).

use super::drive::{Drive, NotWritten};
use super::image::{Image, ProgramName};
use super::site::{Site, may_come_back};
use crate::connected::Connected;
use crate::error::InstrumentError;
use celltriage_link::{Attendant, LinkError};
use celltriage_protocol::reply::Reply;
use celltriage_protocol::request::Request;
use std::fmt;
use std::path::PathBuf;
use std::time::Duration;
use thiserror::Error;

/// How long the drive may take to appear: a person may have to mount it. Our choice.
pub const DRIVE_WAIT: Duration = Duration::from_secs(120);
/// How long the fixture may take to come back: the chip restarts half a second after the last block, and a computer may take
/// some seconds to know the port. Our choice.
pub const RETURN_WAIT: Duration = Duration::from_secs(30);
/// A drive that is still there so long after a failed write is one whose chip has not restarted. Our choice.
const STILL_THERE: Duration = Duration::from_secs(5);
/// How often is looked.
const STEP: Duration = Duration::from_millis(500);

/// What happens meanwhile.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UpdateEvent {
    /// The fixture was asked to leave its program.
    Leaves,
    /// The drive is there, but this computer has not mounted it.
    NotMounted(PathBuf),
    /// The file is being written.
    Writes(PathBuf),
    /// All of it was written; the fixture is waited for.
    Restarts,
    /// It was not written whole, as far as the system tells; what the fixture does is looked at.
    NotWhole(String),
}

/// What runs on a fixture, and which one it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Running {
    /// Its serial number.
    pub serial: u64,
    /// Its program.
    pub program: ProgramName,
}

/// Where a fixture stands after an update that did not come to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Left {
    /// Nothing was written.
    OldProgram,
    /// Its boot program waits for a file.
    BootProgram,
    /// It does not answer, and no drive is there.
    NotKnown,
}

impl fmt::Display for Left {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::OldProgram => "the fixture runs its old program, whole",
            Self::BootProgram => "the fixture waits in its boot program, load off, and starts no half-written program",
            Self::NotKnown => {
                "where the fixture stands is not known: with power it runs a whole program or waits in its boot program"
            }
        })
    }
}

/// Why there is no other program on the fixture, and where it stands.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum UpdateFault {
    /// The link, or the fixture's refusal.
    #[error("{0}; the fixture runs its old program, whole")]
    Link(LinkError),
    /// A drive of a boot program is there before the fixture has left its program.
    #[error("the drive {} of a boot program is there already, of another board or a fixture left so; nothing was done", .0.display())]
    DriveBefore(PathBuf),
    /// A fixture answers that is not the one that waits.
    #[error(
        "a fixture answers, which then is not the one that waits in its boot program ({0}); nothing was done"
    )]
    AnotherAnswers(String),
    /// The fixture stayed.
    #[error("no drive appeared, and the fixture still runs its old program, whole")]
    Stayed,
    /// The fixture left, and no drive can be written to.
    #[error(
        "no drive of the boot program could be found within {} s; nothing was written, and the fixture waits in its boot program, \
         load off",
        waited.as_secs()
    )]
    NoDrive {
        /// How long was looked.
        waited: Duration,
        /// Its device, where it is there and not mounted.
        unmounted: Option<PathBuf>,
    },
    /// Several drives.
    #[error("there are {} drives of boot programs: {}; nothing was written", .0.len(), listed(.0))]
    SeveralDrives(Vec<PathBuf>),
    /// The file is not on the drive.
    #[error("the file could not be written to {} ({reason}); {left}", drive.display())]
    NotWritten {
        /// The drive.
        drive: PathBuf,
        /// What the system says.
        reason: String,
        /// Where the fixture stands.
        left: Left,
    },
    /// The fixture did not come back.
    #[error("the file was written, and the fixture did not come back within {} s ({last}); {left}", waited.as_secs())]
    NotBack {
        /// How long was waited.
        waited: Duration,
        /// What the last try to reach it said.
        last: String,
        /// Where the fixture stands.
        left: Left,
    },
    /// It came back with what it had before.
    #[error("the fixture came back with its old program{}", written(.0))]
    OldProgram(Option<String>),
    /// It came back with neither.
    #[error(
        "the fixture came back with a program that is not the image's (board {}, commit {}, limits {}): another program has \
         written to it, or the image says something else than its program",
        .0.board, .0.commit.as_deref().unwrap_or("not known"), .0.limits
    )]
    OtherProgram(Box<ProgramName>),
    /// A person stopped it.
    #[error("stopped by a person; {0}")]
    Stopped(Left),
}

fn listed(paths: &[PathBuf]) -> String {
    paths.iter().map(|path| path.display().to_string()).collect::<Vec<_>>().join(", ")
}

fn written(reason: &Option<String>) -> String {
    reason.as_ref().map_or_else(String::new, |reason| format!(": the file could not be written ({reason})"))
}

/// Asks the fixture to leave its program. A lost answer is no refusal: what happens next shows.
///
/// # Errors
/// A drive is there already; the fixture refuses.
pub fn leave(mut connected: Connected, site: &mut dyn Site) -> Result<(), UpdateFault> {
    if let Some(drive) = site.drives().into_iter().next() {
        return Err(UpdateFault::DriveBefore(drive.path));
    }
    match connected.client.ask(&Request::EnterBootLoader) {
        Ok(Reply::Done) | Err(LinkError::Silent { .. } | LinkError::Gone { .. }) => Ok(()),
        Ok(_) => Err(UpdateFault::Link(LinkError::OutOfPlace { asked: "enter boot loader" })),
        Err(error) => Err(UpdateFault::Link(error)),
    }
}

/// Writes the image onto the drive of the boot program and asks what comes back. `before` is what ran, where that is known.
///
/// # Errors
/// [`UpdateFault`].
pub fn write(
    image: &Image,
    before: Option<&Running>,
    site: &mut dyn Site,
    attendant: &mut dyn Attendant<UpdateEvent>,
) -> Result<Connected, UpdateFault> {
    if before.is_none() {
        nobody_else_answers(site)?;
    }
    let drive = find_drive(before, site, attendant)?;
    attendant.sees(&UpdateEvent::Writes(drive.path.clone()));
    let failed = site.write(&drive, &image.pieces()).err();
    let event = failed.as_ref().map(|failed| UpdateEvent::NotWhole(failed.reason.to_string()));
    attendant.sees(&event.unwrap_or(UpdateEvent::Restarts));
    come_back(image, before, &drive, failed, site, attendant)
}

/// A fixture that waits in its boot program tells no number: one that answers meanwhile would be taken for it when it comes back.
fn nobody_else_answers(site: &mut dyn Site) -> Result<(), UpdateFault> {
    match site.connect(None) {
        Ok(other) => Err(UpdateFault::AnotherAnswers(other.describe())),
        Err(InstrumentError::Link(error @ LinkError::Several { .. })) => {
            Err(UpdateFault::AnotherAnswers(error.to_string()))
        }
        Err(_) => Ok(()),
    }
}

fn find_drive(
    before: Option<&Running>,
    site: &mut dyn Site,
    attendant: &mut dyn Attendant<UpdateEvent>,
) -> Result<Drive, UpdateFault> {
    let (began, mut told) = (site.now(), false);
    loop {
        let mut drives = site.drives();
        if drives.len() > 1 {
            return Err(UpdateFault::SeveralDrives(drives.into_iter().map(|drive| drive.path).collect()));
        }
        if let Some(drive) = drives.pop() {
            return Ok(drive);
        }
        let unmounted = site.unmounted();
        if let Some(device) = unmounted.clone().filter(|_| !told) {
            told = true;
            attendant.sees(&UpdateEvent::NotMounted(device));
        }
        let waited = site.now().saturating_sub(began);
        if attendant.stop_wanted() {
            return Err(UpdateFault::Stopped(left(before, site)));
        }
        if waited >= DRIVE_WAIT {
            return Err(match left(before, site) {
                Left::OldProgram => UpdateFault::Stayed,
                _ => UpdateFault::NoDrive { waited, unmounted },
            });
        }
        site.wait(STEP);
    }
}

fn come_back(
    image: &Image,
    before: Option<&Running>,
    drive: &Drive,
    failed: Option<NotWritten>,
    site: &mut dyn Site,
    attendant: &mut dyn Attendant<UpdateEvent>,
) -> Result<Connected, UpdateFault> {
    let began = site.now();
    // Programs of the same name are told apart by this: without a first piece on the drive the old one was never touched.
    let untouched = failed.as_ref().is_some_and(|failed| failed.pieces == 0);
    let reason = failed.map(|failed| failed.reason.to_string());
    loop {
        let last = match site.connect(before.map(|before| before.serial)) {
            Ok(connected) => match said_by(&connected, before) {
                Some(said) if untouched && before.is_some_and(|before| before.program == said) => {
                    return Err(UpdateFault::OldProgram(reason));
                }
                Some(said) if said == *image.name() => return Ok(connected),
                Some(said) if before.is_some_and(|before| before.program == said) => {
                    return Err(UpdateFault::OldProgram(reason));
                }
                Some(said) => return Err(UpdateFault::OtherProgram(Box::new(said))),
                None => "another fixture answers".to_owned(),
            },
            Err(InstrumentError::Link(error)) if !may_come_back(&error) => {
                return Err(UpdateFault::NotBack {
                    waited: site.now().saturating_sub(began),
                    last: error.to_string(),
                    left: Left::NotKnown,
                });
            }
            Err(error) => error.to_string(),
        };
        let waited = site.now().saturating_sub(began);
        if let Some(reason) = reason.as_ref().filter(|_| waited >= STILL_THERE) {
            let left = left(before, site);
            if left == Left::BootProgram || waited >= RETURN_WAIT {
                let (drive, reason) = (drive.path.clone(), reason.clone());
                return Err(UpdateFault::NotWritten { drive, reason, left });
            }
        }
        if attendant.stop_wanted() {
            return Err(UpdateFault::Stopped(left(before, site)));
        }
        if waited >= RETURN_WAIT {
            return Err(UpdateFault::NotBack { waited, last, left: left(before, site) });
        }
        site.wait(STEP);
    }
}

/// Returns what a fixture says that runs on it; `None` for another fixture than was updated, or one that says nothing.
fn said_by(connected: &Connected, before: Option<&Running>) -> Option<ProgramName> {
    let is_it = before.is_none_or(|before| before.serial == connected.identity.serial);
    let description = connected.client.description().filter(|_| is_it)?;
    Some(ProgramName::running(&connected.identity, description))
}

/// Looks where the fixture stands.
fn left(before: Option<&Running>, site: &mut dyn Site) -> Left {
    if !site.drives().is_empty() || site.unmounted().is_some() {
        return Left::BootProgram;
    }
    let Some(before) = before else { return Left::NotKnown };
    let connected = site.connect(Some(before.serial)).ok();
    let said = connected.and_then(|connected| said_by(&connected, Some(before)));
    if said.is_some_and(|said| said == before.program) { Left::OldProgram } else { Left::NotKnown }
}
