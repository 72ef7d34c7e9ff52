//! The drive that the chip's boot program offers: how it is recognised, where a computer has it, how a file gets onto it.
//!
//! A drive is one of a boot program by its file INFO_UF2.TXT and by nothing else (UF2 specification, "Files exposed by
//! bootloaders"); the chip's own says "Board-ID: RP2350" (pico-bootrom-rp2350, usb_virtual_disk.c, read November 2026).

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// What the file about itself is called, in the cases that systems show.
const INFO: [&str; 2] = ["INFO_UF2.TXT", "info_uf2.txt"];
/// Longest of such files that is read.
const LONGEST_INFO: u64 = 4096;
/// The chip in "Board-ID".
const CHIP: &str = "RP2350";
/// Name of the copy on the drive; the boot program looks at no name.
pub const COPY: &str = "celltriage.uf2";
/// Where Linux shows a drive that is there and not mounted, by the label that the chip's boot program gives it.
const BY_LABEL: &str = "/dev/disk/by-label/RP2350";

/// A drive of a boot program.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drive {
    /// Its folder.
    pub path: PathBuf,
    /// What it says of its board.
    pub board_id: String,
}

impl Drive {
    /// Looks whether a folder is such a drive.
    pub fn at(path: &Path) -> Option<Self> {
        let mut file = INFO.iter().find_map(|name| File::open(path.join(name)).ok())?.take(LONGEST_INFO);
        let mut text = Vec::new();
        file.read_to_end(&mut text).ok()?;
        let board_id = board_id(&String::from_utf8_lossy(&text))?;
        Some(Self { path: path.to_owned(), board_id })
    }

    /// Returns whether it is the chip's own boot program.
    pub fn is_the_chips(&self) -> bool {
        self.board_id.split('-').next() == Some(CHIP)
    }
}

fn board_id(info: &str) -> Option<String> {
    let mut lines = info.lines().map(str::trim);
    if !lines.next()?.starts_with("UF2 Bootloader") {
        return None;
    }
    lines.find_map(|line| line.strip_prefix("Board-ID:")).map(|id| id.trim().to_owned())
}

/// Returns all drives of such chips that this computer has mounted.
pub fn mounted() -> Vec<Drive> {
    let mut drives: Vec<Drive> = places().iter().filter_map(|place| Drive::at(place)).collect();
    drives.retain(Drive::is_the_chips);
    drives
}

/// Returns the device of such a drive that is there but not mounted, as far as the system tells.
pub fn unmounted() -> Option<PathBuf> {
    let device = Path::new(BY_LABEL);
    device.exists().then(|| device.to_owned())
}

/// Returns the folders where this system has removable drives.
fn places() -> Vec<PathBuf> {
    if cfg!(windows) {
        return (b'A'..=b'Z').map(|letter| PathBuf::from(format!("{}:\\", char::from(letter)))).collect();
    }
    if cfg!(target_os = "macos") {
        let volumes = fs::read_dir("/Volumes").into_iter().flatten();
        return volumes.filter_map(|volume| Some(volume.ok()?.path())).collect();
    }
    fs::read_to_string("/proc/mounts").map_or_else(|_| Vec::new(), |table| fat_mounts(&table))
}

/// Returns the folders of the FAT file systems in a table of mounts (proc(5): device, folder, type, options; a blank in a name
/// stands there as \040, a backslash as \134).
fn fat_mounts(table: &str) -> Vec<PathBuf> {
    let folder = |line: &str| {
        let mut fields = line.split_ascii_whitespace().skip(1);
        let (folder, kind) = (fields.next()?, fields.next()?);
        let folder =
            folder.replace("\\040", " ").replace("\\011", "\t").replace("\\012", "\n").replace("\\134", "\\");
        matches!(kind, "vfat" | "msdos").then(|| PathBuf::from(folder))
    };
    table.lines().filter_map(folder).collect()
}

/// Why a file did not get onto the drive whole.
#[derive(Debug)]
pub struct NotWritten {
    /// How many of its pieces are there for certain.
    pub pieces: usize,
    /// What the system says.
    pub reason: io::Error,
}

/// Writes a file in pieces, each only once the one before has reached the drive: a system may write what it holds back in an
/// order of its own. `piece_written` hears how many pieces have.
///
/// # Errors
/// [`NotWritten`]. After the last piece the chip restarts by itself and takes the drive away, which may look like an error.
pub fn write(
    drive: &Path,
    pieces: &[&[u8]],
    mut piece_written: impl FnMut(usize) -> io::Result<()>,
) -> Result<(), NotWritten> {
    let failed = |pieces| move |reason| NotWritten { pieces, reason };
    let mut file = File::create(drive.join(COPY)).map_err(failed(0))?;
    for (index, piece) in pieces.iter().enumerate() {
        let written = file.write_all(piece).and_then(|()| file.sync_all());
        written.and_then(|()| piece_written(index + 1)).map_err(failed(index))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drive_is_known_by_what_it_says_of_itself_alone() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(Drive::at(folder.path()), None);
        let say = |text: &str| fs::write(folder.path().join(INFO[0]), text).unwrap();
        // As the chip's boot program has it, with the line ends that systems may make of it.
        for end in ["\n", "\r\n"] {
            say(&["UF2 Bootloader v1.0", "Model: Raspberry Pi RP2350", "Board-ID: RP2350", ""].join(end));
            assert!(Drive::at(folder.path()).unwrap().is_the_chips());
        }
        say("UF2 Bootloader v3.0\nModel: other\nBoard-ID: RPI-RP2\n");
        assert!(!Drive::at(folder.path()).unwrap().is_the_chips());
        for text in ["", "Board-ID: RP2350\n", "UF2 Bootloader v1.0\n", "\u{0}\u{1}"] {
            say(text);
            assert_eq!(Drive::at(folder.path()), None, "{text:?}");
        }
    }

    #[test]
    fn the_table_of_mounts_is_read_with_its_signs() {
        let table = "/dev/sda1 / ext4 rw 0 0\n/dev/sdb1 /media/me/RP2350 vfat rw,nosuid 0 0\n\
                     /dev/sdc1 /run/media/a\\040b\\134c msdos rw 0 0\nbroken\n";
        let found = fat_mounts(table);
        assert_eq!(found, [Path::new("/media/me/RP2350"), Path::new("/run/media/a b\\c")]);
    }

    #[test]
    fn pieces_come_one_after_the_other_and_the_first_that_fails_is_the_last() {
        let folder = tempfile::tempdir().unwrap();
        let copy = folder.path().join(COPY);
        let pieces: [&[u8]; 3] = [b"one", b"two", b"three"];
        let mut seen = Vec::new();
        let watch = |pieces| {
            seen.push((pieces, fs::read(&copy)?.len()));
            Ok(())
        };
        write(folder.path(), &pieces, watch).unwrap();
        assert_eq!(seen, [(1, 3), (2, 6), (3, 11)]);
        let fail_at =
            |at| move |pieces| if pieces == at { Err(io::ErrorKind::StorageFull.into()) } else { Ok(()) };
        for at in 1..=3 {
            assert_eq!(write(folder.path(), &pieces, fail_at(at)).unwrap_err().pieces, at - 1);
        }
        assert_eq!(write(&copy, &pieces, fail_at(9)).unwrap_err().pieces, 0, "no folder");
    }
}
