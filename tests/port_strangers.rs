//! Who is behind a port: nobody, somebody else, a fixture of another version, another program; each is said.

use celltriage_link::discovery::ask;
use celltriage_link::{Client, LinkError, SerialLink};
use celltriage_tests::{call, foreign_frame};
use serialport::{SerialPort, TTYPort};
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Asks at a port at which somebody says `words` again and again.
fn ask_at(words: &[u8]) -> LinkError {
    let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let quit = Arc::new(AtomicBool::new(false));
    let (ended, words) = (Arc::clone(&quit), words.to_vec());
    let far = std::thread::spawn(move || {
        while !ended.load(Ordering::Relaxed) && master.write_all(&words).is_ok() {
            std::thread::sleep(Duration::from_millis(10));
        }
    });
    let error = ask(&name).map(|_| ()).expect_err("not a fixture of ours");
    quit.store(true, Ordering::Relaxed);
    drop(slave);
    far.join().expect("the far end ends");
    error
}

/// A frame of another version with a message that this build does not know.
fn of_version(version: u8) -> Vec<u8> {
    const REPLY: u8 = 1;
    foreign_frame(version, REPLY, 1, &[250])
}

#[test]
fn older_and_newer_firmware_and_strangers_are_told_apart() {
    let newer = ask_at(&of_version(200));
    assert!(matches!(newer, LinkError::TooNew { theirs: 200 }), "{newer:?}");
    assert!(newer.to_string().contains("Update this program"), "{newer}");
    let older = ask_at(&of_version(0));
    assert!(matches!(older, LinkError::TooOld { theirs: 0 }), "{older:?}");
    assert!(older.to_string().contains("Update the fixture's firmware"), "{older}");
    let stranger = ask_at(b"login: \0");
    assert!(matches!(stranger, LinkError::NotOurs { .. }), "{stranger:?}");
}

#[test]
fn a_port_in_use_is_told_from_one_that_is_not_there() {
    let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let first = SerialLink::open(&name).expect("free");
    let error = SerialLink::open(&name).map(|_| ()).expect_err("in use");
    assert!(matches!(error, LinkError::Busy { .. }), "{error:?}");
    let listed = call(&["fixture", "list", "--port", &name], None);
    assert!(listed.out.contains("is in use by another program"), "{}", listed.out);
    drop(first);
    // The system may take a moment to let go.
    let again = (0..40).find_map(|_| match SerialLink::open(&name) {
        Ok(link) => Some(link),
        Err(_) => {
            std::thread::sleep(Duration::from_millis(50));
            None
        }
    });
    assert!(again.is_some(), "free again: {:?}", SerialLink::open(&name).map(|_| ()));
}

#[test]
fn a_port_that_is_not_there_is_said_so() {
    match SerialLink::open("/dev/no-such-port") {
        Err(LinkError::Open { port, .. }) => assert_eq!(port, "/dev/no-such-port"),
        other => panic!("{:?}", other.map(|_| ())),
    }
}

#[test]
fn a_port_with_somebody_else_behind_it_is_not_taken_for_a_fixture() {
    let (mut master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let quit = Arc::new(AtomicBool::new(false));
    let ended = Arc::clone(&quit);
    let babbler = std::thread::spawn(move || {
        while !ended.load(Ordering::Relaxed) {
            if master.write_all(b"login: \0\r\n").is_err() {
                break;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    });
    let error =
        Client::connect(SerialLink::open(&name).expect("opens")).map(|_| ()).expect_err("not a fixture");
    quit.store(true, Ordering::Relaxed);
    drop(slave);
    babbler.join().expect("the babbler ends");
    assert!(matches!(error, LinkError::NotOurs { .. }), "{error:?}");
}

#[test]
fn a_silent_port_is_told_from_a_fixture() {
    let (_master, slave) = TTYPort::pair().expect("a pseudo-terminal");
    let name = slave.name().expect("a name");
    let error = Client::connect(SerialLink::open(&name).expect("opens")).map(|_| ()).expect_err("silent");
    assert!(matches!(error, LinkError::Silent { asked: "identify", .. }), "{error:?}");
}
