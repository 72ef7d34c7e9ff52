//! What to do where a fixture did not get another program.

use crate::error::{Error, Kind};
use celltriage_instrument::update::exchange::{Left, UpdateFault};
use celltriage_instrument::update::fault::{ImageFault, Misfit};
use celltriage_workshop::fixture::FixtureFault;

/// How the file is made.
const MAKE_IT: &str =
    "build it as firmware/boards/pico2/README.md says; the last line printed there names the file";
/// How a program comes onto a fixture that does not leave its own.
const BY_HAND: &str = "no cell on the jig, fuse F1 out; hold the module's BOOTSEL button while its USB cable is plugged in, then run this again with \
     --waiting";
/// What is left to do where the boot program waits.
const WAITING: &str =
    "leave it plugged in, or hold BOOTSEL while plugging it in; then run this again with --waiting";

/// Turns a fault of an update into an error with hints.
pub(super) fn of(fault: &FixtureFault) -> Error {
    let (kind, hints): (_, Vec<String>) = match fault {
        FixtureFault::Image { fault, .. } => (Kind::Input, vec![about_the_file(fault).to_owned()]),
        FixtureFault::Misfit(misfit) => (Kind::Input, vec![about_the_fit(misfit).to_owned()]),
        FixtureFault::SameProgram { .. } => (Kind::Input, vec!["to write it once more: --again".to_owned()]),
        FixtureFault::NoBootProgram { .. } => (Kind::Input, vec![BY_HAND.to_owned()]),
        FixtureFault::WaitsInBootProgram { .. } => {
            (Kind::Measurement, vec!["if that is the fixture, run this again with --waiting".to_owned()])
        }
        FixtureFault::Update(fault) => (Kind::Measurement, about_the_change(fault)),
        _ => (Kind::Input, Vec::new()),
    };
    Error::new(kind, fault).hints(hints)
}

const fn about_the_file(fault: &ImageFault) -> &'static str {
    match fault {
        ImageFault::Unreadable(_) => "give the path of the UF2 file",
        ImageFault::NotUf2 | ImageFault::OtherChip { .. } | ImageFault::NoMarker => MAKE_IT,
        _ => "copy or make it again: nothing of it was used",
    }
}

const fn about_the_fit(misfit: &Misfit) -> &'static str {
    match misfit {
        Misfit::Board { .. } | Misfit::Revision { .. } => {
            "a program for another board drives other pins: take the image for this one"
        }
        _ => "take an image of the same age as this celltriage, or update celltriage first",
    }
}

fn about_the_change(fault: &UpdateFault) -> Vec<String> {
    let one = |hint: &str| vec![hint.to_owned()];
    match fault {
        UpdateFault::Link(_) => one("what it does now: `celltriage fixture identify`"),
        UpdateFault::DriveBefore(_) => {
            one("unplug the other board; if it is this fixture, power-cycle it, or run this again with --waiting")
        }
        UpdateFault::AnotherAnswers(_) => {
            one("unplug it; if it is the one that is to be updated, leave out --waiting")
        }
        UpdateFault::Stayed => one("power-cycle the fixture and try again"),
        UpdateFault::NoDrive { unmounted: Some(device), .. } => vec![
            format!("mount it: udisksctl mount -b {}, which prints the folder", device.display()),
            "then run this again with --waiting --drive FOLDER".to_owned(),
        ],
        UpdateFault::NoDrive { unmounted: None, .. } => vec![
            "find its drive in the file manager or with `lsblk -o NAME,LABEL,MOUNTPOINT` (label RP2350) and mount it".to_owned(),
            "then run this again with --waiting --drive FOLDER; to go back to the old program, unplug it and plug it in again"
                .to_owned(),
        ],
        UpdateFault::SeveralDrives(_) => one("unplug the other boards, then run this again with --waiting"),
        UpdateFault::NotWritten { left, .. }
        | UpdateFault::NotBack { left, .. }
        | UpdateFault::Stopped(left) => one(what_is_left(*left)),
        UpdateFault::OldProgram(_) => one("try again; if it stays so, try another cable or port"),
        UpdateFault::OtherProgram(_) => one("do not use it for cells; look what runs: `celltriage fixture identify`"),
        _ => Vec::new(),
    }
}

const fn what_is_left(left: Left) -> &'static str {
    match left {
        Left::OldProgram => "try again",
        Left::BootProgram => WAITING,
        Left::NotKnown => {
            "unplug it and plug it in again: if `celltriage fixture identify` finds it, it runs a whole program; if not, \
             `celltriage fixture update --waiting` with the same image"
        }
    }
}
