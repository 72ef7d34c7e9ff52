//! What people read of an update, and the whole way over a serial port: this computer's own site, a folder for the drive.

use celltriage_protocol::units::Micros;
use celltriage_simulated_board::fixture::SimulatedFixture;
use celltriage_simulated_board::image::{content_for_this_board, for_this_board};
use celltriage_simulated_board::library;
use celltriage_tests::{Call, NOON, Shop, snapshot};
use serialport::{SerialPort, TTYPort};
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

const NEW: &str = "0123456789ab";
const BY: [&str; 2] = ["--by", "M. Adeyemi"];

/// A shop with an image in its folder, and a folder for the drive.
fn shop() -> Shop {
    let shop = Shop::new();
    fs::write(shop.path("new.uf2"), for_this_board(NEW)).expect("written");
    fs::create_dir(shop.path("drive")).expect("made");
    shop
}

fn update(shop: &Shop, image: &str, more: &[&str], answers: Option<&[&str]>) -> Call {
    let (image, drive) = (shop.path(image), shop.path("drive"));
    let simulated = ["fixture", "update", &image, "--simulated", "supply", "--drive", &drive];
    shop.call(NOON, &[&simulated[..], &BY, more].concat(), answers)
}

#[test]
fn an_update_reads_well_and_is_asked_before() {
    let shop = shop();
    snapshot!("fixture_update_not_agreed", shop.shown(&update(&shop, "new.uf2", &[], Some(&["n"]))));
    assert!(!Path::new(&shop.book()).exists() || shop.entries().is_empty());
    snapshot!("fixture_update", shop.shown(&update(&shop, "new.uf2", &[], Some(&["y"]))));
    snapshot!("fixture_standing_program", shop.shown(&shop.run(NOON, &["fixture", "standing"])));
    assert_eq!(
        fs::read_dir(shop.path("drive")).expect("a folder").count(),
        0,
        "the drive is gone with its files"
    );
}

#[test]
fn an_update_for_machines_stands_alone_on_standard_output() {
    let shop = shop();
    let value = update(&shop, "new.uf2", &["--yes", "--json"], None).json();
    assert_eq!(value["schema"], "celltriage.fixture-program/1");
    assert_eq!((&value["entry"], &value["program"]["to"]["commit"]), (&1.into(), &NEW.into()));
    let standing = shop.run(NOON, &["fixture", "standing", "--json"]).json();
    assert_eq!(standing["fixtures"][0]["programs"][0][1], value["program"]);
}

#[test]
fn what_is_refused_says_why_and_what_to_do() {
    let shop = shop();
    fs::write(shop.path("cut.uf2"), &for_this_board(NEW)[..5_000]).expect("written");
    fs::write(shop.path("program"), b"\x7fELF").expect("written");
    fs::write(shop.path("same.uf2"), for_this_board("simulated")).expect("written");
    let mut shown = String::new();
    for image in ["cut.uf2", "program", "nothing.uf2", "same.uf2"] {
        let call = update(&shop, image, &["--yes"], None);
        assert_eq!((call.code, call.out.as_str()), (2, ""), "{image}: {}", call.err);
        shown += &format!("{}\n", shop.shown(&call));
    }
    snapshot!("fixture_update_refused", shown);
}

#[test]
fn a_drive_that_is_not_found_and_a_fixture_that_waits_already_say_what_to_do() {
    let shop = shop();
    let image = shop.path("new.uf2");
    let typed = ["fixture", "update", &image, "--simulated", "supply", "--yes"];
    let not_found = shop.run(NOON, &[&typed[..], &BY].concat());
    assert_eq!(not_found.code, 3);
    let drive = shop.path("drive");
    fs::write(Path::new(&drive).join("INFO_UF2.TXT"), "UF2 Bootloader v1.0\nBoard-ID: RP2350\n")
        .expect("written");
    let typed = ["fixture", "update", &image, "--port", "/dev/ttyNOTHING", "--drive", &drive, "--yes"];
    let waits = shop.run(NOON, &[&typed[..], &BY].concat());
    assert_eq!(waits.code, 3);
    snapshot!("fixture_update_no_drive", format!("{}\n{}", shop.shown(&not_found), shop.shown(&waits)));
}

/// A fixture on a pseudo-terminal, and its boot program with a folder for a drive.
struct Chip {
    port: String,
    quit: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _near: TTYPort,
}

impl Chip {
    fn start(drive: PathBuf, waits: bool) -> Self {
        let (mut line, near) = TTYPort::pair().expect("a pseudo-terminal");
        let port = near.name().expect("a name");
        let quit = Arc::new(AtomicBool::new(false));
        let ended = Arc::clone(&quit);
        let thread = std::thread::spawn(move || {
            let cell = library::sound();
            let mut fixture = SimulatedFixture::new(cell.parameters.clone(), cell.options(1));
            // One that waits has a broken program.
            let old = content_for_this_board("simulated");
            fixture.install(if waits { &old[..256] } else { &old });
            fixture.power_cycle();
            assert_eq!(fixture.is_in_boot_program(), waits);
            line.set_timeout(Duration::from_millis(5)).expect("a time-out");
            let (mut buffer, mut out, mut taken) = ([0u8; 512], Vec::new(), 0);
            while !ended.load(Ordering::Relaxed) {
                if let Ok(count) = line.read(&mut buffer) {
                    fixture.send(&buffer[..count]);
                }
                out.clear();
                fixture.receive(Micros::from_millis(20), &mut out);
                let _a_full_line_loses_it = line.write_all(&out);
                let (info, copy) = (drive.join("INFO_UF2.TXT"), drive.join("celltriage.uf2"));
                if !fixture.is_in_boot_program() {
                    let _they_may_not_be_there = [fs::remove_file(info), fs::remove_file(copy)];
                    continue;
                }
                if !info.exists() {
                    fs::write(info, "UF2 Bootloader v1.0\r\nBoard-ID: RP2350\r\n").expect("written");
                }
                let file = fs::read(copy).unwrap_or_default();
                for block in file.get(taken..).unwrap_or_default().chunks_exact(512) {
                    fixture.write_to_drive(block);
                    taken += 512;
                }
            }
        });
        Self { port, quit, thread: Some(thread), _near: near }
    }
}

impl Drop for Chip {
    fn drop(&mut self) {
        self.quit.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the chip ends well");
        }
    }
}

#[test]
fn over_a_serial_port_the_fixture_leaves_takes_the_file_and_comes_back() {
    let shop = shop();
    let (image, drive) = (shop.path("new.uf2"), shop.path("drive"));
    let chip = Chip::start(drive.clone().into(), false);
    let typed = ["fixture", "update", &image, "--port", &chip.port, "--drive", &drive, "--yes"];
    let done = shop.run(NOON, &[&typed[..], &BY].concat());
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.contains(&format!("runs program {NEW}")), "{}", done.out);
    // It runs that program now.
    let again = shop.run(NOON, &[&typed[..], &BY].concat());
    assert_eq!(again.code, 2);
    assert!(again.err.contains("runs this program already"), "{}", again.err);
}

#[test]
fn over_a_serial_port_a_fixture_that_waits_in_its_boot_program_is_brought_back() {
    let shop = shop();
    let (image, drive) = (shop.path("new.uf2"), shop.path("drive"));
    let chip = Chip::start(drive.clone().into(), true);
    let typed = ["fixture", "update", &image, "--port", &chip.port, "--drive", &drive, "--yes", "--waiting"];
    let done = shop.run(NOON, &[&typed[..], &BY].concat());
    assert_eq!(done.code, 0, "{}", done.err);
    let entry = shop.entries().remove(0);
    assert!(entry.summary.contains("instead of its boot program"), "{}", entry.summary);
}
